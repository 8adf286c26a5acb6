"""What travels inside a JPEG: credit, licence and the text that gives no number away, and nothing else.

Fields of IPTC Photo Metadata in XMP (ISO 16684-1) and, for older programs, in IPTC-IIM; names and places in the file
as `exiftool` shows them (its tests read them back). JPEG segments: ITU-T T.81, annex B.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from curator.catalog.prompt import LICENSES, alts, clean
from curator.numbers_in_text import names_number
from curator.records import Prompt

_XMP = b"http://ns.adobe.com/xap/1.0/\0"
_IIM = b"Photoshop 3.0\x008BIM\x04\x04\0\0"  # an image resource block: IPTC-IIM, without a name
_ALONE = frozenset({0x01, *range(0xD0, 0xD8)})  # markers without a length
_NEEDED = frozenset({*range(0xC0, 0xD0), 0xDA, 0xDB, 0xDC, 0xDD, 0xDE, 0xDF})  # frames, tables, scans, intervals
_END = 0xD9
LONGEST_ALT = 250  # characters, as the standard's guidance for alt text has it
LONGEST = 1000  # characters of any other text; a whole segment holds 65533 bytes


@dataclass(frozen=True, slots=True)
class Label:
    """What is written into a picture; texts as people read them."""

    alt: str  # gives no number away
    credit: str
    license: str  # short name and what it allows
    url: str  # of the licence; "" for none


def label_of(prompt: Prompt) -> Label:
    """The label of a prompt's picture. A text that would give a number away is replaced by a plain one."""
    known = LICENSES.get(prompt.license)
    words = f"{known.name}. {known.allows}" if known else clean(prompt.license)
    alt = clean(quiet_alt(prompt))[:LONGEST_ALT]
    return Label(alt, clean(prompt.credit)[:LONGEST], words[:LONGEST], known.url if known else "")


def quiet_alt(prompt: Prompt) -> str:
    """The prompt's own text for before the answer where it names no number, else the one made from its words."""
    return prompt.alt_before if prompt.alt_before and not names_number(prompt.alt_before) else alts(prompt)[0]


def bare(jpeg: bytes) -> bytes | None:
    """The same picture bit by bit with only what decoding needs; None where that cannot be done without decoding.

    Taken out: every APPn but a plain JFIF one, comments, whatever follows the end. None for EXIF that may turn the
    picture, colour profiles, four colours, and for what is no whole JPEG.
    """
    out = [b"\xff\xd8"]
    for marker, part in _segments(jpeg):
        if marker == 0xE0 and part[4:9] == b"JFIF\0" and len(part) >= 18:
            out.append(part[:2] + struct.pack(">H", 16) + part[4:16] + b"\0\0")  # without its thumbnail
        elif marker in (0xE1, 0xE2, 0xEE):
            return None
        elif marker in _NEEDED:
            if marker == 0xC0 + 14 or (marker in (0xC0, 0xC1, 0xC2) and part[9:10] not in (b"\x01", b"\x03")):
                return None
            out.append(part)
        elif marker == _END:
            return b"".join([*out, b"\xff\xd9"])
    return None


def _segments(jpeg: bytes) -> Iterator[tuple[int, bytes]]:
    """(marker, whole segment) in order; a scan's segment holds its coded data. Ends early where the file is broken."""
    at = 2 if jpeg[:2] == b"\xff\xd8" else len(jpeg)
    while at + 2 <= len(jpeg) and jpeg[at] == 0xFF:
        marker = jpeg[at + 1]
        if marker == 0xFF:  # a fill byte
            at += 1
            continue
        if marker == _END or marker in _ALONE:
            yield marker, jpeg[at : at + 2]
            if marker == _END:
                return
            at += 2
            continue
        length = struct.unpack(">H", jpeg[at + 2 : at + 4])[0] if at + 4 <= len(jpeg) else 0
        end = at + 2 + length
        if length < 2 or end > len(jpeg):
            return
        if marker == 0xDA:
            end = _end_of_scan(jpeg, end)
        yield marker, jpeg[at:end]
        at = end


_NEXT = re.compile(rb"\xff+[^\x00\xff\xd0-\xd7]")


def _end_of_scan(jpeg: bytes, at: int) -> int:
    """Where the coded data ends: at the next marker that is neither a stuffed byte nor a restart."""
    found = _NEXT.search(jpeg, at)
    return found.start() if found else len(jpeg)


def scans(jpeg: bytes) -> int:
    """How many times a decoder goes over the picture: once, or about ten times for a progressive one."""
    return sum(marker == 0xDA for marker, _ in _segments(jpeg))


def labelled(jpeg: bytes, label: Label) -> bytes:
    """A bare JPEG with its label after the JFIF segment. ValueError for what is no JPEG."""
    if jpeg[:2] != b"\xff\xd8":
        raise ValueError(f"jpeg: expected a JPEG, got {jpeg[:2]!r}")
    at = 2
    if jpeg[2:4] == b"\xff\xe0":
        at += 2 + struct.unpack(">H", jpeg[4:6])[0]
    return jpeg[:at] + _app(0xE1, _XMP + _xmp(label).encode()) + _app(0xED, _iim(label)) + jpeg[at:]


def _app(marker: int, data: bytes) -> bytes:
    return bytes((0xFF, marker)) + struct.pack(">H", len(data) + 2) + data


def _xmp(label: Label) -> str:
    def alternatives(name: str, text: str) -> str:
        inner = f'<rdf:Alt><rdf:li xml:lang="x-default">{escape(text)}</rdf:li></rdf:Alt>'
        return f"<{name}>{inner}</{name}>" if text else ""

    attributes = f" photoshop:Credit={quoteattr(label.credit)}" if label.credit else ""
    if label.url:
        attributes += f' xmpRights:Marked="True" xmpRights:WebStatement={quoteattr(label.url)}'
    creator = f"<dc:creator><rdf:Seq><rdf:li>{escape(label.credit)}</rdf:li></rdf:Seq></dc:creator>"
    return (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"'
        ' xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/" xmlns:xmpRights="http://ns.adobe.com/xap/1.0/rights/"'
        f' xmlns:Iptc4xmpCore="http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/"{attributes}>'
        f"{creator if label.credit else ''}{alternatives('dc:rights', _rights(label))}"
        f"{alternatives('xmpRights:UsageTerms', label.license)}"
        f"{alternatives('Iptc4xmpCore:AltTextAccessibility', label.alt)}"
        '</rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="r"?>'
    )


def _rights(label: Label) -> str:
    return ". ".join(filter(None, (label.credit, label.license)))


def _iim(label: Label) -> bytes:
    """IPTC-IIM 4.2: character set UTF-8, credit (2:110, 32 octets), copyright notice (2:116, 128 octets)."""
    sets = _dataset(1, 90, b"\x1b%G") + _dataset(2, 0, b"\0\4")
    sets += _dataset(2, 110, _cut(label.credit, 32)) if label.credit else b""
    sets += _dataset(2, 116, _cut(_rights(label), 128))
    return _IIM + struct.pack(">I", len(sets)) + sets + b"\0" * (len(sets) % 2)


def _dataset(record: int, number: int, data: bytes) -> bytes:
    return struct.pack(">BBBH", 0x1C, record, number, len(data)) + data


def _cut(text: str, most: int) -> bytes:
    return text.encode()[:most].decode(errors="ignore").encode()
