"""Who may do what on the networked page, route by route; codes and tokens: random, short-lived, compared in constant
time.
"""

from __future__ import annotations

import re
import secrets
import socket
from collections import Counter
from pathlib import Path

import pytest

from curator.web import pairing as pairings
from curator.web.app import make_app
from curator.web.guard import is_own, may, role
from curator.web.pairing import CODE_SECONDS, COOKIE, LENGTH, LETTERS, TOKEN_SECONDS, TRIES, Pairing
from curator.web.rights import OWN, Rights

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
READS = {"", "find", "show", "prompts", "thumb", "static", "pair"}  # first words of what others may look at
SENDS = {"photos", "static", "pair"}


def paths(tmp_path: Path) -> list[str]:
    """One real address for each route of the page."""
    values = {
        "slug": "eggs",
        "key": "0" * 32,
        "width": "320",
        "name": "style.css",
        "id": "0123456789abcdef",
        "kind": "pptx",
    }
    routes = [route.path for route in make_app(tmp_path).routes]
    return [re.sub(r"\{(\w+)(?::\w+)?\}", lambda m: values.get(m[1], "x"), path) for path in routes]


def allowed(who: str, rights: Rights, every: list[str]) -> set[tuple[str, str]]:
    return {(method, path) for path in every for method in METHODS if may(who, method, path, rights)}


def first(path: str) -> str:
    return path.split("/")[1]


def test_route_by_route(tmp_path: Path) -> None:
    every = paths(tmp_path)
    assert len(every) > 20
    alone, network, read = Rights(), Rights(network=True), Rights(network=True, network_read=True)
    for rights in (alone, network, read):
        assert allowed("teacher", rights, every) == {(m, p) for m in METHODS for p in every}
    assert allowed("", alone, every) == set()
    assert {p for _, p in allowed("", network, every)} <= {"/pair", "/static/style.css"}

    phone = allowed("phone", network, every)
    assert {first(p) for _, p in phone} == SENDS | READS
    assert {p for m, p in phone if m not in ("GET", "HEAD", "OPTIONS")} <= {"/photos", "/pair", "/static/style.css"}
    assert ("POST", "/photos") in phone
    assert not {p for _, p in phone if p.endswith(("/keep", "/again", "/drop")) or p == "/photos/0123456789abcdef"}

    reader = allowed("reader", read, every)
    assert {first(p) for _, p in reader} == READS
    changing = {(m, p) for m, p in reader if m not in ("GET", "HEAD", "OPTIONS")}
    assert {p for _, p in changing} <= {"/pair", "/static/style.css"}
    assert not {p for _, p in allowed("reader", network, every)} - {"/pair", "/static/style.css"}
    assert {m for m, p in phone if first(p) in READS - {"static", "pair"}} <= {"GET", "HEAD"}  # it finds and shows


@pytest.mark.parametrize(
    "path",
    [
        "/prompts/eggs/remove",
        "/prompts/../photos",
        "/prompts/eggs/",
        "//photos",
        "/photos/",
        "/thumb/../phone",
        "/findx",
        "/static/../app.py",
    ],
)
def test_addresses_that_only_look_like_allowed_ones(path: str) -> None:
    read = Rights(network=True, network_read=True)
    for who in ("reader", "phone"):
        for method in METHODS:
            assert not may(who, method, path, read)


def test_the_lesson_is_for_the_teacher_and_her_phone() -> None:
    read = Rights(network=True, network_read=True)
    assert [may(who, "GET", "/show", read) for who in ("teacher", "phone", "reader", "")] == [True, True, False, False]
    assert not may("phone", "POST", "/show", read)


def test_who_somebody_is() -> None:
    rights = Rights(network=True, network_read=True)
    token = rights.pairing.pair(rights.pairing.code())

    def asks(host: str, cookie: str = "") -> str:
        return role({"type": "http", "client": (host, 5), "headers": [(b"cookie", cookie.encode())]}, rights)

    assert asks("127.0.0.1") == "teacher"
    assert asks("192.0.2.9") == "reader"
    assert asks("192.0.2.9", f"{COOKIE}={token}") == "phone"
    for wrong in (token[:-1], token + "x", "", token.swapcase()):
        assert asks("192.0.2.9", f"{COOKIE}={wrong}") == "reader"
    assert not is_own("192.0.2.9")
    assert not is_own("10.127.0.1")
    assert role({"type": "http", "client": ("192.0.2.9", 5), "headers": []}, Rights()) == ""
    assert role({"type": "http", "client": None, "headers": []}, Rights()) == ""


def test_no_header_makes_a_stranger_the_teacher() -> None:
    headers = [
        (b"x-forwarded-for", b"127.0.0.1"),
        (b"forwarded", b"for=127.0.0.1"),
        (b"x-real-ip", b"127.0.0.1"),
        (b"host", b"127.0.0.1"),
    ]
    assert role({"type": "http", "client": ("192.0.2.9", 5), "headers": headers}, Rights(OWN, network=True)) == ""


def test_codes_are_random_and_of_letters_that_look_unlike() -> None:
    codes = [Pairing().code() for _ in range(2000)]
    assert len(set(codes)) == 2000
    assert all(len(code) == LENGTH and set(code) <= set(LETTERS) for code in codes)
    assert not set("IO01L") & set(LETTERS)
    counts = Counter("".join(codes))
    mean = 2000 * LENGTH / len(LETTERS)
    assert len(counts) == len(LETTERS)
    assert all(abs(n - mean) < 6 * mean**0.5 for n in counts.values())  # six standard deviations
    assert len(LETTERS) ** LENGTH > 2**39


def test_a_guesser_has_few_tries_whichever_way_and_a_new_code_voids_the_old() -> None:
    pairing = Pairing()
    code = pairing.code()
    for number in range(TRIES):
        assert not (pairing.pair("WRONG") if number % 2 else pairing.knows_code("WRONG"))
    assert not pairing.knows_code(code)
    assert not pairing.pair(code)
    assert pairing.code() == code  # looking at the page again gives no fresh tries
    fresh = pairing.code(new=True)
    assert fresh != code
    assert not pairing.pair(code)
    assert pairing.pair(f" {fresh.lower()} ")
    assert not pairing.pair(fresh)  # once
    assert not pairing.pair("")


def test_codes_and_tokens_run_out() -> None:
    now = [0.0]
    pairing = Pairing(lambda: now[0])
    code = pairing.code()
    now[0] = CODE_SECONDS + 1
    assert not pairing.pair(code)
    token = pairing.pair(pairing.code())
    assert len(token) >= 43  # 32 random bytes
    now[0] += TOKEN_SECONDS - 1
    assert pairing.knows(token)
    now[0] += 2
    assert not pairing.knows(token)
    assert CODE_SECONDS <= 600
    assert not Pairing().knows(token)  # a restart forgets


def test_codes_and_tokens_are_compared_in_constant_time(monkeypatch: pytest.MonkeyPatch) -> None:
    pairing = Pairing()
    code = pairing.code()
    token = pairing.pair(code)
    compared: list[tuple[bytes, bytes]] = []
    real = secrets.compare_digest
    monkeypatch.setattr(pairings.secrets, "compare_digest", lambda a, b: compared.append((a, b)) or real(a, b))
    assert pairing.knows(token)
    assert compared == [(token.encode(), token.encode())]
    other = pairing.code()
    assert not pairing.pair("AAAAAAAA")
    assert compared[1:] == [(b"AAAAAAAA", other.encode())]
    assert pairing.pair(other)
    compared.clear()
    assert not pairing.knows("x")
    assert len(compared) == 2  # every token, found or not


@pytest.mark.parametrize(
    ("options", "host", "network", "read"),
    [
        ([], "127.0.0.1", False, False),
        (["--network"], "0.0.0.0", True, False),
        (["--network-read"], "0.0.0.0", True, True),
    ],
)
def test_only_what_was_asked_for_is_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: list[str], host: str, network: bool, read: bool
) -> None:
    import uvicorn
    from typer.testing import CliRunner

    from curator.cli import app

    seen = []

    def run(server: uvicorn.Server, sockets: list[socket.socket]) -> None:
        (one,) = sockets
        seen.append((one.getsockname()[0], server.config.app.state.site.rights, server.config.proxy_headers))  # type: ignore[union-attr]
        one.close()

    monkeypatch.setattr(uvicorn.Server, "run", run)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    said = CliRunner().invoke(app, ["serve", "--port", str(port), "-c", str(tmp_path), *options])
    assert said.exit_code == 0, said.output
    ((bound, rights, proxied),) = seen
    assert (bound, rights.network, rights.network_read, proxied) == (host, network, read, False)
    assert ("On the network:" in said.output) == network
