"""check: every problem of a catalog folder with its remedy. Reads only."""

from __future__ import annotations

import contextlib
import re
from collections import defaultdict
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Literal

from curator.catalog import files, reading
from curator.catalog.prompt import LICENSES
from curator.catalog.search.query import tokens
from curator.catalog.store import bin as bins
from curator.catalog.store import staging
from curator.catalog.yaml_edit import strange_keys
from curator.catalog.yamls import from_yaml
from curator.errors import CatalogError
from curator.records import Prompt

PICTURES = frozenset({".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif", ".tif", ".tiff", ".gif", ".bmp"})
STRAY = 3600.0  # seconds: a program that keeps folders alike may bring a removed prompt's two files one by one
_TIDY = "Tidying takes it away."
Code = Literal[
    "other",
    "damaged",  # mend it, or go back to the version before
    "damaged-only",  # no version before is kept
    "no-picture",
    "bad-picture",
    "bad-license",
    "strange-key",  # a key of the file that means nothing here
    "tells",  # the text for before the answer gives the number away
    "unused-picture",
    "copy",  # a second copy where two changes met
    "left-over",  # of a change that was cut off
    "twice",  # two prompts of one photo
    "rights",  # licence, credit or people are not said yet
    "bin",
]
UNLIKE = 20  # of 64 bits of the perceptual hash; two unrelated pictures differ in about 32
# How programs that keep folders alike on several machines name the copy they could not merge.
_COPY = re.compile(
    r"(?P<stem>.+?)"
    r"(?:[ _-]?\(\d+\)|\.sync-conflict-[^.]*|[ _-]*\([^)]*conflict[^)]*\)|[._-]conflict(?:ed)?[^.]*|(?: -)? copy.*)"
    r"(?P<suffix>\.[a-z]+)",
    re.I,
)


@dataclass(frozen=True, slots=True)
class Problem:
    """What is not as it should be, and what to do. A note is worth knowing, and may stay as it is."""

    name: str  # the prompt's slug, or the file's name
    wrong: str
    remedy: str
    note: bool = False
    code: Code = "other"
    slug: str = ""  # the prompt it is about
    missing: tuple[str, ...] = ()  # for "rights": license, credit, people


def check(folder: Path, *, pictures: bool = True) -> list[Problem]:
    """All problems, by name, notes last. Without `pictures` no picture is opened."""
    reading.there(folder, "Checking the catalog.")
    prompts: dict[str, Prompt] = {}
    problems: list[Problem] = []
    for slug in sorted(slug for slug, _ in reading.slugs(folder)):
        try:
            prompts[slug] = reading.load(folder, slug)
        except CatalogError as error:
            problems.append(_damaged(folder, slug, error))
    for prompt in prompts.values():
        problems += _of_prompt(folder, prompt, pictures)
    problems += _other_files(folder, prompts)
    problems += _left_overs(folder)
    problems += _same_source(prompts)
    problems += _in_bin(folder)
    return sorted(problems, key=lambda p: (p.note, p.name))


def to_say(folder: Path) -> list[Problem]:
    """Notes on prompts that may not be shared yet: which of licence, credit and people nobody has said."""
    from curator.catalog.prompt import lacks

    names = {"credit": "a credit", "license": "a licence", "people": "who is in it"}
    found = []
    for prompt in reading.every(folder):
        missing = lacks(prompt)
        if missing:
            wrong = f"Before it may be shared, these are still to be said: {', '.join(names[one] for one in missing)}."
            found.append(Problem(prompt.slug, wrong, "Say them.", True, "rights", prompt.slug, missing))
    return found


def _damaged(folder: Path, slug: str, error: CatalogError) -> Problem:
    name = f"{slug}{reading.SUFFIX}"
    original = _copied(folder, name)
    if original:
        return _conflict(folder, name, original)
    if not bins.versions(folder, slug):
        remedy = "Mend it in a text editor, or remove it."
        return Problem(slug, error.wrong, remedy, code="damaged-only", slug=slug)
    return Problem(slug, error.wrong, error.try_this, code="damaged", slug=slug)


def _of_prompt(folder: Path, prompt: Prompt, pictures: bool) -> Iterator[Problem]:
    path = reading.picture_path(folder, prompt)
    if not path.is_file():
        wrong, remedy = f"Its picture {prompt.picture} is not there.", "Put the file back, or remove the prompt."
        yield Problem(prompt.slug, wrong, remedy, code="no-picture", slug=prompt.slug)
    elif pictures:
        yield from _of_picture(path, prompt)
    if prompt.license and prompt.license not in LICENSES:
        wrong = f'The licence "{prompt.license}" is not one that curator knows.'
        remedy = f"Say one of these: {', '.join(LICENSES)}."
        yield Problem(prompt.slug, wrong, remedy, code="bad-license", slug=prompt.slug)
    if prompt.fact and {str(prompt.fact.half), str(prompt.fact.total)} & set(tokens(prompt.alt_before)):
        wrong = "The text for before the answer gives the number away."
        yield Problem(prompt.slug, wrong, "Take the number out of alt_before.", code="tells", slug=prompt.slug)
    with suppress(CatalogError):  # changed in this moment
        yield from _strange_keys(folder, prompt.slug)


def _strange_keys(folder: Path, slug: str) -> Iterator[Problem]:
    """Keys that mean nothing here: a slip of the hand, or somebody's own. They stay in the file."""
    for line, key, near in strange_keys(reading.read_text(reading.yaml_path(folder, slug), slug)):
        wrong = f'Line {line}: the key "{key[:40]}" means nothing here' + (f"; {near} may be meant." if near else ".")
        yield Problem(
            slug, wrong, "Mend it, or leave it as a note of your own.", note=True, code="strange-key", slug=slug
        )


def _of_picture(path: Path, prompt: Prompt) -> Iterator[Problem]:
    from curator.errors import PhotoError
    from curator.seeing import photo

    try:
        seen = photo.load(path)
    except PhotoError as error:
        wrong = f"Its picture {prompt.picture} cannot be read. {error.wrong}"
        remedy = "Add the photo again, then remove this prompt."
        yield Problem(prompt.slug, wrong, remedy, code="bad-picture", slug=prompt.slug)
        return
    if re.fullmatch(r"[0-9a-f]{16}", prompt.phash):
        apart = bin(int(prompt.phash, 16) ^ int(photo.phash(seen.pixels), 16)).count("1")
        if apart > UNLIKE:
            wrong = f"{prompt.picture} does not look like the picture that was tagged."
            remedy = "Look at it; if it is another picture, remove the prompt."
            yield Problem(prompt.slug, wrong, remedy, code="bad-picture", slug=prompt.slug)


def _other_files(folder: Path, prompts: dict[str, Prompt]) -> Iterator[Problem]:
    used = {prompt.picture for prompt in prompts.values()}
    used |= {f"{slug}.jpg" for place in staging.left_over(folder) for slug in staging.moving(place)}  # told as a whole
    readable = {f"{slug}{reading.SUFFIX}" for slug, _ in reading.slugs(folder)}
    broken = {name.removesuffix(reading.SUFFIX) for name in readable} - set(prompts)
    for path in sorted(folder.iterdir()):
        name = path.name
        if name.startswith(".") or not path.is_file() or name in used or name in readable:
            continue
        original = _copied(folder, name)
        if original and path.suffix == reading.SUFFIX:
            yield _conflict(folder, name, original)
        elif path.suffix.lower() in (reading.SUFFIX, ".yml"):
            yield Problem(
                name, "A prompt's file needs a name of small letters, digits and dashes.", "Rename or delete it."
            )
        elif path.suffix.lower() in PICTURES and name.partition(".")[0] not in broken:
            remedy = "Delete it if it is a copy." if original else "Add it as a photo, or delete it."
            yield Problem(name, "No prompt uses this picture.", remedy, code="other" if original else "unused-picture")


def _copied(folder: Path, name: str) -> str:
    """What the file is a copy of: by its name, or because the slug in it is another prompt's; "" for no copy."""
    copy = _COPY.fullmatch(name)
    if copy and (folder / f"{copy['stem']}{copy['suffix']}").exists():
        return copy["stem"]
    if name.endswith(reading.SUFFIX):  # some programs put a machine's name behind the stem
        with suppress(CatalogError):
            slug = from_yaml(reading.read_text(folder / name, name), name).slug
            if f"{slug}{reading.SUFFIX}" != name and (folder / f"{slug}{reading.SUFFIX}").exists():
                return slug
    return ""


def _conflict(folder: Path, name: str, stem: str) -> Problem:
    """A copy that a sync program made where two people changed one prompt."""
    wrong = f"A second copy of {stem}, made where two changes met."
    try:
        text = reading.read_text(folder / name, name)
        mine, other = reading.load(folder, stem), from_yaml(text, name)
    except CatalogError as error:
        return Problem(
            name, f"{wrong} {error.wrong}", f"Keep what you need of it in {stem}{reading.SUFFIX}, then delete it."
        )
    unlike = [f.name for f in fields(Prompt) if getattr(mine, f.name) != getattr(other, f.name)]
    if not unlike:
        return Problem(name, f"{wrong} Both say the same.", "Delete it.")
    remedy = f"Put what is right into {stem}{reading.SUFFIX}, then delete the copy."
    return Problem(name, f"{wrong} They differ in {', '.join(unlike)}.", remedy, code="copy", slug=stem)


def _left_overs(folder: Path) -> Iterator[Problem]:
    lock = folder / files.LOCK
    if lock.exists() and files.is_left_over(lock):
        owner = files.lock_owner(lock)
        who = f" on {owner['host']}" if "host" in owner else ""
        yield Problem(lock.name, f"Left over from a change{who} that was cut off.", _TIDY, code="left-over")
    for place in staging.left_over(folder):
        begun = len(staging.moving(place))
        what = f"; {begun} prompt{'' if begun == 1 else 's'} may have come in" if begun else ""
        remedy = "Tidying takes all of it back; then receive the bundle again."
        if staging.is_others(place):
            what += f" on {staging.owner(place)[1]}"
            remedy = "Tidy it there; or delete that folder, and keep what came in."
        code: Code = "other" if staging.is_others(place) else "left-over"
        wrong = f"Left over from a receive that was cut off{what}."
        yield Problem(f"{staging.STAGE}/{place.name}", wrong, remedy, code=code)
    if not lock.exists():
        for path in parts(folder):
            name = path.relative_to(folder).as_posix()
            yield Problem(name, "Left over from a change that was cut off.", _TIDY, code="left-over")


def parts(folder: Path) -> Iterator[Path]:
    """Temporary files of changes that are going on or were cut off, and second copies that such left in the bin."""
    for root in (folder, folder / bins.BIN, folder / bins.BEFORE):
        pattern = f".*{files.PART}"
        yield from sorted(root.glob(pattern) if root == folder else root.rglob(pattern))
    yield from bins.strays(folder, seconds=STRAY)


def tidy(folder: Path) -> int:
    """Take away left-over locks and temporary files; how many. Prompts and pictures are not touched."""
    doing = "Tidying the catalog."
    reading.there(folder, doing)
    before = int(files.is_left_over(folder / files.LOCK))
    with files.locked(folder, doing):  # taking the lock takes over a left-over one, and nobody writes meanwhile
        gone = list(parts(folder))
        for path in gone:
            path.unlink(missing_ok=True)
            if bins.BIN in path.parts:
                with contextlib.suppress(OSError):
                    path.parent.rmdir()
        before += staging.clear(folder)
    return before + len(gone)


def _same_source(prompts: dict[str, Prompt]) -> Iterator[Problem]:
    groups: dict[str, list[Prompt]] = defaultdict(list)
    for prompt in prompts.values():
        if prompt.source_sha256:
            groups[prompt.source_sha256].append(prompt)
    for group in groups.values():
        if len(group) > 1:
            names = ", ".join(prompt.slug for prompt in group)
            same = len({prompt.area for prompt in group}) < len(group)
            wrong = f"Made of the same photo: {names}."
            remedy = "Keep one and remove the others." if same else "Fine where each shows another part of it."
            code: Code = "twice" if same else "other"
            yield Problem(group[0].slug, wrong, remedy, note=not same, code=code, slug=group[-1].slug)


def _in_bin(folder: Path) -> Iterator[Problem]:
    for one in bins.binned(folder):
        remedy = "Bring it back, or empty the bin."
        yield Problem(one.slug, f"In the bin since {one.day}.", remedy, note=True, code="bin", slug=one.slug)
