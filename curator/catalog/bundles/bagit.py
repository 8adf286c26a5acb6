"""A bag (BagIt 1.0, RFC 8493) in a zip: its names, its tag files, its checksums."""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from curator.errors import BundleError
from curator.systems import RESERVED

BAG, INFO, MANIFEST, TAGS = "bagit.txt", "bag-info.txt", "manifest-sha256.txt", "tagmanifest-sha256.txt"
FETCH = "fetch.txt"
DATA = "data/"
DECLARATION = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
_LINE = re.compile(r"([0-9a-fA-F]{64})[ \t]+\*?(\S.*)")
_EPOCH = (1980, 1, 1, 0, 0, 0)  # no time of day is told


class Bag:
    """A bag being written into a zip, file by file; `finish` writes what the standard asks for."""

    def __init__(self, archive: zipfile.ZipFile, name: str) -> None:
        self._zip = archive
        self._name = name  # the one folder in the zip
        self._sums: dict[str, str] = {}
        self._octets = 0

    def put(self, path: str, data: bytes) -> None:
        """One payload file, path below data/."""
        self._sums[DATA + path] = hashlib.sha256(data).hexdigest()
        self._octets += len(data)
        self._write(DATA + path, data, packed=not path.endswith(".jpg"))

    def sum_of(self, path: str) -> str:
        """SHA-256 of a payload file that was put, in hex."""
        return self._sums[DATA + path]

    def finish(self, info: Mapping[str, str]) -> None:
        """Manifest, declaration and description."""
        said = {**info, "Bagging-Date": date.today().isoformat(), "Payload-Oxum": f"{self._octets}.{len(self._sums)}"}
        tags = {
            BAG: DECLARATION,
            INFO: "".join(f"{key}: {_one_line(value)}\n" for key, value in said.items()),
            MANIFEST: _manifest(self._sums),
        }
        sums = {name: hashlib.sha256(text.encode()).hexdigest() for name, text in tags.items()}
        for name, text in {**tags, TAGS: _manifest(sums)}.items():
            self._write(name, text.encode(), packed=True)

    def _write(self, path: str, data: bytes, *, packed: bool) -> None:
        entry = zipfile.ZipInfo(f"{self._name}/{path}", _EPOCH)
        entry.external_attr = 0o100644 << 16
        entry.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
        self._zip.writestr(entry, data)


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _manifest(sums: Mapping[str, str]) -> str:
    return "".join(f"{digest}  {path}\n" for path, digest in sorted(sums.items()))


def read_manifest(text: str, doing: str) -> dict[str, str]:
    """Path -> SHA-256 in small hex digits. BundleError for lines that are none, and for a path named twice."""
    found: dict[str, str] = {}
    for number, line in enumerate(io.StringIO(text), 1):
        match = _LINE.fullmatch(line.rstrip("\r\n"))
        path = match[2].removeprefix("./") if match else ""
        if match is None or path in found or "%" in path:
            wrong = f"Line {number} of its list of checksums cannot be used."
            raise BundleError(doing, wrong, "Ask for the bundle again.")
        found[path] = match[1].lower()
    return found


def name_of(output: Path) -> str:
    """A plain name for the folder in the zip, made of the file's."""
    name = re.sub(r"[^a-z0-9]+", "-", output.stem.lower()).strip("-")[:60]
    return name if name and name not in RESERVED else "bundle"
