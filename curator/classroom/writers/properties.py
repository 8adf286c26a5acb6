"""What a file says of itself: the lesson's name and today's date, nothing that a library put there."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

MAKER = "curator"
_APP = (
    '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    '<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/extended-properties">'
    "<Application>{maker}</Application></Properties>"
)


def now() -> datetime:
    """This moment where the teacher is, to the second."""
    return datetime.now().astimezone().replace(microsecond=0)


def of_slides(deck: Any, title: str, language: str) -> None:
    """Name, language and date of a presentation; its template's picture and program names are taken out."""
    from pptx.opc.constants import RELATIONSHIP_TYPE

    core, moment = deck.core_properties, now().astimezone(UTC).replace(tzinfo=None)
    core.title, core.language = title, language
    core.author, core.last_modified_by = MAKER, MAKER
    core.created = core.modified = moment
    core.revision = 1
    core.subject = core.keywords = core.comments = core.category = core.content_status = core.identifier = ""
    package = deck.part.package
    for key, relation in list(package._rels.items()):
        if relation.reltype == RELATIONSHIP_TYPE.THUMBNAIL:
            package.drop_rel(key)
        elif relation.reltype == RELATIONSHIP_TYPE.EXTENDED_PROPERTIES:
            relation.target_part._blob = _APP.format(maker=MAKER).encode()
    for key, relation in list(deck.part.rels.items()):
        if relation.reltype == RELATIONSHIP_TYPE.PRINTER_SETTINGS:
            deck.part.rels.pop(key)


def of_pdf(pdf: Any, title: str, language: str) -> None:
    """The same of a PDF."""
    pdf.set_title(title)
    pdf.set_lang(language)
    pdf.set_creator(MAKER)
    pdf.set_producer(MAKER)
    pdf.set_author(MAKER)
    pdf.set_creation_date(now())
