"""How quick the page is: the first answer for a photo beside `curator tag`, finding while typing with several at
once, weights.

    python tests/bench/web_bench.py --prompts 100000 --at-once 8

Times are seen by the client over one connection each, typing in turn without a pause; `processor` is what the server
spent of its own for a request, which other work on the machine does not change.
"""

from __future__ import annotations

import argparse
import http.client
import json
import multiprocessing
import os
import random
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from pathlib import Path
from urllib.parse import quote

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parent.parent)]

from catalog_bench import TYPED, fill  # noqa: E402
from line_bench import twelve_megapixels  # noqa: E402

PAGES = ("/", "/photos", "/find", "/find?q=eggs", "/lesson", "/share")
STATIC = re.compile(r'(?:src|href)="(/static/[^"]+)"')


def port_of() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


KEY: dict[str, str] = {}  # the header that a browser sends once the printed address was opened


def started(catalog: Path) -> tuple[subprocess.Popen[bytes], int]:
    """The page on that catalog, answering."""
    port = port_of()
    server = subprocess.Popen(
        [sys.executable, "-u", "-m", "curator", "serve", "--port", str(port), "-c", str(catalog)],
        stdout=subprocess.PIPE,
    )
    assert server.stdout is not None
    KEY["cookie"] = f"curator_key_{port}={server.stdout.readline().decode().partition('?key=')[2].split()[0]}"
    while True:
        with socket.socket() as one:
            if one.connect_ex(("127.0.0.1", port)) == 0:
                return server, port
        time.sleep(0.05)


def get(link: http.client.HTTPConnection, path: str) -> bytes:
    link.request("GET", path, headers=KEY)
    answer = link.getresponse()
    data = answer.read()
    assert answer.status == 200, (path, answer.status, data[:200])
    return data


def typist(port: int, seed: int, seconds: float, pipe: object) -> None:
    """One person typing words letter by letter; sends back the milliseconds of each answer."""
    rng = random.Random(seed)
    link = http.client.HTTPConnection("127.0.0.1", port)
    took = []
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        words = rng.choice(TYPED)
        for end in range(1, len(words) + 1):
            start = time.perf_counter()
            get(link, f"/find?part=1&q={quote(words[:end])}")
            took.append((time.perf_counter() - start) * 1000)
    pipe.send(took)  # type: ignore[attr-defined]


def spent(process: int) -> float:
    """Seconds of processor time of a process (Linux)."""
    fields = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def finding(server: int, port: int, at_once: int, seconds: float) -> None:
    context = multiprocessing.get_context("spawn")
    ends = [context.Pipe() for _ in range(at_once)]
    people = [context.Process(target=typist, args=(port, seed, seconds, ends[seed][1])) for seed in range(at_once)]
    before = spent(server)
    for one in people:
        one.start()
    took = [ms for end, _ in ends for ms in end.recv()]
    used = (spent(server) - before) / len(took) * 1000
    for one in people:
        one.join()
    cuts = statistics.quantiles(took, n=100)
    print(
        f"find, {at_once} at once: {len(took)} answers, median {cuts[49]:.1f} ms, p95 {cuts[94]:.1f} ms, "
        f"p99 {cuts[98]:.1f} ms, processor {used:.1f} ms each"
    )


def photo(port: int, data: bytes) -> float:
    """Seconds from sending a photo to its answer, as the page sees it: the post, then the event."""
    mark = uuid.uuid4().hex
    head = (
        f'--{mark}\r\nContent-Disposition: form-data; name="photo"; filename="p.jpg"\r\nContent-Type: '
        f"image/jpeg\r\n\r\n"
    )
    body = head.encode() + data + f"\r\n--{mark}--\r\n".encode()
    link = http.client.HTTPConnection("127.0.0.1", port)
    start = time.perf_counter()
    link.request(
        "POST", "/photos", body, {"Content-Type": f"multipart/form-data; boundary={mark}", "Accept": "application/json"}
    )
    item = json.loads(link.getresponse().read())["items"][0]["id"]
    link.request("GET", "/photos/events")
    for line in link.getresponse():
        if item.encode() in line and b'"ready"' in line:
            break
    took = time.perf_counter() - start
    link = http.client.HTTPConnection("127.0.0.1", port)
    while True:  # until the search for faces has ended too, so that it is not measured with what comes next
        link.request("GET", f"/photos/{item}/view.webp")
        answer = link.getresponse()
        answer.read()
        if answer.status == 200:
            return took
        time.sleep(0.05)


def first_answers(rounds: int) -> None:
    from curator.seeing.look import look

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "photo.jpg"
        maker = multiprocessing.get_context("spawn").Process(target=twelve_megapixels, args=(path,))
        maker.start()
        maker.join()
        server, port = started(Path(folder) / "catalog")
        try:
            plain, page = [], []
            data = path.read_bytes()
            for number in range(rounds + 1):  # in turn, so that both meet the same machine
                time.sleep(1)  # the faces of the photo before are still searched for
                start = time.perf_counter()
                look(path)
                plain.append(time.perf_counter() - start)
                page.append(photo(port, data + b"\0" * (number + 1)))  # other bytes, so that nothing is remembered
            one, other = statistics.median(plain[1:]), statistics.median(page[1:])
        finally:
            server.terminate()
            server.wait(10)
    print(
        f"first answer for 12 megapixels: curator tag warm {one * 1000:.0f} ms, the page "
        f"{other * 1000:.0f} ms, {other / one:.2f} times"
    )


def weights(port: int) -> None:
    link = http.client.HTTPConnection("127.0.0.1", port)
    for path in PAGES:
        page = get(link, path)
        parts = sum(len(get(link, one)) for one in sorted(set(STATIC.findall(page.decode()))))
        print(f"weight of {path:<14} {(len(page) + parts) / 1000:6.1f} KB without photos")


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--prompts", type=int, default=100_000)
    asked.add_argument("--at-once", type=int, default=8)
    asked.add_argument("--seconds", type=float, default=15)
    asked.add_argument("--rounds", type=int, default=7)
    asked.add_argument("--catalog", type=Path, help="one made before, instead of a new one")
    given = asked.parse_args()
    first_answers(given.rounds)
    with tempfile.TemporaryDirectory() as folder:
        place = given.catalog or Path(folder)
        if not any(place.glob("*.yaml")):
            place.mkdir(parents=True, exist_ok=True)
            fill(place, given.prompts)
        server, port = started(place)
        try:
            start = time.perf_counter()
            get(http.client.HTTPConnection("127.0.0.1", port), "/find")
            print(
                f"first page of {sum(1 for _ in place.glob('*.yaml'))} prompts: {time.perf_counter() - start:.1f} "
                f"s (builds the index where there is none)"
            )
            finding(server.pid, port, 1, given.seconds / 3)
            finding(server.pid, port, given.at_once, given.seconds)
            weights(port)
        finally:
            server.terminate()
            server.wait(10)


if __name__ == "__main__":
    main()
