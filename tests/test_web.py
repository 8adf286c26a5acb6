"""The page at its server: who may do what, what is refused, hostile input, two at once on one catalog."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curator.catalog import folder as catalog
from curator.web.app import make_app
from curator.web.guard import OWN, Rights
from curator.web.pairing import COOKIE, TRIES, Pairing
from tests.catalog_made import picture_bytes, prompt_of

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

HOME = "http://127.0.0.1"
JSON = {"accept": "application/json"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    here = tmp_path_factory.mktemp("web") / "catalog"
    catalog.add(here, prompt_of(7, "eggs", title="Eggs <b>", things="eggs"), picture_bytes(1, 640))
    return here


@pytest.fixture(scope="module")
def client(folder: Path) -> Iterator[Any]:
    with TestClient(make_app(folder), base_url=HOME, raise_server_exceptions=False) as one:
        yield one


def test_pages_answer_with_the_headers_that_keep_them_safe(client: Any) -> None:
    for path in ("/", "/photos", "/find?q=7%2B7", "/prompts/eggs", "/show/eggs", "/lesson", "/share", "/phone"):
        answer = client.get(path)
        assert answer.status_code == 200, path
        assert "script-src 'self'" in answer.headers["content-security-policy"]
        assert "unsafe" not in answer.headers["content-security-policy"]
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert len(answer.content) < 150_000
        assert "<b>" not in answer.text
    assert "<title>What do you see?</title>" in client.get("/show/eggs").text
    assert "7+7" not in client.get("/show/eggs").text


def test_foreign_names_and_cross_site_posts_are_refused(client: Any) -> None:
    assert client.get("/", headers={"host": "elsewhere.example"}).status_code == 421
    for headers in ({"sec-fetch-site": "cross-site"}, {"origin": "http://elsewhere.example"}, {"origin": "null"}):
        assert client.post("/lesson", data={"what": "add", "slug": "eggs"}, headers=headers).status_code == 403
    assert client.get("/nowhere").status_code == 404
    assert client.get("/prompts/nothing").status_code == 404


def test_a_damaged_picture_is_an_answer_and_the_others_go_on(client: Any) -> None:
    bad = {"../../etc/x.jpg": b"\xff\xd8\xff" + b"\0" * 90, "<script>.png": b"\x89PNG\r\n\x1a\n", "con": b"hello"}
    for name, data in bad.items():
        assert client.post("/photos", files={"photo": (name, data)}, headers=JSON).status_code == 200
    client.post("/photos", files={"photo": ("good.jpg", picture_bytes(3, 200))}, headers=JSON)
    told = client.get("/photos/events").text
    assert told.count('"state": "error"') == 3
    assert told.count('"state": "ready"') == 1
    page = client.get("/photos").text
    assert "<script>.png" not in page
    assert "&lt;script&gt;.png" in page


def test_second_to_save_is_told_what_changed(client: Any, folder: Path) -> None:
    version = catalog.version(folder, "eggs")
    first = client.post("/prompts/eggs", data={"version": version, "place": "porch"}, follow_redirects=False)
    second = client.post("/prompts/eggs", data={"version": version, "place": "garden"})
    assert (first.status_code, second.status_code) == (303, 409)
    assert "Somebody else changed" in second.text
    assert "porch" in second.text
    assert "garden" in second.text
    assert catalog.load(folder, "eggs").place == "porch"


def test_phone_pairs_once_and_may_only_send(folder: Path) -> None:
    rights = Rights(OWN | {"192.0.2.7"}, network=True)
    app = make_app(folder, rights)
    phone = TestClient(app, base_url="http://192.0.2.7", client=("192.0.2.9", 5))
    assert phone.get("/").status_code == 403
    assert phone.get("/pair?code=WRONG").status_code == 403
    code = rights.pairing.code()
    assert phone.get(f"/pair?code={code}").status_code == 200
    paired = phone.post("/pair", data={"code": code}, follow_redirects=False)
    assert paired.status_code == 303
    assert "HttpOnly" in paired.headers["set-cookie"]
    assert phone.cookies[COOKIE]
    assert phone.get("/photos").status_code == 200
    assert phone.get("/find").status_code == 403
    assert phone.post("/prompts/eggs/remove").status_code == 403
    other = TestClient(app, base_url="http://192.0.2.7", client=("192.0.2.10", 5))
    assert other.post("/pair", data={"code": code}).status_code == 403


def test_readers_read_only_with_network_read(folder: Path) -> None:
    app = make_app(folder, Rights(OWN | {"192.0.2.7"}, network=True, network_read=True))
    reader = TestClient(app, base_url="http://192.0.2.7", client=("192.0.2.9", 5))
    assert reader.get("/find").status_code == 200
    assert reader.get("/photos").status_code == 403
    assert reader.post("/prompts/eggs", data={"place": "x"}).status_code == 403


def test_codes_expire_and_tries_are_limited() -> None:
    now = [0.0]
    pairing = Pairing(lambda: now[0])
    code = pairing.code()
    now[0] = 601
    assert not pairing.pair(code)
    code = pairing.code()
    for _ in range(TRIES):
        assert not pairing.pair("AAAAAAAA")
    assert not pairing.pair(code)


ROUTES = ["/find", "/prompts/{}", "/show/{}", "/show/{}/plain.webp", "/thumb/{}/320", "/photos/{}", "/static/{}"]
POSTS = ["/prompts/{}", "/lesson", "/photos", "/photos/{}/keep", "/photos/{}/again", "/share/pack", "/pair"]


@settings(max_examples=120, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(ROUTES), st.sampled_from(POSTS), st.text(max_size=30), st.binary(max_size=60))
def test_nothing_sent_to_any_route_breaks_it(client: Any, route: str, post: str, text: str, data: bytes) -> None:
    from urllib.parse import quote

    word = quote(text.encode("utf-8", "replace"), safe="")
    assert client.get(route.format(word), params={"q": text, "page": text}).status_code < 500
    assert client.post(post.format(word), content=data).status_code < 500
    fields = {"slug": text, "what": "add", "words": text, "state": text, "code": text, "version": text}
    assert client.post(post.format(word), data=fields).status_code < 500


def test_a_batch_survives_a_restart(tmp_path: Path) -> None:
    from curator.web import inbox

    here = tmp_path / "catalog"
    inbox.put(here, "left.jpg", picture_bytes(5, 200))  # as a server that was stopped leaves it
    with TestClient(make_app(here), base_url=HOME) as one:
        assert '"state": "ready"' in one.get("/photos/events").text


def test_a_process_that_hangs_or_dies_is_replaced() -> None:
    from curator.errors import PhotoError
    from curator.web.worker import Worker

    worker = Worker()
    with pytest.raises(PhotoError, match="longer than"):
        worker.ask("again", "nothing", [], None, None, seconds=0.0)
    with pytest.raises(PhotoError, match="no such file"):
        worker.ask("again", "nothing", [], None, None)
    worker.stop()
