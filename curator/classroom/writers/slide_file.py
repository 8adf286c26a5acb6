"""A presentation's file: python-pptx walks through all parts of it for each new one, and packs photos once more."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any, NamedTuple

PACKED = "jpg"  # its bytes are as few as they get


def new() -> Any:
    """An empty presentation. Its parts are numbered, and its pictures known, without a walk through what is there."""
    from pptx import Presentation
    from pptx.opc.packuri import PackURI
    from pptx.parts.image import Image, ImagePart

    deck = Presentation()
    package = deck.part.package
    walked, last = package.next_partname, dict[str, int]()
    pictures: dict[str, Any] = {}

    def next_partname(pattern: str) -> Any:
        last[pattern] = last[pattern] + 1 if pattern in last else walked(pattern).idx or 1
        return PackURI(pattern % last[pattern])

    def get_or_add_image_part(file: Any) -> Any:
        image = Image.from_file(file)
        if image.sha1 not in pictures:
            name = PackURI(f"/ppt/media/image{len(pictures) + 1}.{image.ext}")
            pictures[image.sha1] = ImagePart(name, image.content_type, package, image.blob, image.filename)
        return pictures[image.sha1]

    package.next_partname, package.get_or_add_image_part = next_partname, get_or_add_image_part
    return deck


class _Zip(NamedTuple):
    """What python-pptx writes parts to."""

    file: zipfile.ZipFile

    def write(self, name: Any, data: bytes) -> None:
        way = zipfile.ZIP_STORED if name.ext == PACKED else zipfile.ZIP_DEFLATED
        self.file.writestr(name.membername, data, way)


def save(deck: Any, path: Path) -> None:
    """Write it: OSError."""
    from pptx.opc.serialized import PackageWriter

    package = deck.part.package
    parts = PackageWriter(str(path), package._rels, tuple(package.iter_parts()))
    with zipfile.ZipFile(path, "w") as file:
        for put in (parts._write_content_types_stream, parts._write_pkg_rels, parts._write_parts):
            put(_Zip(file))
