"""The page at its server: who may do what, what is refused, hostile input, two at once on one catalog."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curator.catalog.store import folder as catalog
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


def test_two_at_once_on_the_lesson_lose_nothing(client: Any, folder: Path) -> None:
    from concurrent.futures import ThreadPoolExecutor

    from curator.web import inbox

    slugs = [catalog.add(folder, prompt_of(5, f"pegs-{n}"), picture_bytes(n, 60), twin_ok=True).slug for n in range(6)]
    with ThreadPoolExecutor(6) as many:
        done = list(
            many.map(
                lambda slug: client.post("/lesson", data={"what": "add", "slug": slug}, follow_redirects=False), slugs
            )
        )
    assert {answer.status_code for answer in done} == {303}
    assert sorted(inbox.lesson(folder)) == slugs
    stale = client.post("/lesson", data={"what": "order", "order": slugs[:3]})
    assert stale.status_code == 409
    assert "Somebody else changed the lesson" in stale.text
    assert client.post("/lesson", data={"what": "order", "order": slugs[::-1]}).status_code == 200
    assert inbox.lesson(folder) == slugs[::-1]
    for slug in slugs:
        client.post(f"/prompts/{slug}/remove")
    assert inbox.lesson(folder) == []


def test_every_download_that_is_offered_comes(client: Any) -> None:
    import re

    client.post("/lesson", data={"what": "add", "slug": "eggs"})
    offered = re.findall(r"/lesson/lesson\.(\w+)", client.get("/lesson").text)
    assert "pptx" in offered
    starts = {"pptx": b"PK", "html": b"<!doctype html>", "pdf": b"%PDF-", "zip": b"PK"}
    for kind in offered:
        answer = client.get(f"/lesson/lesson.{kind}")
        assert answer.status_code == 200, kind
        assert answer.content.lower().startswith(starts[kind].lower())
        assert "attachment" in answer.headers["content-disposition"]
    assert client.get("/lesson/lesson.exe").status_code == 422
    client.post("/lesson", data={"what": "remove", "slug": "eggs"})


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


def routes() -> list[tuple[str, str]]:
    """Every (method, path) that the page has; a route added later is asked too."""
    return sorted(
        (method, route.path)
        for route in make_app(Path("nowhere")).routes
        for method in route.methods
        if method != "HEAD"
    )


ROUTES = routes()
ODD = st.text(max_size=30) | st.sampled_from(
    [
        "..",
        "../../etc/passwd",
        "eggs",
        "0" * 16,
        "%00",
        "NaN",
        "1e999",
        "-1",
        "\ud800",
        "<script>",
        "a" * 300,
        "\r\nx: y",
    ]
)
NUMBERS = st.floats() | st.integers() | st.none() | st.text(max_size=5)
STATE = st.fixed_dictionaries(
    {},
    optional={
        "dots": st.lists(st.lists(NUMBERS, max_size=3), max_size=4) | NUMBERS,
        "line": st.lists(st.lists(NUMBERS, max_size=3), max_size=3) | NUMBERS,
        "area": st.lists(NUMBERS, max_size=5) | NUMBERS,
        "at": st.lists(NUMBERS, max_size=3),
        "touched": NUMBERS,
        "reading": NUMBERS,
    },
)
FIELDS = (
    "slug",
    "what",
    "words",
    "state",
    "code",
    "version",
    "blur",
    "license",
    "people",
    "order",
    "back",
    "faces_ok",
    "take",
    "which",
    "title",
    "shown",
)


@pytest.fixture(scope="module")
def waiting(client: Any, folder: Path) -> str:
    """A photo that was looked at, so that the routes behind it are reached."""
    from curator.web import inbox

    (item,) = client.post("/photos", files={"photo": ("w.jpg", picture_bytes(9, 200))}, headers=JSON).json()["items"]
    client.get("/photos/events")
    assert inbox.get(folder, item["id"])["state"] == "ready"
    return str(item["id"])


@settings(max_examples=250, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(ROUTES), st.data())
def test_nothing_sent_to_any_route_breaks_it(
    client: Any, folder: Path, waiting: str, route: tuple[str, str], data: st.DataObject
) -> None:
    import re
    from urllib.parse import quote

    method, path = route
    values = {
        "slug": "eggs",
        "id": waiting,
        "name": "style.css",
        "which": "rings",
        "width": "320",
        "kind": "html",
        "size": "view",
        "what": "again",
    }
    if path.endswith(("/drop", "/remove", "/keep")):  # those that would take the sample away
        values |= {"slug": "none", "id": "0" * 16}

    def part(match: re.Match[str]) -> str:
        usual = values[match[1]]
        text = data.draw(st.just(usual) | st.just(usual) | ODD)
        return quote(text.encode("utf-8", "replace"), safe="") or "x"

    address = re.sub(r"\{(\w+)(?::\w+)?\}", part, path)
    odd = data.draw(
        st.dictionaries(
            st.sampled_from(["q", "page", "kind", "reading", "code", "part", "lesson", "moved", "way", "p"]),
            ODD,
            max_size=3,
        )
    )
    query = {k: v.encode("utf-8", "replace").decode() for k, v in odd.items()}
    body: dict[str, Any] = data.draw(
        st.sampled_from(
            [
                {},
                {"content": data.draw(st.binary(max_size=60))},
                {"json": data.draw(STATE | st.lists(NUMBERS, max_size=2))},
                {
                    "data": {
                        k: data.draw(ODD).encode("utf-8", "replace").decode()
                        for k in data.draw(st.sets(st.sampled_from(FIELDS), max_size=5))
                    }
                },
                {
                    "files": {
                        data.draw(st.sampled_from(["photo", "bundle"])): (
                            data.draw(ODD).encode("utf-8", "replace").decode(),
                            data.draw(st.binary(max_size=40)),
                        )
                    }
                },
            ]
        )
    )
    if "json" in body:
        import json

        body = {"content": json.dumps(body["json"]), "headers": {"content-type": "application/json"}}
    answer = client.request(method, address, params=query, follow_redirects=False, **(body if method == "POST" else {}))
    assert answer.status_code < 500, (method, address, query, body, answer.text[:300])
    assert "content-security-policy" in answer.headers
    assert "html" not in answer.headers.get("content-type", "") or "<script>" not in answer.text
    assert (folder / "eggs.yaml").is_file()


NAMES = (
    "../../etc/passwd",
    "..\\..\\boot.ini",
    "<img src=x onerror=alert(1)>.png",
    "a\x00b.jpg",
    "\u202egpj.exe",
    "con",
    "." * 200,
    "'; drop.jpg",
    "école 😀.jpg",
    "a" * 250 + ".jpg",
    "-rf",
    "%2e%2e%2f.jpg",
    '"quoted".jpg',
    "&amp;.jpg",
)


def test_malformed_pictures_and_names(tmp_path: Path) -> None:
    """Each picture of the corpus cut, bent and swollen, under names meant to harm: an answer for each, and nothing
    outside .inbox.
    """
    import random
    import zlib

    here = tmp_path / "catalog"
    rng = random.Random(5)
    bent = []
    for path in sorted((Path(__file__).parents[1] / "corpus" / "pictures").iterdir()):
        whole = path.read_bytes()
        bent.append(whole[: len(whole) // 2])
        wrong = bytearray(whole)
        for _ in range(20):
            wrong[rng.randrange(len(wrong))] = rng.randrange(256)
        bent.append(bytes(wrong))
    rows = zlib.compress(b"\0" * 1000)
    size = (60_000).to_bytes(4, "big") * 2 + b"\x08\x02\0\0\0"
    chunks = [(b"IHDR", size), (b"IDAT", rows), (b"IEND", b"")]
    bent.append(
        b"\x89PNG\r\n\x1a\n"
        + b"".join(len(d).to_bytes(4, "big") + k + d + zlib.crc32(k + d).to_bytes(4, "big") for k, d in chunks)
    )
    with TestClient(make_app(here), base_url=HOME, raise_server_exceptions=False) as one:
        for number, data in enumerate(bent):
            name = NAMES[number % len(NAMES)]
            assert one.post("/photos", files={"photo": (name, data)}, headers=JSON).status_code == 200
        told = one.get("/photos/events").text
        assert '"state": "waiting"' not in told.rsplit("event: done", 1)[0][-400:]
        page = one.get("/photos").text
        assert "<img src=x" not in page
        last = one.post("/photos", files={"photo": ("good.jpg", picture_bytes(3, 200))}, headers=JSON).json()["items"][
            0
        ]
        one.get("/photos/events")
        assert one.get(f"/photos/{last['id']}").status_code == 200
    assert {p.name for p in tmp_path.iterdir()} == {"catalog"}
    assert {p.name for p in here.iterdir()} <= {".inbox", ".index"}


def test_a_full_disk_is_told_and_nothing_is_lost(client: Any, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import errno

    from curator.web import inbox

    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    before = (folder / "eggs.yaml").read_bytes()
    with monkeypatch.context() as patch:
        patch.setattr(inbox.os, "replace", full)
        for answer in (
            client.post("/photos", files={"photo": ("x.jpg", picture_bytes(77, 90))}),
            client.post("/lesson", data={"what": "add", "slug": "eggs"}),
        ):
            assert answer.status_code == 507
            assert "The disk is full." in answer.text
            assert "Make room on it" in answer.text
    with monkeypatch.context() as patch:
        patch.setattr("curator.catalog.files.os.fsync", full)
        answer = client.post("/prompts/eggs", data={"version": catalog.version(folder, "eggs"), "place": "attic"})
        assert answer.status_code == 507, answer.text
    assert (folder / "eggs.yaml").read_bytes() == before


def test_old_photos_are_taken_away_and_the_same_bytes_come_in_once(tmp_path: Path) -> None:
    import os
    import time

    from curator.web import inbox

    here = tmp_path / "catalog"
    first = inbox.put(here, "a.jpg", b"one")
    assert inbox.put(here, "again.jpg", b"one")["id"] == first["id"]
    old = inbox.put(here, "b.jpg", b"two")
    inbox.save(here, old | {"at": time.time() - 31 * inbox.DAY})
    inbox.save_lesson(here, ["eggs"])
    for name, days in (("lesson-x.pptx", 2), ("set.zip", 31), ("received.zip", 2)):
        path = here / ".inbox" / name
        path.write_bytes(b"x")
        os.utime(path, (time.time() - days * inbox.DAY,) * 2)
    assert inbox.clear(here) == ["b.jpg"]
    assert {p.name for p in (here / ".inbox").iterdir()} == {first["id"], "lesson.json", "received.zip"}


def test_what_is_kept_is_what_was_shown(client: Any, waiting: str, folder: Path) -> None:
    answer = client.post(
        f"/photos/{waiting}/keep", data={"shown": "7+7=14", "state": "{}", "noface": "1"}, headers=JSON
    )
    assert answer.status_code == 422
    assert "showed another fact" in answer.json()["error"]["wrong"]
    assert client.get(f"/photos/{waiting}").status_code == 200


def test_dots_added_and_taken_off_are_answered_again(client: Any) -> None:
    import io

    from PIL import Image

    from tests.seeing.test_likeness import DISCS, SQUARES, two_kinds

    data = io.BytesIO()
    Image.fromarray(two_kinds()).save(data, "PNG")
    (item,) = client.post("/photos", files={"photo": ("kinds.png", data.getvalue())}, headers=JSON).json()["items"]
    client.get("/photos/events")

    def told(**sent: Any) -> dict[str, Any]:
        found: dict[str, Any] = client.post(f"/photos/{item['id']}/told", json=sent).json()
        return found

    more = told(dots=DISCS[:4], yes=[DISCS[3]], no=[])
    assert (more["readings"][0]["total"], len(more["found"]), more["gone"]) == (6, 2, [])
    assert {r["grade"] for r in more["readings"] if not r.get("other")} == {
        "check"
    }  # not her own dots alone: never sure
    assert {r["grade"] for r in more["readings"] if r.get("other")} <= {"check", "no"}
    less = told(dots=[*DISCS, *SQUARES[1:]], yes=[], no=[SQUARES[0]])
    assert sorted(less["gone"]) == sorted(list(p) for p in SQUARES[1:])
    same = told(dots=DISCS, yes=[DISCS[0]], no=[])
    assert (same["found"], same["gone"]) == ([], [])
    if same["readings"]:  # other ways to count, behind her own dots, which are hers
        assert (same["readings"][0]["grade"], same["readings"][0]["total"], same["readings"][-1]["other"]) == (
            "sure",
            6,
            True,
        )
    assert client.post(f"/photos/{item['id']}/told", json={"yes": [[0, "x"]]}).status_code == 400


def test_a_batch_survives_a_restart(tmp_path: Path) -> None:
    from curator.web import inbox

    here = tmp_path / "catalog"
    inbox.put(here, "left.jpg", picture_bytes(5, 200))  # as a server that was stopped leaves it
    with TestClient(make_app(here), base_url=HOME) as one:
        assert '"state": "ready"' in one.get("/photos/events").text


def test_a_process_that_hangs_or_dies_is_replaced() -> None:
    from curator.errors import PhotoError
    from curator.web.sandbox import Worker

    worker = Worker()
    with pytest.raises(PhotoError, match="longer than"):
        worker.ask("again", "nothing", [], None, None, seconds=0.0)
    with pytest.raises(PhotoError, match="no such file"):
        worker.ask("again", "nothing", [], None, None)
    worker.stop()


@pytest.mark.parametrize("route", ROUTES, ids=str)
def test_a_name_longer_than_a_file_s_may_be_is_no_name(client: Any, route: tuple[str, str]) -> None:
    import re

    method, path = route
    address = re.sub(r"\{\w+(?::\w+)?\}", "a" * 300, path)
    body = {"data": {"what": "add", "slug": "a" * 300}} if method == "POST" else {}
    assert client.request(method, address, follow_redirects=False, **body).status_code < 500
