"""Who sees what: the key of the printed address, phones and their own photos, readers and what they are shown."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import socket
import string
import threading
import time
import warnings
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from bundles_made import drawn, shared

from curator.catalog import face_gate
from curator.catalog.search import index
from curator.catalog.store import folder
from curator.records import Area
from curator.web import guard, inbox, lesson_file
from curator.web.app import make_app
from curator.web.pairing import CODE_SECONDS, TRIES, Pairing
from curator.web.rights import OWN, Rights
from curator.web.server import Limited, server

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

HERE, OTHER = "192.0.2.7", "192.0.2.9"


@pytest.fixture
def school(tmp_path: Path) -> Path:
    """Eggs, quiet; tins, never searched; hall, with a face nobody answered for."""
    for slug, boxes in (("eggs", ()), ("hall", (Area(0.1, 0.1, 0.4, 0.5),))):
        picture = drawn(slug)
        prompt = shared(slug, title=slug, credit="Quentin Zx", notes="zebra", seen=face_gate.record(boxes, picture))
        folder.add(tmp_path, prompt, picture)
    folder.add(tmp_path, shared("tins", title="tins"), drawn("tins"))
    return tmp_path


def away(app: Any, host: str = OTHER) -> TestClient:
    return TestClient(app, base_url=f"http://{HERE}", client=(host, 5))


def test_others_find_nothing_by_words_that_they_are_not_shown(school: Path) -> None:
    reader = away(make_app(school, Rights(OWN | {HERE}, network=True, network_read=True)))
    assert "1 picture." in reader.get("/find?q=eggs").text
    assert "quentin" not in reader.get("/find?q=eggs").text.lower()
    for letter in string.ascii_lowercase:  # letter by letter, as a stranger would spell it
        for word in (f"q{letter}", f"ze{letter}", "quentin", "zebra"):
            assert "No picture." in reader.get(f"/find?q={word}").text
    assert index.find(school, "quentin").total == 2  # the teacher does
    assert index.find(school, "zebr", outside=True).instead == ()


def test_others_are_shown_no_picture_with_an_open_face(school: Path) -> None:
    reader = away(make_app(school, Rights(OWN | {HERE}, network=True, network_read=True)))
    assert reader.get("/find?part=1").text.count("<li") == 1
    for path in ("/prompts/{}", "/show/{}", "/thumb/{}/320"):
        assert reader.get(path.format("eggs")).status_code == 200
        for slug in ("hall", "tins"):
            assert reader.get(path.format(slug)).status_code == 404, path
    folder.replace(school, replace(folder.load(school, "hall"), faces="consented"))
    assert reader.get("/show/hall").status_code == 200
    assert index.find(school, "", outside=True).total == 2


def scenes_of(client: TestClient) -> list[str]:
    """The addresses of the pictures of the lesson that this one is shown."""
    page = client.get("/show")
    assert page.status_code == 200, page.text
    (told,) = re.findall(r'<script type="application/json" id="lesson">(.*?)</script>', page.text, re.S)
    return [scene["at"] for scene in json.loads(told)["scenes"]]


def test_a_paired_phone_s_lesson_leaves_out_pictures_with_an_unanswered_face(school: Path) -> None:
    picture = drawn("asked")
    seen = face_gate.record((Area(0.1, 0.1, 0.4, 0.5),), picture)
    folder.add(school, shared("asked", faces="consented", seen=seen), picture)
    lesson_file.save(school, ("hall", "eggs", "tins", "asked"))
    rights = Rights(OWN | {HERE}, network=True)
    app = make_app(school, rights)
    phone = away(app)
    phone.post("/pair", data={"code": rights.pairing.code()})
    hall, eggs, tins, asked = scenes_of(TestClient(app, base_url="http://127.0.0.1"))
    assert scenes_of(phone) == [eggs, asked]  # an open face in hall; nobody looked for one in tins
    folder.replace(school, replace(folder.load(school, "hall"), faces="consented"))
    assert scenes_of(phone) == [hall, eggs, asked]
    lesson_file.save(school, ("tins",))
    refused = phone.get("/show")
    assert refused.status_code == 422
    assert tins not in refused.text
    app.state.site.making.stop()


def test_a_page_that_others_read_searches_what_was_never_searched(school: Path) -> None:
    with TestClient(make_app(school, Rights(OWN | {HERE}, network=True, network_read=True))):
        until = time.monotonic() + 60
        while folder.load(school, "tins").seen is None and time.monotonic() < until:
            time.sleep(0.1)
    assert folder.load(school, "tins").seen is not None
    assert index.find(school, "tins", outside=True).total == 1


def test_a_phone_sees_its_own_photos_and_is_sent_away(school: Path) -> None:
    rights = Rights(OWN | {HERE}, network=True)
    app = make_app(school, rights)
    mine = inbox.put(school, "hers.jpg", drawn("hers"))
    phones = [away(app, host) for host in (OTHER, "192.0.2.10")]
    for phone in phones:
        phone.post("/pair", data={"code": rights.pairing.code()})
        assert "hers.jpg" not in phone.get("/photos").text
    sent = phones[0].post("/photos", files={"photo": ("a.jpg", drawn("hers"))}, headers={"accept": "application/json"})
    assert sent.json()["items"][0]["id"] != mine["id"]  # nor does the same photo tell that it is there
    assert "a.jpg" in phones[0].get("/photos").text
    assert "a.jpg" not in phones[1].get("/photos").text
    assert phones[0].get(f"/photos/{mine['id']}/thumb.webp").status_code == 404
    teacher = TestClient(app, base_url="http://127.0.0.1")
    assert "a.jpg" in teacher.get("/photos").text
    listed = rights.pairing.phones()
    assert [one["name"] for one in listed] == ["Phone 1", "Phone 2"]
    assert phones[1].post("/phone/revoke", data={"phone": listed[0]["id"]}).status_code == 403
    teacher.post("/phone/revoke", data={"phone": listed[0]["id"]})
    assert phones[0].get("/photos").status_code == 403
    assert phones[1].get("/photos").status_code == 200


def test_a_dead_code_says_why() -> None:
    now = [0.0]
    pairing = Pairing(lambda: now[0])
    code = pairing.code()
    assert pairing.pair(code)
    assert pairing.why_dead(code.lower()) == "used"
    old = pairing.code()
    now[0] += CODE_SECONDS + 1
    assert not pairing.pair(old)
    assert pairing.why_dead(old) == "over"
    assert pairing.why_dead("AAAA") == "wrong"
    pairing.code()
    for _ in range(TRIES):
        pairing.pair("AAAA")
    assert pairing.why_dead("AAAA") == "tries"
    assert pairing.why_dead("") in ("tries", "wrong")


def test_another_user_of_the_computer_is_no_teacher(school: Path) -> None:
    rights = Rights(OWN, key="k" * 32)
    client = TestClient(make_app(school, rights), base_url="http://127.0.0.1:8300", client=("127.0.0.1", 5))
    refused = client.get("/")
    assert refused.status_code == 403
    assert "whole link" in refused.text
    assert "http://127.0.0.1:8300/?key=…" in refused.text
    assert rights.key not in refused.text
    assert client.get("/?key=wrong").status_code == 403
    assert client.post("/prompts/eggs/remove").status_code == 403
    opened = client.get("/find?key=" + rights.key, follow_redirects=False)
    assert (opened.status_code, opened.headers["location"]) == (303, "/find")  # the key leaves the address at once
    assert {"HttpOnly", "SameSite=strict"} <= set(opened.headers["set-cookie"].split("; "))
    assert opened.headers["set-cookie"].startswith("curator_key_8300=")
    assert client.get("/").status_code == 200
    assert client.get("http://evil.example/?key=" + rights.key).status_code == 421


def test_without_the_key_there_is_a_page_that_says_what_to_do_and_nothing_else(school: Path) -> None:
    """It is whole in itself: its own style by its digest, no script, no file of ours."""
    rights = Rights(OWN, key="k" * 32)
    client = TestClient(make_app(school, rights), base_url="http://127.0.0.1:8300", client=("127.0.0.1", 5))
    for path in ("/", "/photos", "/static/dress.css", "/static/rubik.woff2", "/thumb/eggs/320", "/nowhere"):
        refused = client.get(path)
        assert refused.status_code == 403, path
        assert refused.headers["cache-control"] == "no-store"
        assert refused.headers["x-content-type-options"] == "nosniff"
        policy = refused.headers["content-security-policy"]
        style = refused.text.partition("<style>")[2].partition("</style>")[0]
        seal = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
        assert policy.startswith(f"default-src 'none'; style-src 'sha256-{seal}';"), path
        assert "unsafe" not in policy
        assert "Eggs" not in refused.text
        assert not re.search(r"<(script|link|img|form|a)\b", refused.text)
    asked = client.get("/photos", headers={"accept": "application/json"})
    assert asked.json()["error"]["try_this"] == "Open the whole link that curator serve printed."
    assert "form" not in client.get("http://evil.example:8300/").text.partition("</style>")[2]


class Hasty(Limited):
    most_each, patience = 8, 0.3


@pytest.fixture
def address(school: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[str, int]]:
    monkeypatch.setattr(guard, "SILENT_SECONDS", 0.3)
    listener = socket.create_server(("127.0.0.1", 0))
    running = server(make_app(school), Hasty)
    thread = threading.Thread(target=running.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    while not running.started:
        time.sleep(0.02)
    yield listener.getsockname()
    running.should_exit = True
    thread.join(15)
    listener.close()


def answer(address: tuple[str, int], sent: bytes, seconds: float = 10.0) -> bytes:
    """All that comes back until the server ends it."""
    with socket.create_connection(address, timeout=seconds) as line:
        line.sendall(sent)
        got = b""
        while piece := line.recv(65536):
            got += piece
    return got


def test_who_asks_for_nothing_is_not_waited_for(address: tuple[str, int]) -> None:
    start = time.monotonic()
    assert answer(address, b"") == b""
    assert answer(address, b"GET / HTTP/1.1\r\nHost: 127") == b""
    slow = b"POST /photos HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: multipart/form-data; boundary=x\r\n"
    assert b" 408 " in answer(address, slow + b"Content-Length: 999\r\n\r\n--x\r\n")
    assert time.monotonic() - start < 9


def test_many_idle_connections_do_not_shut_the_page(address: tuple[str, int]) -> None:
    idle = [socket.create_connection(address) for _ in range(60)]
    time.sleep(1.0)
    asked = b"GET /find HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n"
    assert b" 200 " in answer(address, asked)[:40]
    for line in idle:
        line.close()
