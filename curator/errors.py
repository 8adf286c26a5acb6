"""One family of errors: what was being done, what is wrong, what to try; and a code that each shell can rely on."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

# What kind of trouble it is, whatever the sentences say. Shells choose a status or the next command by it.
Code = Literal[
    "other",
    "input",  # what was typed or sent is not understood
    "photo",  # a picture file that cannot be read or written
    "catalog",
    "bundle",
    "lesson",
    "stopped",  # Ctrl-C
    "no-catalog",  # the folder is not there
    "no-pictures",  # nothing in the catalog yet
    "no-prompt",  # no prompt of that name (slug)
    "nothing-found",  # the words find nothing
    "gone",  # was there, and is not any more
    "damaged",  # a prompt's file that cannot be read as it is
    "twin",  # the same photo is there already (slug)
    "changed",  # somebody else saved it since
    "busy",  # somebody else is changing the catalog
    "disk-full",
    "read-only",
    "no-drive",  # any other refusal of the disk
    "no-version",  # nothing to go back or forward to
    "bin-full",
    "not-in-bin",
    "name-taken",  # a prompt of that name is there again (slug)
    "exists",  # a file of hers is in the way
    "rights",  # licence, credit or people are not said
    "school-only",
    "no-marks",  # the licence forbids marks
    "faces",  # a face may be seen, and nobody looked
]


class CuratorError(Exception):
    """Something a person has to know about, in three short sentences.

    code: what kind of trouble. slug: the prompt it is about, "" for none. parts: what it sums up, each with slug,
    wrong, try_this and code. Commands that help are the command line's business; it adds them with `add_note`.
    """

    usual: ClassVar[Code] = "other"

    def __init__(
        self, doing: str, wrong: str, try_this: str, *, code: Code | None = None, slug: str = "", parts: Any = ()
    ) -> None:
        super().__init__(doing, wrong, try_this)
        self.doing = doing
        self.wrong = wrong
        self.try_this = try_this
        self.code: Code = code or self.usual
        self.slug = slug
        self.parts: tuple[Any, ...] = tuple(parts)

    def __str__(self) -> str:
        return f"{self.doing} {self.wrong} {self.try_this}"

    def as_dict(self) -> dict[str, str]:
        """The three sentences by name, as the JSON contract has them."""
        return {"doing": self.doing, "wrong": self.wrong, "try_this": self.try_this}


class PhotoError(CuratorError):
    """A picture file that cannot be read or written."""

    usual = "photo"


class CatalogError(CuratorError):
    """A catalog folder, or a prompt in it, that cannot be read or written."""

    usual: ClassVar[Code] = "catalog"


class TwinError(CatalogError):
    """The same photo (and area) is in the catalog already; `slug` says as which prompt."""

    usual = "twin"


class ChangedError(CatalogError):
    """Somebody else saved this prompt since it was read."""

    usual = "changed"


class BundleError(CuratorError):
    """A bundle that cannot be packed or must not be received."""

    usual = "bundle"


class LessonError(CuratorError):
    """A lesson, its plan or a wording that cannot be made or written."""

    usual = "lesson"
