"""receive: a stranger's bundle into the catalog, trusting nothing in it; all that comes in comes in as one change."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from curator.catalog import files, reading
from curator.catalog.bundles import bagit, safe_zip, sanitize
from curator.catalog.bundles.json_ld import NAME
from curator.catalog.bundles.rights import Refused
from curator.catalog.bundles.safe_zip import Bundle
from curator.catalog.bundles.sanitize import Picture
from curator.catalog.face_gate import faces_text
from curator.catalog.prompt import lacks
from curator.catalog.store import folder as catalog
from curator.catalog.store import staging
from curator.catalog.store.staging import Staged
from curator.errors import BundleError, CatalogError
from curator.parallel import Progress, watched
from curator.records import Area, Dot, Prompt

FURTHER = (NAME, "credits.txt")  # of the payload; for people and librarians, not for us
MARKED = "marked/"


@dataclass(frozen=True, slots=True)
class Offer:
    """A prompt that is here already and says something else in the bundle. Nothing is changed unless it is chosen."""

    ours: Prompt
    theirs: Prompt

    @property
    def slug(self) -> str:
        """Its name here."""
        return self.ours.slug

    @property
    def wrong(self) -> str:
        """One sentence: in which fields the two differ."""
        return f"It is here already, and differs in {', '.join(sanitize.unlike(self.ours, self.theirs))}."

    def side_by_side(self) -> list[tuple[str, str, str]]:
        """(field, as it is here, as it is in the bundle), in words."""
        names = sanitize.unlike(self.ours, self.theirs)
        return [(name, _told(getattr(self.ours, name)), _told(getattr(self.theirs, name))) for name in names]


def _told(value: object) -> str:
    if isinstance(value, tuple) and value and isinstance(value[0], Dot):
        one, other, left = (sum(dot.side == side for dot in value) for side in (1, 2, 0))
        places = ", ".join(f"{dot.x:.2f} {dot.y:.2f}" for dot in value[:3])
        return f"{one} and {other}{f', {left} left out' if left else ''} (at {places} ...)"
    if isinstance(value, tuple):
        return ", ".join(map(str, value)) or "(nothing)"
    return str(value) if value not in ("", None) else "(nothing)"


@dataclass(slots=True)
class Received:
    """What came in and what did not."""

    added: list[Prompt] = field(default_factory=list)
    renamed: list[tuple[str, str]] = field(default_factory=list)  # name in the bundle, name here
    skipped: list[tuple[str, str]] = field(default_factory=list)  # name in the bundle, the prompt here that it is
    offered: list[Offer] = field(default_factory=list)
    taken: list[Offer] = field(default_factory=list)  # chosen: theirs stands in the place of ours, ours lies in the bin
    refused: list[Refused] = field(default_factory=list)
    warned: list[str] = field(default_factory=list)  # whole sentences


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A prompt that is to come in, in the place of one that is here where that was chosen."""

    prompt: Prompt
    picture: str  # its name in the bundle
    offer: Offer | None = None


def receive(
    folder: Path,
    file: Path,
    *,
    take: Collection[str] = (),
    faces_ok: Collection[str] | bool = (),
    progress: Progress | None = None,
) -> Received:
    """Take a bundle's prompts into the catalog (made where there is none).

    A prompt made of a photo that is here already is skipped; where it says something else it is offered, and taken only
    if its name here is in `take` (ours then lies in the bin). A taken name gets a number. Pictures in which faces may
    be
    seen come in only if `faces_ok` is True or holds their name in the bundle. Cut off, the catalog stays as it was;
    what
    was taken in the place of another is a change of its own, each whole.

    BundleError where the file as a whole is not to be trusted or damaged, CatalogError where the catalog cannot be
    written; what is wrong with one prompt is in the answer and stops nothing else.
    """
    got = Received()
    with safe_zip.opened(file) as bundle:
        names = _prompt_files(bundle)
        catalog.make(folder, bundle.doing)
        if staging.left_over(folder):
            with catalog.changing(folder, bundle.doing):
                staging.clear(folder)
        known = {slug for slug, _ in reading.slugs(folder)}
        wanted = list(_sorted_out(folder, bundle, names, frozenset(take), got))
        _check_size(bundle, wanted)
        try:
            with staging.stage(folder) as place:
                staged = _staged(place, _cleaned(bundle, wanted, faces_ok, got, progress=progress))
                _move_in(folder, bundle.doing, place, staged, known, got)
        except OSError as error:
            raise files.unwritable(bundle.doing, error) from error
    got.warned += _warnings(got)
    return got


def _check_size(bundle: Bundle, wanted: Sequence[_Wanted]) -> None:
    """A picture counts each time it is written: many prompts may name one."""
    if sum(bundle.entries[bagit.DATA + one.picture].file_size for one in wanted) > safe_zip.MOST_UNPACKED:
        wrong = "Its pictures have more than 2 GB, each counted as often as it is used."
        raise BundleError(bundle.doing, wrong, "Ask for it in smaller parts.")


def _prompt_files(bundle: Bundle) -> list[str]:
    names = sorted(name for name in bundle.sums if name.endswith(reading.SUFFIX) and "/" not in name)
    if not names:
        raise BundleError(bundle.doing, "There is no prompt in it.", "Ask the sender for a bundle.")
    return names


def _sorted_out(
    folder: Path, bundle: Bundle, names: Sequence[str], take: frozenset[str], got: Received
) -> Iterator[_Wanted]:
    """What is to come in; the rest is told in `got`."""
    used = {*names, *FURTHER}
    seen: dict[tuple[str, Area | None], str] = {}
    for name in names:
        prompt = _read(bundle, name, got)
        if prompt is None:
            continue
        used.add(prompt.picture)
        source = (prompt.source_sha256, prompt.area)
        if prompt.source_sha256 and seen.setdefault(source, prompt.slug) != prompt.slug:
            wrong = f"It is made of the same photo as {seen[source]} in the same bundle."
            got.refused.append(Refused(prompt.slug, wrong, "Ask the sender which of the two is right."))
            continue
        yield from _compared(folder, prompt, take, got)
    broken = {one.slug for one in got.refused}
    got.refused += [
        Refused(name, "No prompt in the bundle uses it.", "It was left out.")
        for name in sorted(bundle.sums)
        if name not in used and not name.startswith(MARKED) and name.partition(".")[0] not in broken
    ]


def _read(bundle: Bundle, name: str, got: Received) -> Prompt | None:
    """A stranger's prompt with its words made printable, or None and the reason told."""
    slug = safe_zip.shown(name.removesuffix(reading.SUFFIX))
    ask = "Ask the sender to mend it and to pack it again."
    try:
        prompt = sanitize.own(reading.parse(bundle.read(name).decode("utf-8"), name.removesuffix(reading.SUFFIX)))
    except UnicodeDecodeError:
        got.refused.append(Refused(slug, "It is not a UTF-8 text.", ask))
    except CatalogError as error:
        got.refused.append(Refused(slug, error.wrong, ask))
    except ValueError as error:
        got.refused.append(Refused(slug, f"Far too long: {error}.", ask))
    else:
        if prompt.picture in bundle.sums:
            return prompt
        got.refused.append(Refused(slug, "Its picture is not in the bundle.", ask))
    return None


def _compared(folder: Path, prompt: Prompt, take: frozenset[str], got: Received) -> Iterator[_Wanted]:
    """New, here already, or here and different."""
    ours = _here(folder, prompt)
    if ours is None:
        yield _Wanted(prompt, prompt.picture)
    elif not sanitize.unlike(ours, prompt):
        got.skipped.append((prompt.slug, ours.slug))
    elif ours.slug in take:
        yield _Wanted(prompt, prompt.picture, Offer(ours, prompt))
    else:
        got.offered.append(Offer(ours, prompt))


def _here(folder: Path, prompt: Prompt) -> Prompt | None:
    """The prompt here that is made of the same photo; where the photo is not told, one that says all the same."""
    if prompt.source_sha256:
        return catalog.twin(folder, prompt)
    try:
        ours = catalog.load(folder, prompt.slug)
    except CatalogError:
        return None
    return None if sanitize.unlike(ours, prompt) else ours


def _cleaned(
    bundle: Bundle,
    wanted: Sequence[_Wanted],
    faces_ok: Collection[str] | bool,
    got: Received,
    *,
    progress: Progress | None,
) -> Iterator[tuple[_Wanted, Picture]]:
    """Each with its picture saved again, those left out that cannot be read or may show a face nobody looked at."""
    by_slug = {one.prompt.slug: one for one in wanted}
    jobs = ((one.prompt.slug, bundle.read(one.picture)) for one in wanted)
    done = 0
    for picture in watched(sanitize.saved_again, jobs, progress, len(wanted), aside=sanitize.stopped):
        done += 1
        one = by_slug[picture.name]
        refused = _against(one.prompt, picture, faces_ok)
        if refused:
            got.refused.append(refused)
        else:
            yield replace(one, prompt=replace(one.prompt, phash=picture.phash, seen=picture.seen)), picture
    if done < len(wanted):  # Ctrl-C
        raise BundleError(bundle.doing, "It was stopped.", "Nothing came in; start it again.", code="stopped")


def _against(prompt: Prompt, picture: Picture, faces_ok: Collection[str] | bool) -> Refused | None:
    if picture.error is not None:
        return Refused(prompt.slug, f"Its picture: {picture.error.wrong}", "Ask the sender for it again.")
    if sanitize.another(prompt, picture):
        wrong = "Its picture is not the one that was counted."
        return Refused(prompt.slug, wrong, "Ask the sender to look at it, and to pack it again.")
    looked = faces_ok if isinstance(faces_ok, bool) else prompt.slug in faces_ok
    faces = len(picture.seen.boxes) if picture.seen else 0
    if faces and not looked:
        asked = " The sender says that all were asked." if prompt.people == "consented" else ""
        return Refused(prompt.slug, f"{faces_text(faces)}.{asked}", "Say so if it may be shown here.", "faces")
    return None


def _staged(place: Path, cleaned: Iterator[tuple[_Wanted, Picture]]) -> list[tuple[_Wanted, Staged]]:
    return [
        (one, staging.write(place, number, one.prompt, picture.data)) for number, (one, picture) in enumerate(cleaned)
    ]


def _move_in(
    folder: Path, doing: str, place: Path, staged: Sequence[tuple[_Wanted, Staged]], known: set[str], got: Received
) -> None:
    """The new ones in one change; then each that was chosen in the place of ours."""
    new = sorted((one for wanted, one in staged if wanted.offer is None), key=lambda one: one.prompt.slug)
    with catalog.changing(folder, doing):
        named, late = staging.move_in(folder, place, new, known)
    got.added += [prompt for _, prompt in named]
    got.renamed += [(was, prompt.slug) for was, prompt in named if was != prompt.slug]
    got.refused += [
        Refused(p.slug, "Somebody else added it in this moment.", "Receive the bundle again.") for p in late
    ]
    for wanted, one in staged:
        if wanted.offer is not None:
            _supersede(folder, wanted.offer, one, place, got)


def _supersede(folder: Path, offer: Offer, one: Staged, place: Path, got: Received) -> None:
    ours, theirs = offer.ours, one.prompt
    new = replace(theirs, slug=ours.slug, added=ours.added, notes=ours.notes or theirs.notes)
    if ours.dots == theirs.dots:  # whoever checked the count checked these
        new = replace(new, grade=ours.grade, checked_by=ours.checked_by)
    try:
        catalog.supersede(folder, ours, new, staging.picture(place, one))
    except CatalogError as error:
        got.refused.append(Refused(ours.slug, error.wrong, error.try_this, error.code))
    else:
        got.taken.append(offer)


def _warnings(got: Received) -> Iterator[str]:
    if got.added or got.taken:
        yield "The facts are as the sender gave them: look at each before a class does."
    bare = [prompt.slug for prompt in got.added if lacks(prompt)]
    if bare:
        shown = ", ".join(bare[:5]) + (f" and {len(bare) - 5} more" if len(bare) > 5 else "")
        yield f"Credit, licence or people are not told, so do not hand these on: {shown}."
