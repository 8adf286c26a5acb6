"""A picture's title in the language of the lesson, where it was made of the things' name; one that she wrote stays."""

from __future__ import annotations

from pathlib import Path

from curator.catalog.prompt import title_of
from curator.classroom.text.language import is_known, noun
from curator.records import Prompt


def titled(language: str, prompt: Prompt) -> str:
    """The title: "Eggs, kitchen" is "Huevos, cocina" in Spanish where both words are known, "Tom's eggs" as it was."""
    made = [place for place in ("", prompt.place) if prompt.title == title_of(Path(), prompt.things, place)]
    if not prompt.things or not made or not is_known(language, prompt.thing, prompt.things):
        return prompt.title
    place = made[0]
    if place and is_known(language, place):
        place = noun(language, place).one
    return title_of(Path(), noun(language, prompt.thing, prompt.things).many, place)
