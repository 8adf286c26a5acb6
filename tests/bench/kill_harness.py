"""Stop writers with kill -9 at random moments, and see whether the catalog keeps its promises.

    python tests/bench/kill_harness.py --rounds 300      kills
    python tests/bench/kill_harness.py --soak 60         eight processes, no kills

The promises: what was reported as done is there; what was not reported is there whole or not at all; and `check` is
clean after the remedies that it names.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent.parent)]

from bundles_made import bundle_of, shared  # noqa: E402
from catalog_made import prompt_of, sha_of  # noqa: E402

from curator import limited  # noqa: E402
from curator.catalog import bundle  # noqa: E402
from curator.catalog.search import index  # noqa: E402
from curator.catalog.store import bin as bins  # noqa: E402
from curator.catalog.store import folder, traces  # noqa: E402
from curator.errors import CatalogError, ChangedError  # noqa: E402
from curator.seeing import faces, photo  # noqa: E402
from curator.seeing.net.session import opened  # noqa: E402
from curator.web import inbox  # noqa: E402

WORKERS = 2
limited.ON = False  # pictures are decoded in the process that is killed, not in one that outlives it
RECEIVED = 2  # prompts a bundle: few enough that their pictures are decoded in the process that is killed


@dataclass
class Worker:
    """What one writer has reported: name -> the word it last wrote, its removed names, and the change it was at."""

    live: dict[str, str] = field(default_factory=dict)
    removed: set[str] = field(default_factory=set)
    at: tuple[str, str, str] | None = None  # verb, name, word
    sent: dict[str, str] = field(default_factory=dict)  # photos that wait, by the inbox's name for each


@dataclass
class Figures:
    """What a run did."""

    kills: int = 0
    changes: int = 0
    cut: dict[str, int] = field(default_factory=dict)  # kills in the midst of a change, by verb
    by_verb: dict[str, int] = field(default_factory=dict)
    remedies: dict[str, int] = field(default_factory=dict)


def picture(word: str) -> bytes:
    """Bytes that belong to the word alone, of many sizes."""
    seed = hashlib.sha256(word.encode()).digest()
    return seed * (1 + seed[0] * 40)


def in_child(work: Callable[[], None]) -> int:
    """Run work in a forked process; its process number."""
    sys.stdout.flush()
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            work()
            code = 0
        finally:
            if code:
                import traceback

                traceback.print_exc()
            sys.stderr.flush()
            os._exit(code)
    return pid


def write_until_killed(place: Path, worker: Worker, pipe: int, seed: int) -> None:
    """Add, edit, remove and receive, each change announced before and reported after."""
    rng = random.Random(seed)
    live = dict(worker.live)
    count = 0
    while True:
        count += 1
        verb = rng.choice(["add", "edit", "edit", "remove", "picture", "receive", "send"]) if live else "add"
        word = f"{'r' if verb == 'receive' else 'w'}{seed}x{count}"
        slug = rng.choice(sorted(live)) if verb not in ("add", "receive", "send") else "eggs"
        file = packed(place, word) if verb == "receive" else place
        os.write(pipe, f"begin {verb} {slug} {word}\n".encode())
        if verb == "send":
            os.write(pipe, f"done send {inbox.put(place, word, picture(word))['id']} {word}\n".encode())
            continue
        done = receive(place, file) if verb == "receive" else [change(place, verb, slug, word)]
        if verb == "remove":
            del live[slug]
        else:
            live |= dict.fromkeys(done, word)
        os.write(pipe, f"done {verb} {','.join(done)} {word}\n".encode())


def packed(place: Path, word: str) -> Path:
    """A bundle of two prompts that say the word, under names that are taken soon; it lies beside the catalog."""
    prompts = [
        shared(name, 3, things=word, notes=word, source_sha256=sha_of(f"{word} {name}")) for name in ("eggs", "eggs-2")
    ]
    return bundle_of(place.with_name(f"{place.name}-{word}.zip"), *prompts)


def receive(place: Path, file: Path) -> list[str]:
    """What came in, by name; all of it."""
    got = bundle.receive(place, file)
    assert len(got.added) == RECEIVED, got
    file.unlink()
    return [prompt.slug for prompt in got.added]


def change(place: Path, verb: str, slug: str, word: str) -> str:
    """One change; the name it was made under."""
    if verb == "add":
        made = prompt_of(3, slug, things=word, source_sha256=sha_of(word), notes=word)
        return folder.add(place, made, picture(word)).slug
    if verb == "edit":
        folder.replace(place, replace(folder.load(place, slug), things=word))
    elif verb == "picture":
        folder.replace_picture(place, slug, picture(word))
        folder.replace(place, replace(folder.load(place, slug), things=word))
    else:
        folder.remove(place, slug)
    return slug


def read_reports(worker: Worker, text: str, figures: Figures) -> None:
    """Bring the worker's record up to what it said."""
    worker.at = None
    for line in text.splitlines():
        said, verb, slug, word = line.split()
        if said == "begin":
            worker.at = (verb, slug, word)
            continue
        worker.at = None
        figures.changes += 1
        figures.by_verb[verb] = figures.by_verb.get(verb, 0) + 1
        if verb == "send":
            worker.sent[slug] = word
            continue
        if verb == "remove":
            worker.live.pop(slug)
            worker.removed.add(slug)
            continue
        for one in slug.split(","):
            worker.live[one] = word
            worker.removed.discard(one)


def one_round(place: Path, workers: list[Worker], rng: random.Random, figures: Figures) -> None:
    """Start the writers, kill them at a random moment, read what they reported, and verify."""
    running = []
    for worker in workers:
        out, into = os.pipe()
        seed = rng.randrange(10**9)

        def work(worker: Worker = worker, into: int = into, seed: int = seed) -> None:
            write_until_killed(place, worker, into, seed)

        running.append((in_child(work), out))
        os.close(into)
    time.sleep(rng.uniform(0.005, 0.25))
    for pid, _ in running:
        os.kill(pid, signal.SIGKILL)
    for worker, (pid, out) in zip(workers, running, strict=True):
        os.waitpid(pid, 0)
        with os.fdopen(out) as reports:
            read_reports(worker, reports.read(), figures)
        figures.kills += 1
        if worker.at is not None:
            figures.cut[worker.at[0]] = figures.cut.get(worker.at[0], 0) + 1
    out, into = os.pipe()
    pid = in_child(lambda: os.write(into, verify(place, workers).encode()) and None)
    os.close(into)
    with os.fdopen(out) as told:
        lines = told.read().splitlines()
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0, "a promise was broken"
    settle(workers, lines, figures)


def verify(place: Path, workers: list[Worker]) -> str:
    """Check every promise, AssertionError when one is broken; "remedy" and "state" lines for the parent."""
    told: list[str] = []
    follow_remedies(place, told)
    there = {prompt.slug: prompt for prompt in folder.every(place)}
    for worker in workers:
        for slug, word in worker.live.items():
            allowed = {word}
            if worker.at and worker.at[1] == slug:
                allowed |= {worker.at[2]} if worker.at[0] != "remove" else {"-"}
            now = there[slug].things if slug in there else "-"
            assert now in allowed, f"{slug}: {now} instead of {allowed}"
            if now == "-":
                assert slug in {one.slug for one in bins.binned(place)}, f"{slug} is neither there nor in the bin"
    known = {slug for worker in workers for slug in worker.live}
    cut_adds = {w.at[2]: n for n, w in enumerate(workers) if w.at and w.at[0] in ("add", "receive")}
    for word in cut_adds:
        came = sum(prompt.notes == word for prompt in there.values())
        assert word[0] != "r" or came in (0, RECEIVED), f"{came} of {RECEIVED} came in with {word}"
    for slug, prompt in there.items():
        assert slug in known or prompt.notes in cut_adds, f"{slug} came from nowhere"
        assert folder.picture_path(place, prompt).stat().st_size > 0
        if prompt.notes[0] == "r" and prompt.picture == f"{slug}.jpg":
            photo.load_large(folder.picture_path(place, prompt))
        elif prompt.picture == f"{slug}.jpg":
            assert folder.picture_path(place, prompt).read_bytes() == picture(prompt.notes), f"{slug}: another picture"
        told.append(f"state {slug} {prompt.things} {cut_adds.get(prompt.notes, '-')}")
    told += check_inbox(place, {one: word for worker in workers for one, word in worker.sent.items()})
    found = index.find(place, "eggs", limit=10**6)
    assert sorted(p.slug for p in found.prompts) == sorted(there)
    assert {p.slug: p.things for p in found.prompts} == {p.slug: p.things for p in there.values()}
    return "\n".join(told)


def check_inbox(place: Path, sent: dict[str, str]) -> list[str]:
    """What was taken in waits whole; what was cut off is whole or damaged, can be dropped, and leaves nothing."""
    for part in (place / ".inbox").glob("*/.*.part"):
        os.utime(part.parent, (1, 1))
    for one in traces.waiting(place):
        os.utime(one.place, (1, 1))  # as if it were long ago: nobody is at work any more
    waiting = {item["id"]: item for item in inbox.every(place)}
    for one, word in sent.items():
        assert waiting[one]["state"] == "waiting", f"{one} of {word}: {waiting.get(one)}"
        assert (place / ".inbox" / one / "source").read_bytes() == picture(word)
    for one in waiting:
        inbox.drop(place, one)
    left = [path for path in (place / ".inbox").rglob("*") if path.is_file()]
    assert not left, left
    return [f"dropped {len(sent)} {len(waiting) - len(sent)}"]


def follow_remedies(place: Path, told: list[str]) -> None:
    """Do what check says: tidy, and delete pictures that no prompt uses. Then it has to be clean."""
    for problem in folder.check(place, pictures=False):
        if problem.note:
            continue
        kind = "picture" if problem.name.endswith(".jpg") else "left-over"
        kind = "half moved in" if "may have come in" in problem.wrong else kind
        assert kind == "picture" or problem.code == "left-over", problem
        told.append(f"remedy {kind.replace(' ', '-')}")
        if kind == "picture":
            assert "No prompt uses this picture" in problem.wrong, problem
            (place / problem.name).unlink()
    folder.tidy(place)
    left = [problem for problem in folder.check(place, pictures=False) if not problem.note]
    assert not left, left


def settle(workers: list[Worker], lines: list[str], figures: Figures) -> None:
    """Take the changes that were cut off after they were safe into the record."""
    states = {}
    for line in lines:
        said, *rest = line.split()
        if said == "dropped":
            figures.remedies["half-sent"] = figures.remedies.get("half-sent", 0) + int(rest[1])
        elif said == "remedy":
            figures.remedies[rest[0]] = figures.remedies.get(rest[0], 0) + 1
        else:
            states[rest[0]] = rest[1]
            if rest[2] != "-":
                workers[int(rest[2])].live[rest[0]] = rest[1]
    for worker in workers:
        worker.sent.clear()  # all were dropped
        for slug in list(worker.live):
            if slug in states:
                worker.live[slug] = states[slug]
            else:
                worker.live.pop(slug)
                worker.removed.add(slug)


def kills(rounds: int, seconds: float, seed: int = 7) -> Figures:
    """That many rounds, or as many as fit in the time."""
    rng, figures = random.Random(seed), Figures()
    place = Path(tempfile.mkdtemp(prefix="kills-"))
    opened(faces.MODEL)  # read once here, not in each process that is killed
    workers = [Worker() for _ in range(WORKERS)]
    until = time.monotonic() + seconds
    try:
        for _ in range(rounds):
            if time.monotonic() > until:
                break
            one_round(place, workers, rng, figures)
    finally:
        shutil.rmtree(place, ignore_errors=True)
        for file in place.parent.glob(f"{place.name}-*.zip"):
            file.unlink()
    return figures


def soak_one(place: Path, number: int, seconds: float, pipe: int) -> None:
    """Until the time is over: add, receive, remove, count up in one prompt that all share, and look things up."""
    rng = random.Random(number)
    until = time.monotonic() + seconds
    mine: dict[str, str] = {}
    counted = operations = busy = 0
    while time.monotonic() < until:
        operations += 1
        try:
            dice = rng.random()
            if dice < 0.03:
                word = f"r{number}x{operations}"
                mine |= dict.fromkeys(receive(place, packed(place, word)), word)
            elif dice < 0.35 or not mine:
                word = f"p{number}x{operations}"
                mine[change(place, "add", "eggs", word)] = word
            elif dice < 0.5:
                slug = rng.choice(sorted(mine))
                change(place, "edit", slug, word := f"p{number}x{operations}")
                mine[slug] = word
            elif dice < 0.6:
                slug = rng.choice(sorted(mine))
                change(place, "remove", slug, "")
                del mine[slug]
            elif dice < 0.9:
                counted += count_up(place)
            else:
                assert index.find(place, "3+3 eggs").total >= len(mine)
        except CatalogError as error:
            if error.code != "busy":  # the others were quicker for twenty seconds: nothing was changed
                raise
            busy += 1
    lines = [f"sum {counted} {operations}", f"busy {busy} 0", *(f"live {slug} {word}" for slug, word in mine.items())]
    data = ("\n".join(lines) + "\n").encode()
    while data:
        data = data[os.write(pipe, data) :]


def count_up(place: Path) -> int:
    """Add one to the number that all share; 0 where somebody else was quicker."""
    version = folder.version(place, "shared")
    now = folder.load(place, "shared")
    try:
        folder.replace(place, replace(now, touched=now.touched + 1), expected=version)
    except ChangedError:
        return 0
    return 1


def soak(seconds: float, processes: int = 8) -> dict[str, int]:
    """Many processes on one catalog; every reported success is accounted for, or AssertionError."""
    place = Path(tempfile.mkdtemp(prefix="soak-"))
    opened(faces.MODEL)
    try:
        pid = in_child(lambda: folder.add(place, prompt_of(3, "shared"), b"jpg") and None)
        assert os.waitpid(pid, 0)[1] == 0
        running = []
        for number in range(processes):
            out, into = os.pipe()
            running.append((in_child(lambda n=number, p=into: soak_one(place, n, seconds, p)), out))
            os.close(into)
        live: dict[str, str] = {}
        counted = operations = busy = 0
        for pid, out in running:
            with os.fdopen(out) as told:
                for line in told:
                    said, first, second = line.split()
                    if said == "busy":
                        busy += int(first)
                    elif said == "sum":
                        counted, operations = counted + int(first), operations + int(second)
                    else:
                        assert first not in live, f"{first} was given to two"
                        live[first] = second
            assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0, "a process failed"
        pid = in_child(lambda: account(place, live, counted))
        assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0, "something is not accounted for"
        return {"operations": operations, "prompts": len(live), "counted": counted, "busy": busy}
    finally:
        shutil.rmtree(place, ignore_errors=True)


def account(place: Path, live: dict[str, str], counted: int) -> None:
    """Nothing lost, nothing extra, every count kept."""
    assert folder.load(place, "shared").touched == counted
    there = {prompt.slug: prompt.things for prompt in folder.every(place)}
    there.pop("shared")
    assert there == live
    found = index.find(place, "3+3", limit=10**6)
    assert {p.slug for p in found.prompts} == {*live, "shared"}
    assert not [problem for problem in folder.check(place, pictures=False) if not problem.note]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=100)
    parser.add_argument("--seconds", type=float, default=900.0)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--soak", type=float, help="seconds of many processes instead of kills")
    parser.add_argument("--processes", type=int, default=8)
    asked = parser.parse_args()
    print(soak(asked.soak, asked.processes) if asked.soak else kills(asked.rounds, asked.seconds, asked.seed))


if __name__ == "__main__":
    main()
