"""The list for librarians: each prompt as a schema.org LearningResource, in JSON-LD."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from curator.catalog.bundles.jpeg_metadata import quiet_alt
from curator.catalog.prompt import LICENSES
from curator.facts import CCSSM, family, standards
from curator.records import Prompt

NAME = "learning-resources.jsonld"


def as_json_ld(prompts: Sequence[Prompt], sums: dict[str, str]) -> str:
    """JSON-LD 1.1; `sums` gives the SHA-256 of each picture by its file name. Addresses are relative to the file."""
    graph = [_resource(prompt, sums.get(prompt.picture, "")) for prompt in prompts]
    return json.dumps({"@context": "https://schema.org", "@graph": graph}, ensure_ascii=False, indent=1) + "\n"


def _resource(prompt: Prompt, digest: str) -> dict[str, Any]:
    known = LICENSES.get(prompt.license)
    picture = {
        "@type": "ImageObject",
        "contentUrl": prompt.picture,
        "encodingFormat": "image/jpeg",
        "sha256": digest,
        "description": quiet_alt(prompt),
    }
    said: dict[str, Any] = {
        "@type": "LearningResource",
        "@id": f"#{prompt.slug}",
        "name": prompt.title,
        "learningResourceType": "picture prompt",
        "educationalUse": ["discussion", "exercise"],
        "typicalAgeRange": "6-8",
        "teaches": [*_facts(prompt), *map(_term, _codes(prompt))],
        "keywords": [word for word in (prompt.things, prompt.place, prompt.kind, *prompt.tags) if word],
        "license": known.url if known else "",
        "creditText": prompt.credit,
        "accessibilityFeature": ["alternativeText"],
        "image": picture,
    }
    return {key: value for key, value in said.items() if value not in ("", [])}


def _codes(prompt: Prompt) -> list[str]:
    """Common Core codes whose limits the fact keeps, however the things lie."""
    if prompt.fact is None:
        return []
    found = (one.code for one in standards(prompt.fact.half, prompt.kind) if one.source == CCSSM)
    return list(dict.fromkeys(found))


def _facts(prompt: Prompt) -> tuple[str, ...]:
    return family(prompt.fact) if prompt.fact else ("telling a double from what is none",)


def _term(code: str) -> dict[str, Any]:
    return {"@type": "DefinedTerm", "termCode": code, "inDefinedTermSet": {"@type": "DefinedTermSet", "name": CCSSM}}
