"""Ways to find things that repeat; each file has one function, `find(pixels) -> candidate sets, best first`."""

from importlib import import_module

from curator.records import ThingSet

FINDERS = ()


def find_all(pixels) -> list[ThingSet]:  # type: ignore[no-untyped-def]
    """Candidate sets of every finder, in the order of FINDERS."""
    return [things for name in FINDERS for things in import_module(f"curator.seeing.finders.{name}").find(pixels)]
