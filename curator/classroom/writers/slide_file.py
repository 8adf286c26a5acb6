"""An empty presentation whose parts are numbered as they come: python-pptx walks through all of them for each one."""

from __future__ import annotations

from typing import Any


def new() -> Any:
    """An empty presentation; what it holds is what python-pptx alone would make of it, in less time."""
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
