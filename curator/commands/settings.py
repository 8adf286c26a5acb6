"""The usual four: catalog, language, credit and licence, in a small file where this system keeps such files."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from curator.errors import CuratorError

KEYS = ("catalog", "language", "credit", "license")
DOING = "Reading your settings."


def place() -> Path:
    """The folder for settings; CURATOR_SETTINGS names another."""
    named = os.environ.get("CURATOR_SETTINGS")
    if named:
        return Path(named)
    from platformdirs import user_config_path

    return user_config_path("curator", appauthor=False, roaming=True)


def file() -> Path:
    """The settings file."""
    return place() / "settings.yaml"


def read() -> dict[str, str]:
    """What is set, by key. CuratorError for a file that cannot be understood."""
    path = file()
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError) as error:
        raise CuratorError(
            DOING, f"{path} cannot be read ({error}).", "Mend it, or delete it.", code="input"
        ) from error
    return _parsed(text, path)


def _parsed(text: str, path: Path) -> dict[str, str]:
    import yaml

    try:
        said: Any = yaml.safe_load(text) or {}
    except yaml.YAMLError as error:
        raise CuratorError(DOING, f"{path} is not YAML.", "Write lines like language: es.", code="input") from error
    wrong = [key for key in said if key not in KEYS] if isinstance(said, dict) else ["a list"]
    if wrong:
        known = f"Known are {', '.join(KEYS)}."
        raise CuratorError(DOING, f'{path}: there is no setting called "{wrong[0]}".', known, code="input")
    return {key: str(value) for key, value in said.items() if value not in (None, "")}


def write(changes: dict[str, str]) -> dict[str, str]:
    """Set or (with "") take off what is given; all that is set then. CuratorError where it cannot be written."""
    from curator.catalog import files

    said = {key: value for key, value in (read() | changes).items() if value}
    lines = "".join(f"{key}: {_quoted(said[key])}\n" for key in KEYS if key in said)
    try:
        files.make_folder(place())
        files.write(file(), f"# What curator takes where you do not say it.\n{lines}".encode())
    except OSError as error:
        raise files.unwritable("Saving your settings.", error) from error
    return said


def _quoted(text: str) -> str:
    import json

    return json.dumps(text, ensure_ascii=False)


def get(key: str, usual: str = "") -> str:
    """One setting, or what is usual."""
    return read().get(key, usual)


def usual_catalog() -> Path:
    """The catalog where none is named: the one set, else ./catalog."""
    return Path(get("catalog", "catalog")).expanduser()


def defaults() -> dict[str, dict[str, str]]:
    """What each command takes where nothing is said, by command and option."""
    said = read()
    found: dict[str, dict[str, str]] = {name: {} for names in _TAKEN.values() for name in names}
    for key, names in _TAKEN.items():
        for name in names if key in said else ():
            found[name][key] = str(usual_catalog()) if key == "catalog" else said[key]
    return found


_WITH_CATALOG = (
    *("add", "check", "edit", "find", "forget", "gaps", "lesson", "list", "look-again", "pack", "pictures"),
    *("receive", "remove", "serve", "show", "site"),
)
_TAKEN = {"catalog": _WITH_CATALOG, "language": ("lesson", "site"), "credit": ("add",), "license": ("add",)}
