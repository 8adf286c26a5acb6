"""Bundles for the tests, good ones and bad ones, put together by hand so that any rule can be broken."""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from catalog_made import prompt_of, sha_of

from curator.catalog.yamls import to_yaml
from curator.records import Prompt
from curator.seeing import photo

DECLARED = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


def drawn(word: str, side: int = 8) -> bytes:
    """A small JPEG of its own for each word."""
    rng = np.random.default_rng(int(sha_of(word)[:8], 16))
    blocks = np.kron(rng.integers(0, 255, (6, side, 3)), np.ones((16, 16, 1)))
    return photo.encode_clean(blocks.astype(np.uint8))


def shared(slug: str, half: int = 7, **more: Any) -> Prompt:
    """A prompt with its rights in order."""
    said = {"things": "eggs", "credit": "Room 4", "license": "CC-BY-4.0", "people": "none", **more}
    return prompt_of(half, slug, **said)


def payload(*prompts: Prompt) -> dict[str, bytes]:
    """Each prompt's two files, by their path below data/."""
    files = {f"{p.slug}.yaml": to_yaml(p).encode() for p in prompts}
    return files | {p.picture: drawn(p.slug) for p in prompts}


def manifest(files: Mapping[str, bytes]) -> bytes:
    """Lines of manifest-sha256.txt for payload files."""
    return "".join(f"{hashlib.sha256(data).hexdigest()}  data/{name}\n" for name, data in files.items()).encode()


def bag(files: Mapping[str, bytes], **tags: bytes | None) -> dict[str, bytes]:
    """All files of a bag called set; `tags` changes or (None) leaves out tag files: bagit, manifest_sha256, more."""
    said: dict[str, bytes | None] = {"bagit": DECLARED.encode(), "manifest_sha256": manifest(files), **tags}
    found = {f"set/{name.replace('_', '-')}.txt": data for name, data in said.items() if data is not None}
    return found | {f"set/data/{name}": data for name, data in files.items()}


def zipped(path: Path, files: Mapping[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> Path:
    """Names and bytes as they are into a zip."""
    with zipfile.ZipFile(path, "w", method) as archive:
        for name, data in files.items():
            archive.writestr(zipfile.ZipInfo(name), data, method)
    return path


def bundle_of(path: Path, *prompts: Prompt) -> Path:
    """A good bundle of these prompts."""
    return zipped(path, bag(payload(*prompts)))
