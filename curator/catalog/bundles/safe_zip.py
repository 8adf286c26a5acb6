"""The zip of a stranger: everything about it is checked before a byte of it is used, and nothing is unpacked to disk.

Bounds: the file, its list, the number and size of what is in it, how much it swells, how deep it lies. Names: plain
ones only. Checksums: every file of the bag against its manifest, and again when it is read.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
import struct
import unicodedata
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from curator.catalog.bundles import bagit
from curator.errors import BundleError

MOST_BYTES = 1_000_000_000  # of the file; a thousand pictures have about 500 MB
MOST_UNPACKED = 2_000_000_000  # of all that is in it
MOST_FILES = 5_000
MOST_LIST = 2_000_000  # bytes of the zip's own list; 5000 plain names need about 600 kB
MOST_TEXT = 5_000_000  # bytes of one file that is no picture
MOST_PICTURE = 20_000_000  # bytes of one picture; packed ones have about half a MB
MOST_SWELLING = 100  # times; text swells about tenfold, a picture hardly at all
DEEPEST = 4  # folders and name: set/data/marked/eggs-ringed.jpg
PICTURES = (".jpg", ".jpeg", ".png", ".webp")
_RESERVED = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³])", re.I)  # device names on Windows
_SIGNS = frozenset('\\:*?"<>|')
_AGAIN = "Ask for the bundle again, and do not open it."
_TRUST = "Do not open it, and tell who sent it."


@dataclass(frozen=True, slots=True)
class Bundle:
    """A bag that passed. `sums` gives the SHA-256 of each payload file by its path below data/."""

    doing: str
    archive: zipfile.ZipFile
    entries: Mapping[str, zipfile.ZipInfo]  # by path below the bag's folder
    sums: Mapping[str, str]

    def read(self, name: str) -> bytes:
        """A payload file, checked once more. BundleError where it is not what it was."""
        data = _read(self.archive, self.entries[bagit.DATA + name], self.doing)
        if hashlib.sha256(data).hexdigest() != self.sums[name]:
            raise BundleError(self.doing, f"{name} is not what was packed.", _AGAIN)
        return data


@contextmanager
def opened(path: Path) -> Iterator[Bundle]:
    """The bundle in this file, every bound, name and checksum of it checked. BundleError says which was not kept."""
    doing = f"Receiving {shown(path.name)}."
    try:
        if not path.is_file():
            raise BundleError(doing, "There is no such file.", "Check its name.")
        with path.open("rb") as file:
            _check_outside(file, os.fstat(file.fileno()).st_size, doing)
            with _archive(file, doing) as archive:
                yield _checked(archive, doing)
    except OSError as error:
        raise BundleError(
            doing, f"It cannot be read ({error.strerror or error}).", "Copy it to this computer first."
        ) from error


def _check_outside(file: BinaryIO, size: int, doing: str) -> None:
    """Before any of it is parsed: its size, and how long its list says it is (zip: APPNOTE 6.3, 4.3.16)."""
    if size > MOST_BYTES:
        wrong = f"It has {size / 1e6:.0f} MB, more than the {MOST_BYTES // 1_000_000} MB allowed."
        raise BundleError(doing, wrong, "Ask for it in smaller parts.")
    file.seek(max(0, size - 22 - 65_535 - 20))
    tail = file.read()
    at = tail.rfind(b"PK\5\6")
    if at < 0 or at + 22 > len(tail):
        raise BundleError(doing, "It is not a zip, or only a part of one.", _AGAIN)
    files, length = struct.unpack("<H", tail[at + 10 : at + 12])[0], struct.unpack("<I", tail[at + 12 : at + 16])[0]
    if tail[max(0, at - 20) : at].startswith(b"PK\6\7") or files > MOST_FILES or length > MOST_LIST:
        raise BundleError(doing, f"It holds more than {MOST_FILES} files.", "Ask for it in smaller parts.")
    file.seek(0)


@contextmanager
def _archive(file: BinaryIO, doing: str) -> Iterator[zipfile.ZipFile]:
    try:
        archive = zipfile.ZipFile(file)
    except (zipfile.BadZipFile, NotImplementedError, ValueError, RuntimeError, struct.error, EOFError) as error:
        raise BundleError(doing, "It is not a zip, or a damaged one.", _AGAIN) from error
    with archive:
        yield archive


def _checked(archive: zipfile.ZipFile, doing: str) -> Bundle:
    entries = archive.infolist()
    if len(entries) > MOST_FILES:
        raise BundleError(doing, f"It holds more than {MOST_FILES} files.", "Ask for it in smaller parts.")
    for entry in entries:
        wrong = _wrong_name(entry) or _wrong_kind(entry) or _wrong_size(entry)
        if wrong:
            raise BundleError(doing, f'"{shown(entry.orig_filename)}" {wrong}', _TRUST)
    _check_together(archive, entries, doing)
    inside = _inside(entries, doing)
    return Bundle(doing, archive, inside, _sums(archive, inside, doing))


def shown(name: str) -> str:
    """A stranger's name as it may be printed."""
    return "".join(c if c.isprintable() else "?" for c in name)[:60]


def _wrong_name(entry: zipfile.ZipInfo) -> str:
    name = entry.orig_filename
    parts = name.removesuffix("/").split("/")
    if name != entry.filename or _SIGNS & set(name) or any(unicodedata.category(c)[0] == "C" for c in name):
        return "has signs in its name that no plain name has."
    if any(part in ("", ".", "..") for part in parts):
        return "does not lie inside the bundle."
    if len(parts) > DEEPEST or len(name) > 250:
        return "lies too deep in folders."
    if any(part[-1] in ". " or part[0] == " " or _RESERVED.fullmatch(part.partition(".")[0].strip()) for part in parts):
        return "has a name that some computers cannot hold."
    return ""


def _wrong_kind(entry: zipfile.ZipInfo) -> str:
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind not in (0, stat.S_IFDIR if entry.is_dir() else stat.S_IFREG):
        return "is a link or a device, not a file."
    if entry.flag_bits & 0x1 or entry.flag_bits & 0x40:
        return "is locked with a password."
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        return "is packed in a way that bundles are not."
    return ""


def _wrong_size(entry: zipfile.ZipInfo) -> str:
    most = MOST_PICTURE if entry.filename.lower().endswith(PICTURES) else MOST_TEXT
    if entry.file_size > most:
        return f"has {entry.file_size / 1e6:.0f} MB, more than the {most // 1_000_000} MB allowed."
    stored = entry.compress_type == zipfile.ZIP_STORED and entry.file_size != entry.compress_size
    if stored or entry.file_size > MOST_SWELLING * entry.compress_size + 1000:
        return "swells far too much when it is unpacked."
    return ""


def _check_together(archive: zipfile.ZipFile, entries: list[zipfile.ZipInfo], doing: str) -> None:
    """No two names that are one on some computer, no two files that share bytes, not too much in all."""
    _check_alike([entry for entry in entries if not entry.is_dir()], doing)
    if sum(entry.file_size for entry in entries) > MOST_UNPACKED:
        raise BundleError(doing, "It holds more than 2 GB when it is unpacked.", "Ask for it in smaller parts.")
    end = 0
    for entry in sorted(entries, key=lambda e: e.header_offset):
        if entry.header_offset < end:
            raise BundleError(doing, "Two files in it share the same bytes.", _TRUST)
        end = entry.header_offset + 30 + entry.compress_size
    if end > archive.start_dir:
        raise BundleError(doing, "Its list does not fit what is in it.", _TRUST)


def _check_alike(entries: list[zipfile.ZipInfo], doing: str) -> None:
    """Names that differ only in case or Unicode form, folders included; a file and a folder of one name."""
    seen: dict[str, str] = {}
    files: set[str] = set()
    folders: set[str] = set()
    for entry in entries:
        parts = entry.filename.split("/")
        paths = ["/".join(parts[: n + 1]) for n in range(len(parts))]
        for path in paths:
            other = seen.setdefault(_folded(path), path)
            if other != path or entry.filename in files:
                wrong = f'"{shown(other)}" and "{shown(path)}" are one name on some computers.'
                raise BundleError(doing, wrong, _TRUST)
        files.add(entry.filename)
        folders.update(paths[:-1])
    if files & folders:
        raise BundleError(doing, "It has a file and a folder of one name.", _TRUST)


def _folded(name: str) -> str:
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())


def _inside(entries: list[zipfile.ZipInfo], doing: str) -> dict[str, zipfile.ZipInfo]:
    """The bag's files by their path in it. The bag is one folder, or the zip itself; nothing lies beside it."""
    names = {entry.filename: entry for entry in entries if not entry.is_dir()}
    roots = [name.removesuffix(bagit.BAG) for name in names if name.rpartition("/")[2] == bagit.BAG]
    roots = [root for root in roots if root.count("/") <= 1]
    if len(roots) != 1:
        raise BundleError(doing, "It is a zip, and no bundle.", "Ask the sender for a bundle.")
    beside = [name for name in names if not name.startswith(roots[0])]
    if beside:
        raise BundleError(doing, f'"{shown(beside[0])}" lies beside the bundle in the zip.', _AGAIN)
    return {name.removeprefix(roots[0]): entry for name, entry in names.items()}


def _sums(archive: zipfile.ZipFile, inside: Mapping[str, zipfile.ZipInfo], doing: str) -> dict[str, str]:
    """The payload's checksums, all of them found true, as RFC 8493 (3) asks of a valid bag."""
    declaration = _text(archive, inside, bagit.BAG, doing).split()
    if declaration[:2] not in (["BagIt-Version:", "1.0"], ["BagIt-Version:", "0.97"]) or declaration[-1:] != ["UTF-8"]:
        raise BundleError(doing, "It is no bag that this version reads.", "Ask the sender for a bundle.")
    if bagit.FETCH in inside:
        raise BundleError(doing, "Parts of it lie elsewhere; nothing is fetched.", "Ask for the whole bundle.")
    payload = bagit.read_manifest(_text(archive, inside, bagit.MANIFEST, doing), doing)
    listed, there = set(payload), {name for name in inside if name.startswith(bagit.DATA)}
    if listed != there:
        name = min(listed ^ there)
        why = "is in its list and not there" if name in listed else "is there and not in its list"
        raise BundleError(doing, f'"{shown(name)}" {why}.', _AGAIN)
    tags = {}
    if bagit.TAGS in inside:
        tags = bagit.read_manifest(_text(archive, inside, bagit.TAGS, doing), doing)
    for name, digest in {**tags, **payload}.items():
        if name not in inside or _digest(archive, inside[name], doing) != digest:
            raise BundleError(doing, f'"{shown(name)}" is not what was packed.', _AGAIN)
    return {name.removeprefix(bagit.DATA): digest for name, digest in payload.items()}


def _text(archive: zipfile.ZipFile, inside: Mapping[str, zipfile.ZipInfo], name: str, doing: str) -> str:
    if name not in inside:
        raise BundleError(doing, f"Its {name} is missing.", _AGAIN)
    try:
        return _read(archive, inside[name], doing).decode("utf-8")
    except UnicodeDecodeError:
        raise BundleError(doing, f"Its {name} is no text.", _AGAIN) from None


def _read(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, doing: str) -> bytes:
    return b"".join(_chunks(archive, entry, doing))


def _digest(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, doing: str) -> str:
    digest = hashlib.sha256()
    for chunk in _chunks(archive, entry, doing):
        digest.update(chunk)
    return digest.hexdigest()


def _chunks(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, doing: str) -> Iterator[bytes]:
    """The file's bytes, never more than the list said."""
    got = 0
    try:
        with archive.open(entry) as file:
            while chunk := file.read(1 << 20):
                got += len(chunk)
                yield chunk
    except (
        zipfile.BadZipFile,
        zlib.error,
        NotImplementedError,
        ValueError,
        RuntimeError,
        struct.error,
        EOFError,
    ) as error:
        raise BundleError(doing, f'"{shown(entry.filename)}" is damaged.', _AGAIN) from error
    if got != entry.file_size:
        raise BundleError(doing, f'"{shown(entry.filename)}" stops halfway.', _AGAIN)
