"""The catalog's verbs: add, load, every, replace, remove. Every change is whole or not at all, one writer at a time.

The picture is written first and the YAML last: a prompt is there when its YAML is, and not before.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace as changed
from pathlib import Path

from curator.catalog import files, measured
from curator.catalog.reading import (
    SUFFIX,
    every,
    free_slug,
    has,
    load,
    no_such,
    parse,
    picture_path,
    read_text,
    slugs,
    there,
    version,
    yaml_path,
)
from curator.catalog.search import index
from curator.catalog.store import bin as bins
from curator.catalog.store import traces
from curator.catalog.store.bin import bring_back
from curator.catalog.store.check import Problem, check, tidy, to_say
from curator.catalog.store.forget import empty_bin, out_of_bin
from curator.catalog.yaml_edit import rewritten
from curator.catalog.yamls import to_yaml
from curator.errors import CatalogError, ChangedError, TwinError
from curator.records import FacesSeen, Prompt

__all__ = [
    "Problem",
    "add",
    "bring_back",
    "changing",
    "check",
    "count",
    "empty_bin",
    "every",
    "has",
    "history",
    "load",
    "make",
    "near_twins",
    "picture_path",
    "redo",
    "remove",
    "replace",
    "replace_picture",
    "supersede",
    "tidy",
    "to_say",
    "twin",
    "undo",
    "version",
]

NEAR = 6  # of 64 bits of the perceptual hash: re-saved, resized and slightly moved shots of one scene differ in fewer


@contextmanager
def changing(folder: Path, doing: str) -> Iterator[None]:
    """The only writer, and what the disk refuses said in three sentences."""
    with files.locked(folder, doing):
        try:
            yield
        except OSError as error:
            raise files.unwritable(doing, error) from error


def make(folder: Path, doing: str) -> None:
    """The catalog's folder, made where it is not there. CatalogError where that fails."""
    try:
        files.make_folder(folder)
    except OSError as error:
        if isinstance(error, FileExistsError | NotADirectoryError):
            raise CatalogError(doing, f"{folder} is not a folder.", "Name a folder for the catalog.") from error
        raise files.unwritable(doing, error) from error


def twin(folder: Path, prompt: Prompt) -> Prompt | None:
    """The prompt in the catalog that is made of the same photo and the same part of it."""
    return next((one for one in index.by_source(folder, prompt.source_sha256) if one.area == prompt.area), None)


def near_twins(folder: Path, phash: str) -> list[Prompt]:
    """Prompts whose picture looks nearly the same, nearest first."""
    import numpy as np

    if not re.fullmatch(r"[0-9a-f]{16}", phash) or not folder.is_dir():
        return []
    slugs, together = index.hashes(folder)
    unlike = np.frombuffer(together, np.uint8).reshape(-1, 8) ^ np.frombuffer(bytes.fromhex(phash), np.uint8)
    apart = np.unpackbits(unlike, axis=1).sum(axis=1)
    near = sorted((int(apart[i]), slugs[i]) for i in np.flatnonzero(apart <= NEAR))
    found = []
    for _, slug in near:
        with contextlib.suppress(CatalogError):
            found.append(load(folder, slug))
    return found


def add(folder: Path, prompt: Prompt, picture: bytes, *, twin_ok: bool = False) -> Prompt:
    """Keep a prompt and its picture (JPEG); returns it under the name it got. TwinError for the same photo and area."""
    doing = f"Adding {prompt.slug} to the catalog."
    make(folder, doing)
    with changing(folder, doing):
        same = None if twin_ok else twin(folder, prompt)
        if same is not None:
            wrong = f"The same photo is there already as {same.slug}."
            other = "Change that one, or look at another part of the photo."
            raise TwinError(doing, wrong, other, slug=same.slug)
        slug = free_slug(folder, prompt.slug)
        kept = changed(prompt, slug=slug, picture=f"{slug}.jpg")
        try:
            files.write(folder / kept.picture, picture)
            files.write(folder / f"{slug}{SUFFIX}", to_yaml(kept).encode())
        except BaseException:
            if not (folder / f"{slug}{SUFFIX}").exists():
                with contextlib.suppress(OSError):
                    (folder / kept.picture).unlink()
            raise
        index.note(folder, slug)
    return kept


def replace(folder: Path, prompt: Prompt, *, expected: str | None = None) -> Prompt:
    """Save a changed prompt under its name; the version before it is kept. ChangedError when it is not `expected`."""
    doing = f"Saving {prompt.slug}."
    there(folder, doing)
    with changing(folder, doing):
        now = version(folder, prompt.slug)
        if expected is not None and now != expected:
            wrong = "Somebody else changed this prompt since you opened it."
            raise ChangedError(doing, wrong, "Open it again and make your change there.")
        _put(folder, prompt)
    return prompt


def _put(folder: Path, prompt: Prompt) -> None:
    """Write a changed prompt, the version before kept; what had been gone back from cannot be gone forward to.

    What else its file holds stays as it is.
    """
    path = yaml_path(folder, prompt.slug)
    data = rewritten(path.read_bytes().decode("utf-8-sig", "replace"), prompt).encode()
    if path.read_bytes() != data:
        bins.keep_before(folder, prompt.slug)
        files.write(path, data)
        index.note(folder, prompt.slug)
        for later in bins.versions(folder, prompt.slug, redo=True):
            later.unlink(missing_ok=True)


def undo(folder: Path, slug: str) -> Prompt:
    """Go one version back, as far as they are kept; `redo` goes forward again. CatalogError where there is none."""
    return _step(folder, slug, f"Going back with {slug}.", redo=False)


def redo(folder: Path, slug: str) -> Prompt:
    """Go forward again to the version that the last undo came from. CatalogError where there is none."""
    return _step(folder, slug, f"Going forward with {slug}.", redo=True)


def history(folder: Path, slug: str) -> tuple[int, int]:
    """How many versions one can go back, and how many forward."""
    return len(bins.versions(folder, slug)), len(bins.versions(folder, slug, redo=True))


def _step(folder: Path, slug: str, doing: str, *, redo: bool) -> Prompt:
    """The nearest version on one side is put in place, and what was there is kept on the other side."""
    there(folder, doing)
    with changing(folder, doing):
        if not yaml_path(folder, slug).exists():
            raise no_such(doing, slug)
        kept = bins.versions(folder, slug, redo=redo)
        if not kept:
            wrong = "No later version of it is kept." if redo else "No earlier version of it is kept."
            raise CatalogError(doing, wrong, "Change it by hand.", code="no-version", slug=slug)
        text = read_text(kept[0], f"{slug}{SUFFIX}")
        prompt = parse(text, slug)
        with contextlib.suppress(CatalogError):
            if not (folder / prompt.picture).exists():  # that picture was replaced for good
                now = load(folder, slug)
                prompt = changed(prompt, picture=now.picture, faces=now.faces, seen=now.seen)
                text = rewritten(text, prompt)
        bins.keep_before(folder, slug, redo=not redo)
        files.write(yaml_path(folder, slug), text.encode())
        index.note(folder, slug)
        kept[0].unlink(missing_ok=True)
    return prompt


def replace_picture(
    folder: Path, slug: str, picture: bytes, *, faces: str | None = None, seen: FacesSeen | None = None
) -> Prompt:
    """Put another picture in place of a prompt's; the old one is gone for good (a face may have been blurred).

    With it go all copies, what waits in the inbox of the same photo, and what lies in the bin of it.

    faces: what was done about them, where that changes; seen: what was found in the new picture.
    """
    doing = f"Changing the picture of {slug}."
    there(folder, doing)
    with changing(folder, doing):
        old = load(folder, slug)
        new = changed(old, phash=_phash(picture) or old.phash, faces=old.faces if faces is None else faces, seen=seen)
        _drop_others(folder, old)  # before, so that a change that is cut off leaves no copy
        kept = _put_both(folder, old, new, picture)
        _drop_others(folder, old)  # and what was made meanwhile
    return kept


def _drop_others(folder: Path, old: Prompt) -> None:
    """Every other copy of a prompt's picture and of its photo."""
    photo = {old.source_sha256} - {""}
    traces.drop_copies(folder)
    traces.drop_waiting(folder, photo, {old.slug})
    out_of_bin(folder, photo, {old.slug})


def supersede(folder: Path, old: Prompt, new: Prompt, picture: bytes) -> Prompt:
    """Put a prompt and its picture in the place of `old`, which goes into the bin whole. ChangedError: it changed."""
    doing = f"Replacing {old.slug}."
    there(folder, doing)
    with changing(folder, doing):
        if load(folder, old.slug) != old:
            wrong = "Somebody else changed this prompt since you opened it."
            raise ChangedError(doing, wrong, "Look at it again, and choose again.")
        bins.copy_to_bin(folder, old.slug, old.picture)
        return _put_both(folder, old, changed(new, slug=old.slug), picture)


def _put_both(folder: Path, old: Prompt, new: Prompt, picture: bytes) -> Prompt:
    """The picture under a new name, then the file that names it, then the old picture goes, with its measures."""
    measured.drop(folder, old.slug)
    number = 2
    while (name := f"{old.slug}.{number}.jpg") and ((folder / name).exists() or name == old.picture):
        number += 1
    new = changed(new, picture=name)
    try:
        files.write(folder / name, picture)
        _put(folder, new)
    except BaseException:
        if load(folder, old.slug).picture != name:
            with contextlib.suppress(OSError):
                (folder / name).unlink()
        raise
    with contextlib.suppress(FileNotFoundError):
        (folder / old.picture).unlink()
    measured.drop(folder, old.slug)  # and what was noted meanwhile
    files.sync_folder(folder)
    return new


def _phash(picture: bytes) -> str:
    """The perceptual hash of a JPEG; "" for what is none."""
    import cv2
    import numpy as np

    from curator.seeing.photo import phash

    pixels = cv2.imdecode(np.frombuffer(picture, np.uint8), cv2.IMREAD_REDUCED_COLOR_2)
    return "" if pixels is None else phash(cv2.cvtColor(pixels, cv2.COLOR_BGR2RGB).astype(np.uint8))


def remove(folder: Path, slug: str) -> None:
    """Move a prompt, damaged or not, to today's bin."""
    doing = f"Removing {slug}."
    there(folder, doing)
    with changing(folder, doing):
        path = yaml_path(folder, slug)
        if not path.exists():
            raise no_such(doing, slug)
        try:
            picture = load(folder, slug).picture
        except CatalogError:
            picture = f"{slug}.jpg"
        bins.put_in_bin(folder, slug, picture)
        measured.drop(folder, slug)
        index.note(folder, slug)


def count(folder: Path) -> int:
    """How many files are named like prompts."""
    return sum(1 for _ in slugs(folder))
