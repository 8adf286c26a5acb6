"""The lesson's page: its name is given there, comes on the first screen, and names the files."""

from __future__ import annotations

import warnings
from pathlib import Path

from curator.catalog.store import folder as catalog
from curator.web import lesson_file
from curator.web.app import make_app
from tests.catalog_made import picture_bytes, prompt_of

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient


def test_a_lesson_is_named_on_its_page_and_its_files_carry_the_name(tmp_path: Path) -> None:
    here = tmp_path / "catalog"
    catalog.add(here, prompt_of(3, "eggs", things="eggs"), picture_bytes(1, 200))
    with TestClient(make_app(here), base_url="http://127.0.0.1", raise_server_exceptions=False) as client:
        client.post("/lesson", data={"what": "add", "slug": "eggs"})
        named = client.post("/lesson", data={"what": "name", "name": " Mitades <i> en casa "})
        assert "<h1>Mitades &lt;i&gt; en casa</h1>" in named.text
        assert [step.slug for step in lesson_file.plan(here)[0].steps] == ["eggs"]
        assert "<title>Mitades &lt;i&gt; en casa</title>" in client.get("/show").text
        saved = client.get("/lesson/lesson.yaml")
        assert 'filename="mitades-i-en-casa.yaml"' in saved.headers["content-disposition"]
        assert "name: Mitades <i> en casa" in saved.text
        refused = client.post("/lesson", data={"what": "name", "name": "a" * 200})
        assert refused.status_code == 422
        assert "cannot have 200 letters" in refused.text
        for name, file in (("", "lesson.yaml"), ("数", "lesson.yaml"), ("Con", "con-lesson.yaml")):
            client.post("/lesson", data={"what": "name", "name": name})
            assert lesson_file.stored(here).name == name
            assert f'filename="{file}"' in client.get("/lesson/lesson.yaml").headers["content-disposition"]
