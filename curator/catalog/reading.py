"""The catalog folder as it lies there: one YAML file and one picture a prompt. Reading only."""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Collection, Iterator
from pathlib import Path

from curator.catalog.yamls import from_yaml
from curator.errors import CatalogError
from curator.records import Prompt
from curator.systems import RESERVED

SUFFIX = ".yaml"
SLUG = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
LONGEST = 80  # letters of a slug: file systems have limits
_ADD_FIRST = "Add photos first, or check the folder's name."


def is_slug(text: str) -> bool:
    """Whether it could be the name of a prompt."""
    return len(text) <= LONGEST and SLUG.fullmatch(text) is not None


def has(folder: Path, slug: str) -> bool:
    """Whether the catalog has a prompt of this name, whatever was sent for one."""
    return is_slug(slug) and yaml_path(folder, slug).is_file()


def yaml_path(folder: Path, slug: str) -> Path:
    """Where the prompt's file lies; CatalogError for what is no slug."""
    if not is_slug(slug):
        wrong = f'"{slug[:60]}" is not the name of a prompt.'
        raise CatalogError("Opening a prompt.", wrong, "Names are words with dashes.", code="no-prompt", slug=slug)
    return folder / f"{slug}{SUFFIX}"


def picture_path(folder: Path, prompt: Prompt) -> Path:
    """Where the prompt's picture lies."""
    return folder / prompt.picture


def there(folder: Path, doing: str) -> None:
    """CatalogError unless the folder can be opened."""
    if not folder.is_dir():
        wrong = f"{folder} is not a folder." if folder.exists() else f"There is no catalog in {folder}."
        raise CatalogError(doing, wrong, _ADD_FIRST, code="no-catalog")


def no_such(doing: str, slug: str) -> CatalogError:
    """What to tell where no prompt has that name."""
    wrong = "There is no such prompt in the catalog."
    return CatalogError(doing, wrong, "Check the name.", code="no-prompt", slug=slug)


def read_text(path: Path, name: str) -> str:
    """The file as text; CatalogError where it is missing or no text."""
    doing = f"Reading {name}."
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise no_such(doing, name.removesuffix(SUFFIX)) from None
    except UnicodeDecodeError:
        wrong, try_this = (
            "It is not a UTF-8 text.",
            "Save it as UTF-8, or take back the last change.",
        )
        raise CatalogError(doing, wrong, try_this, code="damaged") from None
    except OSError as error:
        raise CatalogError(doing, f"It cannot be opened ({error.strerror}).", "Check that you may read it.") from error


def parse(text: str, slug: str) -> Prompt:
    """The prompt, whose own slug has to be the file's."""
    prompt = from_yaml(text, f"{slug}{SUFFIX}")
    if prompt.slug != slug:
        wrong = f"The file is called {slug} and the slug in it is {prompt.slug}."
        try_this = "Make the two the same, or delete the file if it is a copy."
        raise CatalogError(f"Reading {slug}{SUFFIX}.", wrong, try_this, code="damaged", slug=slug)
    return prompt


def load(folder: Path, slug: str) -> Prompt:
    """The prompt as it is now; CatalogError where there is none or it is damaged."""
    there(folder, f"Reading {slug}{SUFFIX}.")
    return parse(read_text(yaml_path(folder, slug), f"{slug}{SUFFIX}"), slug)


def version(folder: Path, slug: str) -> str:
    """What changes whenever the prompt's file does: 16 hex digits of its SHA-256."""
    path = yaml_path(folder, slug)
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()[:16]
    except FileNotFoundError:
        read_text(path, path.name)
        raise
    except OSError as error:
        wrong = f"It cannot be opened ({error.strerror})."
        raise CatalogError(f"Reading {path.name}.", wrong, "Check that you may read it.") from error


def slugs(folder: Path) -> Iterator[tuple[str, os.DirEntry[str]]]:
    """Slug and directory entry of each file that is named like a prompt, in no order."""
    with os.scandir(folder) as entries:
        for entry in entries:
            stem = entry.name.removesuffix(SUFFIX)
            if stem != entry.name and is_slug(stem):
                yield stem, entry


def every(folder: Path) -> Iterator[Prompt]:
    """All prompts that can be read, by slug; damaged ones are left out (check names them)."""
    there(folder, "Reading the catalog.")
    for slug in sorted(slug for slug, _ in slugs(folder)):
        try:
            yield load(folder, slug)
        except CatalogError:
            continue


def free_slug(folder: Path, wanted: str, given: Collection[str] = ()) -> str:
    """wanted, or wanted-2 and so on: a name that neither a prompt, a left-over picture nor one of `given` has, and that
    a file may have on every system.
    """
    number, slug = 1, wanted
    while (
        slug in given or slug in RESERVED or (folder / f"{slug}{SUFFIX}").exists() or (folder / f"{slug}.jpg").exists()
    ):
        number += 1
        slug = f"{wanted[: 79 - len(str(number))].rstrip('-')}-{number}"
    return slug
