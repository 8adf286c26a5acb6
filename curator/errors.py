"""One family of errors: what was being done, what is wrong, what to try."""


class CuratorError(Exception):
    """Something a person has to know about, in three short sentences."""

    def __init__(self, doing: str, wrong: str, try_this: str) -> None:
        super().__init__(doing, wrong, try_this)
        self.doing = doing
        self.wrong = wrong
        self.try_this = try_this

    def __str__(self) -> str:
        return f"{self.doing} {self.wrong} {self.try_this}"

    def as_dict(self) -> dict[str, str]:
        """The three sentences by name, as the JSON contract has them."""
        return {"doing": self.doing, "wrong": self.wrong, "try_this": self.try_this}


class PhotoError(CuratorError):
    """A picture file that cannot be read or written."""


class CatalogError(CuratorError):
    """A catalog folder, or a prompt in it, that cannot be read or written."""


class TwinError(CatalogError):
    """The same photo (and area) is in the catalog already; `slug` says as which prompt."""

    def __init__(self, doing: str, wrong: str, try_this: str, slug: str) -> None:
        super().__init__(doing, wrong, try_this)
        self.slug = slug

    def __reduce__(self) -> tuple[type["TwinError"], tuple[str, str, str, str]]:
        return type(self), (self.doing, self.wrong, self.try_this, self.slug)


class ChangedError(CatalogError):
    """Somebody else saved this prompt since it was read."""


class BundleError(CuratorError):
    """A bundle that cannot be packed or must not be received."""


class LessonError(CuratorError):
    """A lesson, its plan or a wording that cannot be made or written."""
