"""pack: prompts -> a bag in a zip for a colleague, each with its rights in order and nothing in it that was not
meant.
"""

from __future__ import annotations

import contextlib
import os
import random
import zipfile
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, BinaryIO

from curator import systems
from curator.catalog import face_gate, files, reading
from curator.catalog.bundles import jpeg_metadata
from curator.catalog.bundles.bagit import Bag, name_of
from curator.catalog.bundles.jpeg_metadata import label_of, labelled
from curator.catalog.bundles.json_ld import NAME, as_json_ld
from curator.catalog.bundles.rights import Refused, beware, refusal, why_none
from curator.catalog.face_gate import faces_text
from curator.catalog.prompt import LICENSES, clean
from curator.catalog.search import index
from curator.catalog.yamls import to_yaml
from curator.errors import BundleError, CatalogError, CuratorError
from curator.parallel import Progress, watched
from curator.records import Prompt
from curator.systems import RESERVED

LONGER = 2560  # pixels, as the catalog keeps its pictures
DOING = "Packing a bundle."
Marks = Callable[[Path, Prompt], dict[str, bytes]]  # (catalog, prompt) -> JPEGs by name, with something drawn on each


@dataclass(frozen=True, slots=True)
class Packed:
    """What is in the bundle, what is not and why, and what its receiver has to know."""

    path: Path
    packed: tuple[str, ...]  # slugs
    refused: tuple[Refused, ...]
    warned: tuple[str, ...]  # whole sentences


@dataclass(frozen=True, slots=True)
class _Ready:
    """One prompt as it goes into the bag, or why it does not."""

    prompt: Prompt
    picture: bytes = b""
    marked: tuple[tuple[str, bytes], ...] = ()
    faces: int = 0
    refused: Refused | None = None


def pack(
    folder: Path,
    which: str | Sequence[str],
    output: Path,
    *,
    inside: bool = False,
    faces_ok: Collection[str] | bool = (),
    notes: bool = False,
    marks: Marks | None = None,
    progress: Progress | None = None,
) -> Packed:
    """Write a bundle of the prompts that `which` names: words as in find (""= all), or a list of slugs.

    output: a .zip, replaced as a whole or not at all. inside: for the same school, so that "school-only" goes along.
    faces_ok: True, or names of those where faces were seen and somebody looked. notes: send the notes along (names of
    who checked
    never are). marks: also pack pictures with something drawn on them. Changes nothing in the catalog.

    BundleError where nothing may be packed, or the file cannot be written; CatalogError where there is no catalog.
    """
    _check_target(output)
    prompts, refused = _asked(folder, which)
    against = {prompt.slug: refusal(prompt, marked=marks is not None, inside=inside) for prompt in prompts}
    refused += [reason for reason in against.values() if reason]
    looked = {prompt.slug: faces_ok if isinstance(faces_ok, bool) else prompt.slug in faces_ok for prompt in prompts}
    jobs = [
        (folder, p, looked[p.slug] or p.people == "consented", notes, marks) for p in prompts if not against[p.slug]
    ]
    with _written(output) as target, zipfile.ZipFile(target, "w") as archive:
        bag = Bag(archive, name_of(output))
        packed, more = _fill(bag, jobs, progress)
        refused = sorted(refused + more, key=lambda one: one.slug)
        if not packed:
            raise _nothing(refused)
        _finish(bag, [one.prompt for one in packed], inside=inside, marked=marks is not None)
    return Packed(output, tuple(one.prompt.slug for one in packed), tuple(refused), _warnings(packed, notes=notes))


def _fill(bag: Bag, jobs: list[tuple[Any, ...]], progress: Progress | None) -> tuple[list[_Ready], list[Refused]]:
    """Put the prompts into the bag as they are ready: what is in it, by slug and without its bytes, and what is not."""
    packed: list[_Ready] = []
    refused: list[Refused] = []
    for ready in watched(_ready, jobs, progress):
        if ready.refused:
            refused.append(ready.refused)
        else:
            _put(bag, ready)
            packed.append(replace(ready, picture=b"", marked=()))
    if len(packed) + len(refused) < len(jobs):  # Ctrl-C
        raise BundleError(DOING, "It was stopped.", "Nothing was written; start it again.", code="stopped")
    return sorted(packed, key=lambda one: one.prompt.slug), refused


def _check_target(output: Path) -> None:
    if output.suffix.lower() != ".zip":
        raise BundleError(DOING, f"{output.name} does not end in .zip.", "Name it like set.zip.")
    if output.is_dir() or not output.parent.is_dir():
        raise BundleError(DOING, f"{output} cannot be made there.", "Name a file in a folder that is there.")


def _asked(folder: Path, which: str | Sequence[str]) -> tuple[list[Prompt], list[Refused]]:
    """The prompts, fresh from their files, and those that cannot be read."""
    if isinstance(which, str):
        slugs = [prompt.slug for prompt in index.find(folder, which, limit=10**6).prompts]
    else:
        reading.there(folder, DOING)
        slugs = list(dict.fromkeys(which))
    if not slugs:
        asked = f'Nothing is found for "{which[:50]}".' if isinstance(which, str) and which else "There is no prompt."
        raise BundleError(DOING, asked, "Look what there is.", code="nothing-found")
    prompts, refused = [], []
    for slug in slugs:
        try:
            prompts.append(reading.load(folder, slug))
        except CatalogError as error:
            refused.append(Refused(slug, error.wrong, error.try_this, error.code))
    return prompts, refused


def _ready(folder: Path, prompt: Prompt, looked: bool, notes: bool, marks: Marks | None) -> _Ready:
    """One prompt with its pictures clean and labelled. What stops it is part of the answer."""
    from curator.seeing import photo

    path = reading.picture_path(folder, prompt)
    slug = f"{prompt.slug}-picture" if prompt.slug in RESERVED else prompt.slug  # kept before such were renamed
    sent = replace(
        prompt, slug=slug, picture=f"{slug}.jpg", seen=None, checked_by="", notes=prompt.notes if notes else ""
    )
    try:
        pixels = photo.load_large(path, longer=LONGER)
        seen = face_gate.unanswered(prompt, face_gate.seen_in(folder, prompt, pixels))
        if seen and not looked:
            look = f"Look at {prompt.picture}, then say that it may be shown."
            return _Ready(prompt, refused=Refused(prompt.slug, f"{faces_text(seen)}.", look, "faces"))
        plain = _clean(photo.read_bytes(path)) or photo.encode_clean(pixels)
        label = label_of(prompt)
        drawn = marks(folder, prompt) if marks else {}
        marked = tuple((name, labelled(jpeg_metadata.bare(data) or data, label)) for name, data in drawn.items())
    except (CuratorError, OSError) as error:
        wrong = error.wrong if isinstance(error, CuratorError) else f"Its picture cannot be opened ({error.strerror})."
        return _Ready(prompt, refused=Refused(prompt.slug, wrong, "Look what the catalog's check says.", "photo"))
    return _Ready(sent, labelled(plain, label), marked, seen)


def _clean(data: bytes) -> bytes | None:
    """The catalog's own JPEG without loss; None where it has to be decoded and saved again."""
    import io

    from PIL import Image

    bare = jpeg_metadata.bare(data)
    if bare is None or max(Image.open(io.BytesIO(bare)).size) > LONGER:
        return None
    return bare


def _put(bag: Bag, ready: _Ready) -> None:
    slug = ready.prompt.slug
    bag.put(f"{slug}.jpg", ready.picture)
    bag.put(f"{slug}.yaml", to_yaml(ready.prompt).encode())
    for name, data in ready.marked:
        bag.put(f"marked/{slug}-{name}.jpg", data)


def _finish(bag: Bag, prompts: Sequence[Prompt], *, inside: bool, marked: bool) -> None:
    bag.put(NAME, as_json_ld(prompts, {f"{p.slug}.jpg": bag.sum_of(f"{p.slug}.jpg") for p in prompts}).encode())
    bag.put("credits.txt", _credits(prompts, marked=marked).encode())
    held = "For this school only" if inside else "Pictures for teaching doubles, each with its own licence"
    bag.finish({"External-Description": held, "Bag-Software-Agent": "curator"})


def _credits(prompts: Sequence[Prompt], *, marked: bool) -> str:
    """A line for each picture: its file, title, credit and licence with its address."""
    lines = []
    for prompt in prompts:
        license = LICENSES[prompt.license]
        said = [f"{prompt.slug}.jpg", prompt.title, prompt.credit, license.name, license.url]
        lines.append("; ".join(clean(text) for text in said if text))
    if marked:
        lines.append("Pictures in marked/: rings or a cover were drawn on the picture of that name.")
    return "\n".join(lines) + "\n"


def _warnings(packed: Sequence[_Ready], *, notes: bool) -> tuple[str, ...]:
    faces = [f"{one.prompt.slug}: {faces_text(one.faces).lower()}." for one in packed if one.faces]
    sent = ["The notes go along; read them once more."] if notes and any(one.prompt.notes for one in packed) else []
    return (*beware([one.prompt for one in packed]), *faces, *sent)


def _nothing(refused: Sequence[Refused]) -> BundleError:
    first = refused[0]
    wrong = f"Nothing may be packed: {why_none(refused)}"
    return BundleError(DOING, wrong, first.try_this, code=first.code, slug=first.slug, parts=refused)


@contextmanager
def _written(output: Path) -> Iterator[BinaryIO]:
    """A file under a temporary name that takes its place when all went well."""
    part = output.with_name(f".{output.name}.{os.getpid()}-{random.randrange(16**6):06x}{files.PART}")
    try:
        with part.open("xb") as target:
            yield target
            target.flush()
            systems.sync(target.fileno())
        systems.replace(part, output)
        files.sync_folder(output.parent)
    except OSError as error:
        refused = files.unwritable(DOING, error)
        raise BundleError(DOING, refused.wrong, refused.try_this, code=refused.code) from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink()
