"""The page at its server: who may do what, what is refused, hostile input, two at once on one catalog."""

from __future__ import annotations

import re
import shutil
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curator.catalog.search.gaps import IDEAS
from curator.catalog.store import folder as catalog
from curator.limited import StoppedError
from curator.web.app import make_app
from curator.web.pairing import COOKIE, TRIES, Pairing
from curator.web.rights import OWN, Rights
from tests import drawn_catalog
from tests.catalog_made import picture_bytes, prompt_of

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

HOME = "http://127.0.0.1"
JSON = {"accept": "application/json"}


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The page, open through all tests here: its process that looks at photos takes long to start."""
    here = tmp_path_factory.mktemp("web") / "catalog"
    with TestClient(make_app(here), base_url=HOME, raise_server_exceptions=False) as one:
        yield one


@pytest.fixture
def folder(opened: Any) -> Path:
    """Its catalog with one prompt, as new for each test."""
    here: Path = opened.app.state.site.catalog
    opened.get("/photos/events")  # until nothing is in work
    shutil.rmtree(here, ignore_errors=True)
    catalog.add(here, prompt_of(7, "eggs", title="Eggs <b>", things="eggs"), picture_bytes(1, 640))
    return here


@pytest.fixture
def client(opened: Any, folder: Path) -> Any:
    opened.cookies.clear()
    return opened


def test_pages_answer_with_the_headers_that_keep_them_safe(client: Any) -> None:
    for path in ("/", "/photos", "/find?q=7%2B7", "/prompts/eggs", "/show/eggs", "/lesson", "/share", "/phone"):
        answer = client.get(path)
        assert answer.status_code == 200, path
        assert "script-src 'self'" in answer.headers["content-security-policy"]
        assert "unsafe" not in answer.headers["content-security-policy"]
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert len(answer.content) < 150_000
        assert "<b>" not in answer.text
    assert "<title>Doubles</title>" in client.get("/show/eggs").text


def test_a_kept_picture_is_asked_about_in_the_words_of_the_other_pages(client: Any, folder: Path) -> None:
    said = {"license": "CC-BY-4.0", "credit": "Room 4", "people": "consented"}
    catalog.replace(folder, catalog.changed(catalog.load(folder, "eggs"), **said))
    page = client.get("/prompts/eggs").text
    assert '<option value="consented" selected>yes, all have agreed</option>' in page
    assert "What are they?" in page
    assert "CC BY 4.0" in client.get("/find?q=eggs").text


def test_the_class_view_s_pictures_are_made_once_and_named_by_no_answer(client: Any, folder: Path) -> None:
    rows = drawn_catalog.two_rows(7)
    drawn_catalog.add(folder, drawn_catalog.prompt("eggs-seven", rows, "slide", "egg", "eggs"), rows)
    page = client.get("/show/eggs-seven").text
    (at,) = re.findall(r'"at":"(/show/made/[0-9a-f]{32})"', page)
    told = client.get(at).json()
    assert {"rings", "cover", "other_cover", "dots"} <= set(told["over"]) | set(told["whole"])
    assert told["size"][0] <= 1920
    addresses = [told["plain"], *told["whole"].values(), *(layer["src"] for layer in told["over"].values())]
    for address in addresses:
        assert re.fullmatch(rf"{at}/[a-z_-]+", address)
        answer = client.get(address)
        assert answer.status_code == 200
        assert answer.headers["content-type"] in ("image/jpeg", "image/png", "image/svg+xml")
    file = folder / ".inbox" / "screen" / f"{at.rpartition('/')[2]}.zip"
    stamp = file.stat().st_mtime_ns
    assert client.get("/lesson/lesson.zip").status_code in (200, 422)
    client.get("/show/eggs-seven")
    assert file.stat().st_mtime_ns == stamp
    assert client.get("/show/made/" + "0" * 32).status_code == 422
    assert client.get(f"{at}/scene.json").status_code == 404
    assert client.get("/show").status_code == 422  # no lesson yet


def test_foreign_names_and_cross_site_posts_are_refused(client: Any) -> None:
    assert client.get("/", headers={"host": "elsewhere.example"}).status_code == 421
    for headers in ({"sec-fetch-site": "cross-site"}, {"origin": "http://elsewhere.example"}, {"origin": "null"}):
        assert client.post("/lesson", data={"what": "add", "slug": "eggs"}, headers=headers).status_code == 403
    gone = client.get("/nowhere")
    assert gone.status_code == 404
    assert "may have been moved or put away. Look under Find; the bin is there too." in gone.text
    assert "try again" not in gone.text  # that cannot help
    wrong = client.post("/find")
    assert wrong.status_code == 405
    assert "Go back and try again." in wrong.text
    assert client.get("/prompts/nothing").status_code == 404


def test_a_damaged_picture_is_an_answer_and_the_others_go_on(client: Any, folder: Path) -> None:
    from curator.web import inbox

    bad = {"../../etc/x.jpg": b"\xff\xd8\xff" + b"\0" * 90, "<script>.png": b"\x89PNG\r\n\x1a\n", "con": b"hello"}
    for name, data in bad.items():
        assert client.post("/photos", files={"photo": (name, data)}, headers=JSON).status_code == 200
    client.post("/photos", files={"photo": ("good.jpg", picture_bytes(3, 200))}, headers=JSON)
    told = client.get("/photos/events").text
    assert told.count('"state": "error"') == 3
    assert told.count('"state": "ready"') == 1
    home = client.get("/").text
    waiting = len(inbox.every(folder)) - 3
    assert f"{waiting} photo{'s wait' if waiting > 1 else ' waits'} for you, 3 not taken" in home
    page = client.get("/photos").text
    assert re.search(r'Not taken <span class="many">3</span>', page)
    assert "<script>.png" not in page
    assert "&lt;script&gt;.png" in page


def test_pictures_are_found_by_when_they_were_kept(client: Any, folder: Path) -> None:
    for n in range(26):
        catalog.add(folder, prompt_of(7, f"panes-{n}", title=f"Panes {n}", added="2025-10-03"), picture_bytes(2 + n))
    old = client.get("/find?q=7%2B7&since=2025-09-01&until=2026-01-31").text
    assert "26 pictures" in old
    assert "/prompts/eggs" not in old
    assert "since=2025-09-01&amp;until=2026-01-31&amp;page=2" in old
    assert "1 picture." in client.get("/find?since=2026-01-01").text
    assert "other days" in client.get("/find?until=2020-01-01").text
    assert "27 pictures" in client.get("/find?since=long+ago&until=<b>").text  # what is no day asks for nothing


def test_where_nothing_is_kept_each_page_says_what_to_do(tmp_path: Path) -> None:
    with TestClient(make_app(tmp_path / "none"), base_url=HOME) as client:
        assert "No photo waits here." in client.get("/photos").text
        assert "Start with some photos" in client.get("/lesson").text
        assert 'action="/share/pack"' not in client.get("/share").text
        assert "there is none to pack" in client.get("/share").text
        assert 'action="/share/receive"' in client.get("/share").text
        assert "What you remove from the catalog lies here" in client.get("/bin").text
        assert "Nothing is kept yet. Start with" in client.get("/find").text


def test_find_says_what_was_taken_for_a_slip_and_what_shows_a_fact_without_a_picture(client: Any, folder: Path) -> None:
    catalog.add(folder, prompt_of(7, "buttons", title="Buttons", things="buttons"), picture_bytes(2))
    slip = client.get("/find?q=buttns").text
    assert "1 picture. Nothing is called “buttns”; this is “buttons”." in slip
    ideas = "; ".join(IDEAS[11])
    assert f"No picture.</p>\n<p>Things that come as 11+11: {ideas}." in client.get("/find?q=11%2B11").text
    assert "Doubles from 1+1 to 12+12 are taught here." in client.get("/find?q=13%2B13").text
    for narrower in ("q=11%2B11+kitchen", "q=11%2B11&kind=flip", "q=11%2B11&since=2026-01-01"):
        assert "Nothing is kept for that." in client.get(f"/find?{narrower}").text


def test_a_kept_picture_and_the_bin_belong_to_find(client: Any) -> None:
    for path in ("/prompts/eggs", "/bin"):
        assert '<a href="/find" aria-current="true">Find</a>' in client.get(path).text


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
    starts = {"pptx": b"PK", "html": b"<!doctype html>", "pdf": b"%PDF-", "zip": b"PK", "yaml": b"# The plan"}
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
    assert phone.get("/find").status_code == 200  # as others do: test_who says what they find
    assert phone.get("/share").status_code == 403
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


@pytest.fixture
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
        "key": "0" * 32,
        "width": "320",
        "kind": "yaml",
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
    if (method, address) == ("POST", "/prompts/eggs/remove") and answer.status_code == 303:  # as it was asked
        catalog.bring_back(folder, "eggs")
    assert (folder / "eggs.yaml").is_file(), (method, address, query, body)


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


def told_of(client: Any, one: str) -> list[dict[str, Any]]:
    """All that the events say of an item until nothing is in work, in order."""
    import json

    lines = client.get("/photos/events").text.splitlines()
    every = [json.loads(line[6:]) for line in lines if line.startswith("data: {") and line != "data: {}"]
    return [item for item in every if item["id"] == one]


def put(client: Any, number: int) -> str:
    """A photo of its own, looked at."""
    file = {"photo": (f"{number}.jpg", picture_bytes(number, 200))}
    (item,) = client.post("/photos", files=file, headers=JSON).json()["items"]
    assert told_of(client, item["id"])[-1]["state"] == "ready"
    return str(item["id"])


def test_what_is_kept_is_what_was_shown(client: Any, waiting: str) -> None:
    answer = client.post(
        f"/photos/{waiting}/keep", data={"shown": "7+7=14", "state": "{}", "noface": "1"}, headers=JSON
    )
    assert answer.json()["state"] == "keeping"  # answered at once
    last = told_of(client, waiting)[-1]
    assert last["state"] == "ready"
    assert "showed another fact" in last["problem"]
    assert client.get(f"/photos/{waiting}", headers=JSON).json()["draft"]["shown"] == "7+7=14"  # what she said is there


def test_however_often_it_is_sent_it_is_kept_once(client: Any, folder: Path) -> None:
    one, before = put(client, 41), catalog.count(folder)
    sent = [client.post(f"/photos/{one}/keep", data={"noface": "1"}, headers=JSON).json() for _ in range(3)]
    assert {answer["state"] for answer in sent} <= {"keeping", "kept"}
    slug = told_of(client, one)[-1]["slug"]
    again = client.post(f"/photos/{one}/keep", data={"noface": "1"}, headers=JSON).json()
    assert (again["state"], again["slug"]) == ("kept", slug)
    assert catalog.count(folder) == before + 1
    at = client.get(f"/photos/{one}", follow_redirects=False)
    assert (at.status_code, at.headers["location"]) == (303, f"/prompts/{slug}")
    assert [path.name for path in (folder / ".inbox" / one).iterdir()] == ["item.json"]  # her file is gone
    plain = client.post(f"/photos/{put(client, 42)}/keep", data={"noface": "1"}, follow_redirects=False)
    assert (plain.status_code, plain.headers["location"][:9]) == (303, "/prompts/")  # a browser without scripts


def test_a_form_and_the_batch_do_not_keep_the_same_photo_twice(client: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    import time

    from curator.web import keeping

    real, asked = keeping.keep, []

    def slowly(here: Any, item: dict[str, Any], worker: Any) -> str:
        asked.append(item["id"])
        time.sleep(0.3)  # so that the other comes to it meanwhile
        return real(here, item, worker)

    one = put(client, 49)
    monkeypatch.setattr(keeping, "keep", slowly)
    plain = client.post(f"/photos/{one}/keep", data={"noface": "1"}, follow_redirects=False)
    assert plain.headers["location"].startswith("/prompts/")
    client.get("/photos/events")
    assert asked == [one]


def test_many_are_kept_with_one_word_and_come_into_the_lesson(client: Any, folder: Path) -> None:
    from curator.web import inbox

    inbox.save_lesson(folder, [])
    ids = [put(client, number) for number in (43, 44)]
    said = {"credit": "Us", "license": "CC0-1.0", "people": "none", "lesson": "1"}
    answer = client.post("/photos/keep", json={"ids": [*ids, "0" * 16], **said}).json()["items"]
    assert [one.get("state") for one in answer] == ["keeping", "keeping", None]
    slugs = [told_of(client, one)[-1]["slug"] for one in ids]
    kept = [catalog.load(folder, slug) for slug in slugs]
    assert {(p.credit, p.license, p.people, p.touched) for p in kept} == {("Us", "CC0-1.0", "none", 0)}
    assert inbox.lesson(folder) == slugs
    assert inbox.remembered(folder) == {"credit": "Us", "license": "CC0-1.0"}
    assert 'value="Us"' in client.get("/photos").text
    inbox.save_lesson(folder, [])
    assert client.post("/photos/keep", json={"ids": 5}).status_code == 400


def test_a_face_is_asked_about_before_anything_is_kept(client: Any, folder: Path) -> None:
    from curator.web import inbox

    one = put(client, 45)
    inbox.update(folder, one, faces=[[0.1, 0.1, 0.3, 0.3]])
    for people, wrong in (("unknown", "nothing was said"), ("none", "You said that nobody is in it")):
        client.post("/photos/keep", json={"ids": [one], "people": people})
        last = told_of(client, one)[-1]
        assert (last["state"], last["group"]) == ("ready", "check")
        assert wrong in last["problem"]
    client.post(f"/photos/{one}/keep", data={"faces": "consented"}, headers=JSON)
    assert catalog.load(folder, told_of(client, one)[-1]["slug"]).faces == "consented"


def test_a_drop_can_be_taken_back_for_an_hour(client: Any, folder: Path) -> None:
    import time

    from curator.web import inbox

    one, other = put(client, 46), put(client, 47)
    assert client.post(f"/photos/{one}/drop", headers=JSON).json()["state"] == "dropped"
    assert one not in client.get("/photos").text
    assert client.get(f"/photos/{one}").status_code == 422
    assert client.post(f"/photos/{one}/keep", headers=JSON).status_code == 422
    assert client.post(f"/photos/{one}/restore", headers=JSON).json()["state"] == "ready"
    assert one in client.get("/photos").text
    client.post(f"/photos/{one}/drop")
    inbox.update(folder, one, gone=time.time() - inbox.TOLD_SECONDS - 1)
    client.post(f"/photos/{other}/drop")
    assert not (folder / ".inbox" / one).exists()  # for good
    assert client.post(f"/photos/{one}/restore").status_code == 404
    inbox.clear(folder)
    assert (folder / ".inbox" / other).exists()  # the half-hourly clearing leaves it for its hour
    inbox.clear(folder, time.time() + inbox.TOLD_SECONDS + 5)
    assert not (folder / ".inbox" / other).exists()


def test_a_kept_prompt_is_opened_again_and_changed_in_its_place(client: Any, folder: Path) -> None:
    before = catalog.load(folder, "eggs")

    def opened() -> dict[str, Any]:
        at = client.post("/prompts/eggs/look", follow_redirects=False).headers["location"]
        assert client.post("/prompts/eggs/look", follow_redirects=False).headers["location"] == at  # once
        found: dict[str, Any] = client.get(at, headers=JSON).json()
        assert found["id"] not in client.get("/photos").text  # it waits for nobody
        return found

    def save(start: dict[str, Any], state: str, **words: str) -> Any:
        data = {**start["words"], **words, "state": state, "noface": "1"}
        return client.post(f"/photos/{start['id']}/keep", data=data, follow_redirects=False)

    start = opened()
    shown = start["readings"][0]
    assert (shown["at"], shown["fact"], shown["total"]) == (-1, "7+7=14", 14)
    assert [(d["x"], d["y"], d["side"]) for d in shown["dots"]] == [(d.x, d.y, d.side) for d in before.dots]
    assert start["words"]["things"] == "eggs"
    assert save(start, '{"reading": -1}', place="hall").headers["location"] == "/prompts/eggs?kept=1"
    same = catalog.load(folder, "eggs")
    assert (same.place, same.dots, same.picture, same.touched) == ("hall", before.dots, before.picture, before.touched)

    start = opened()
    state = '{"dots": [[0.2, 0.2], [0.2, 0.8], [0.8, 0.2], [0.8, 0.8]], "touched": 3, "reading": 0}'
    assert "showed another fact" in save(start, state, shown="7+7=14").text
    assert save(start, state, shown="2+2=4").status_code == 303
    now = catalog.load(folder, "eggs")
    assert (str(now.fact), now.touched, len(now.dots), now.source_sha256) == ("2+2=4", 3, 4, before.source_sha256)
    assert now.alt_after.startswith("2 and 2 eggs")
    catalog.undo(folder, "eggs")

    start = opened()
    catalog.replace(folder, catalog.changed(catalog.load(folder, "eggs"), place="attic"))
    assert "Somebody else changed" in save(start, '{"reading": -1}', place="cellar").text
    assert client.post("/prompts/nothing/look").status_code == 404


def test_what_was_to_be_kept_is_kept_after_a_restart(tmp_path: Path) -> None:
    from curator.web import inbox

    here = tmp_path / "catalog"
    with TestClient(make_app(here), base_url=HOME) as one:
        left = put(one, 48)
        one.app.state.site.keep = lambda _: None  # stopped before it came to it
        one.post(f"/photos/{left}/keep", data={"noface": "1"}, headers=JSON)
    assert inbox.get(here, left)["state"] == "keeping"
    with TestClient(make_app(here), base_url=HOME) as one:
        assert told_of(one, left)[-1]["state"] == "kept"
    assert catalog.count(here) == 1


def test_no_two_of_our_own_files_have_one_name() -> None:
    """They are served from two folders under one address: the second would stand in the place of the first."""
    from curator.web.app import STATIC, VIEWER

    names = [path.name for folder in (STATIC, VIEWER) for path in folder.iterdir()]
    assert len(names) == len(set(names))


def test_a_batch_survives_a_restart(tmp_path: Path) -> None:
    from curator.web import inbox

    here = tmp_path / "catalog"
    inbox.put(here, "left.jpg", picture_bytes(5, 200))  # as a server that was stopped leaves it
    with TestClient(make_app(here), base_url=HOME) as one:
        assert '"state": "ready"' in one.get("/photos/events").text


def test_a_process_that_hangs_or_dies_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    from curator.errors import PhotoError
    from curator.web.sandbox import worker as new_worker

    worker = new_worker()
    with monkeypatch.context() as hurried:
        hurried.setattr(worker, "_seconds", 0.0)
        with pytest.raises(PhotoError, match="longer than"):
            worker.ask("again", "nothing", [], None, None)
    with pytest.raises(PhotoError, match="no such file"):
        worker.ask("again", "nothing", [], None, None)
    worker.end()


def test_a_photo_that_could_not_be_looked_at_is_tried_again(
    client: Any, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a busy computer the clock may run out for any photo: nothing is wrong with it."""
    here = client.app.state.site

    def ask(name: str, *args: object) -> object:
        raise StoppedError("Looking at the photo.", "It took longer than 150 seconds.", "Try again.")

    with monkeypatch.context() as busy:
        busy.setattr(here.looking, "ask", ask)
        file = {"photo": ("48.jpg", picture_bytes(48, 200))}
        (item,) = client.post("/photos", files=file, headers=JSON).json()["items"]
        one = item["id"]
        assert told_of(client, one)[-1]["state"] == "error"
        assert f"/photos/{one}/retry" in client.get("/photos").text
    assert client.post(f"/photos/{one}/retry", headers=JSON).json()["state"] in ("waiting", "looking", "ready")
    assert told_of(client, one)[-1]["state"] == "ready"
    assert client.post(f"/photos/{one}/retry", headers=JSON).json()["state"] == "ready"  # pressed twice
    assert f"/photos/{one}/retry" not in client.get("/photos").text


@pytest.mark.parametrize("route", ROUTES, ids=str)
def test_a_name_longer_than_a_file_s_may_be_is_no_name(client: Any, route: tuple[str, str]) -> None:
    import re

    method, path = route
    address = re.sub(r"\{\w+(?::\w+)?\}", "a" * 300, path)
    body = {"data": {"what": "add", "slug": "a" * 300}} if method == "POST" else {}
    assert client.request(method, address, follow_redirects=False, **body).status_code < 500


@pytest.mark.parametrize("what", ["again", "area", "like", "named"])
def test_no_other_route_answers_for_what_is_set_right_on_a_photo(what: str) -> None:
    from starlette.routing import Match

    from curator.web import look

    asked = {"type": "http", "method": "POST", "path": f"/photos/{'0' * 16}/{what}"}
    first = next(route for route in make_app(Path("nowhere")).routes if route.matches(asked)[0] is Match.FULL)
    assert first.endpoint is look.change


def test_no_two_files_of_the_page_have_one_name() -> None:
    from curator.web.app import STATIC, VIEWER

    assert not {p.name for p in STATIC.iterdir()} & {p.name for p in VIEWER.iterdir()}
