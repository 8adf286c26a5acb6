"""One rule for changing a prompt, whichever shell asks."""

from __future__ import annotations

import warnings
from pathlib import Path

import pytest
from catalog_made import picture_bytes, prompt_of

from curator.catalog import edits
from curator.catalog.prompt import alts
from curator.catalog.store import folder
from curator.errors import CatalogError, ChangedError
from curator.records import Prompt
from curator.web.app import make_app

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient


def kept(place: Path, **said: str) -> Prompt:
    made = prompt_of(4, "eggs", things="eggs", thing="egg")
    before, after = alts(made)
    return folder.add(place, edits.edited(made, {"alt_before": before, "alt_after": after, **said}), picture_bytes())


def test_each_alt_text_follows_unless_somebody_wrote_it(tmp_path: Path) -> None:
    old = kept(tmp_path, alt_before="A tray on a table.")
    new = edits.edited(old, {"things": "shells"})
    assert (new.alt_before, new.alt_after) == ("A tray on a table.", alts(new)[1])
    assert "shells" in new.alt_after


def test_page_and_command_line_leave_the_same_prompt(tmp_path: Path) -> None:
    from typer.testing import CliRunner

    from curator.cli import app

    notes = "Day one.\r\n\r\nAsk twice. \x07"
    for name in ("page", "line"):
        kept(tmp_path / name, alt_before="A tray on a table.")
    page = TestClient(make_app(tmp_path / "page"), base_url="http://127.0.0.1")
    version = folder.version(tmp_path / "page", "eggs")
    sent = {"version": version, "things": "shells", "notes": notes, "license": "CC-BY-4.0", "people": "none"}
    assert page.post("/prompts/eggs", data=sent, follow_redirects=False).status_code == 303
    said = ["--things", "shells", "--notes", notes, "--license", "cc by 4.0", "--people", "none"]
    assert CliRunner().invoke(app, ["edit", "eggs", *said, "-c", str(tmp_path / "line")]).exit_code == 0
    one, other = (folder.load(tmp_path / name, "eggs") for name in ("page", "line"))
    assert one == other
    assert one.notes == "Day one.\n\nAsk twice."
    assert 'rows="3" maxlength="2000">Day one.\n\nAsk twice.</textarea>' in page.get("/prompts/eggs").text


@pytest.mark.parametrize("said", [{"license": "my own"}, {"people": "some"}, {"kind": "shift"}, {"kind": "none"}])
def test_a_word_that_a_field_cannot_be(tmp_path: Path, said: dict[str, str]) -> None:
    with pytest.raises(CatalogError) as caught:
        edits.edited(kept(tmp_path), said)
    assert caught.value.code == "input"


def test_an_empty_title_stays_and_an_old_version_is_refused(tmp_path: Path) -> None:
    old, new = edits.edit(tmp_path, kept(tmp_path).slug, {"title": " ", "place": "hall"})
    assert (new.title, new.place) == (old.title, "hall")
    with pytest.raises(ChangedError):
        edits.edit(tmp_path, "eggs", {"place": "kitchen"}, expected="0" * 16)


def test_on_the_page_what_was_saved_is_taken_back_and_done_again(tmp_path: Path) -> None:
    kept(tmp_path)
    client = TestClient(make_app(tmp_path), base_url="http://127.0.0.1")

    def sent(path: str, **said: str) -> tuple[str, str]:
        version = folder.version(tmp_path, "eggs")
        answer = client.post(path, data={"version": version, **said})
        return answer.text, folder.load(tmp_path, "eggs").title

    before = folder.load(tmp_path, "eggs").title
    text, title = sent("/prompts/eggs", title="Wrong")
    assert title == "Wrong"
    assert "<button>Undo</button>" in text
    text, title = sent("/prompts/eggs/step")
    assert title == before
    assert "It is as it was before." in text
    assert "<button>Redo</button>" in text
    text, title = sent("/prompts/eggs/step", forward="1")
    assert title == "Wrong"
    late = client.post("/prompts/eggs/step", data={"version": "0" * 16})
    assert late.status_code == 409  # changed meanwhile: nothing of somebody else's is taken back
    assert folder.load(tmp_path, "eggs").title == "Wrong"
