"""Mending what may not be shared yet, bringing back from the bin, letting phones in while the page runs."""

from __future__ import annotations

import errno
import http.client
import re
import socket
import urllib.parse
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from curator.catalog.store import folder as catalog
from curator.web import bins, inbox, network
from curator.web.app import make_app
from tests.catalog_made import picture_bytes, prompt_of
from tests.web_kit import served

TestClient = pytest.importorskip("starlette.testclient").TestClient


@pytest.fixture
def here(tmp_path: Path) -> Path:
    folder = tmp_path / "catalog"
    catalog.add(folder, prompt_of(7, "eggs", title="Eggs", things="eggs"), picture_bytes(1, 200))
    said = {"license": "CC0-1.0", "credit": "the porch class", "people": "none"}
    for n, name in enumerate(("pegs", "pots", "hooks")):
        more: dict[str, str] = said if name == "hooks" else {"license": "", "credit": "", "people": "unknown"}
        catalog.add(folder, prompt_of(5, name, title=name.title(), **more), picture_bytes(2 + n, 200))
    return folder


@pytest.fixture
def client(here: Path) -> Any:
    with TestClient(make_app(here), base_url="http://127.0.0.1", raise_server_exceptions=False) as one:
        yield one


def test_one_form_mends_all_that_may_not_be_shared(client: Any, here: Path) -> None:
    page = client.post("/share/pack", data={"which": "words", "words": "5+5"}).text
    ticked = re.findall(r'name="slug" value="([a-z]+)" checked', page)
    assert sorted(ticked) == ["pegs", "pots"]
    assert page.count('class="main"') + page.count("button main") == 2  # the download, and the form
    before = catalog.load(here, "hooks")
    sent = {"which": "words", "words": "5+5", "slug": ["pegs", "pots", "hooks", "none"]}
    sent |= {"license": "CC-BY-4.0", "credit": "room 4", "people": "none"}
    after = client.post("/share/mend", data=sent)
    assert "Packed: 3 pictures" in after.text
    assert 'name="slug"' not in after.text
    for slug in ("pegs", "pots"):
        now = catalog.load(here, slug)
        assert (now.license, now.credit, now.people) == ("CC-BY-4.0", "room 4", "none")
    assert catalog.load(here, "hooks") == before  # what was said already stays
    assert inbox.remembered(here) == {"credit": "room 4", "license": "CC-BY-4.0"}


def test_what_was_removed_is_shown_and_comes_back(client: Any, here: Path) -> None:
    gone = client.post("/prompts/eggs/remove")
    assert gone.url.query == b"gone=eggs"
    assert "“Eggs” is in the bin now" in gone.text
    assert "/bin/eggs.webp" in client.get("/bin").text
    small = client.get("/bin/eggs.webp")
    assert small.headers["content-type"] == "image/webp"
    assert small.content[:4] == b"RIFF"
    assert not [p for p in here.rglob("*.webp") if p.is_file()]  # no copy of it stays
    back = client.post("/bin/back", data={"slug": "eggs"})
    assert back.url.path == "/prompts/eggs"
    assert catalog.load(here, "eggs").title == "Eggs"
    assert "is in the bin now" not in client.get("/find?gone=eggs").text
    assert client.post("/bin/back", data={"slug": "eggs"}).status_code == 422
    assert client.get("/bin/eggs.webp").status_code == 422


def test_the_bin_says_that_it_shows_the_last_ones_only(client: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    for slug in ("eggs", "pegs", "pots"):
        client.post(f"/prompts/{slug}/remove")
    assert "Shown:" not in client.get("/bin").text
    monkeypatch.setattr(bins, "MOST", 2)
    page = client.get("/bin").text
    assert page.count('<li class="card">') == 2
    assert "3 removed pictures. They stay here until the bin is emptied. Shown: the 2 removed last;" in page


def test_phones_are_let_in_and_out_without_a_restart(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second address of this machine (RFC 5735: all of 127/8 loops back) stands for the network's."""
    monkeypatch.setattr(network, "address", lambda: "127.0.0.2")
    monkeypatch.setattr(network, "LOOP", "nothing")
    with served(here) as (address, site):
        port = int(address.rpartition(":")[2])
        post(address, {"what": "open"})
        assert site.rights.network
        assert site.address == f"http://127.0.0.2:{port}"
        assert "Paired phones" in read(f"{address}/phone")
        assert "face" in read(f"{site.address}/static/face.css")
        held = http.client.HTTPConnection("127.0.0.2", port, timeout=20)  # as a phone's browser holds it open
        held.request("GET", "/static/face.css")
        held.getresponse().read()
        token = site.rights.pairing.pair(site.rights.pairing.code())
        page = read(f"{address}/phone")
        assert "Unpair Phone 1" in page
        post(address, {"phone": re.search(r'name="phone" value="(\w+)"', page)[1]}, "/phone/revoke")  # type: ignore[index]
        assert not site.rights.pairing.knows(token)
        post(address, {"what": "shut"})
        assert not site.rights.network
        with socket.socket() as probe:  # it is closed when the page says so, not some time after
            probe.settimeout(5)
            assert probe.connect_ex(("127.0.0.2", port)) == errno.ECONNREFUSED
        assert held.sock.recv(1) == b""
        held.close()
        assert "Let a phone in" in read(f"{address}/phone")


def read(url: str) -> str:
    with urllib.request.urlopen(url, timeout=20) as answer:
        return str(answer.read().decode())


def post(address: str, data: dict[str, str], path: str = "/phone/network") -> None:
    body = urllib.parse.urlencode(data).encode()
    with urllib.request.urlopen(address + path, data=body, timeout=20) as answer:
        assert answer.status == 200
