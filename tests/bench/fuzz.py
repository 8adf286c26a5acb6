"""Spoil good files at random and hand them to the picture door, the YAML reader and receive.

    python tests/bench/fuzz.py --seconds 120          spoil the corpus; what breaks a promise is kept in tests/corpus
    python tests/bench/fuzz.py --corpus               draw the corpus again

The promises: an answer or one of our own errors, within seconds; a prompt that is read is written back the same; a
bundle's prompts come in whole or not at all, and nothing is written beside the catalog.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import os
import random
import shutil
import signal
import sys
import tempfile
import time
import warnings
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent.parent)]

from bundles_made import bag, drawn, payload, shared, zipped  # noqa: E402
from PIL import Image, ImageCms  # noqa: E402

from curator.catalog import bundle  # noqa: E402
from curator.catalog.bundles import jpeg_metadata  # noqa: E402
from curator.catalog.store import folder  # noqa: E402
from curator.catalog.yamls import from_yaml, to_yaml  # noqa: E402
from curator.classroom import plan_yaml  # noqa: E402
from curator.classroom.plan import Plan, Step  # noqa: E402
from curator.errors import BundleError, CatalogError, LessonError, PhotoError  # noqa: E402
from curator.seeing import photo  # noqa: E402
from curator.web import inbox, photos  # noqa: E402

CORPUS = HERE.parent / "corpus"
LONGEST = 20  # seconds for one input
TOKENS = (
    b"\0",
    b"\xff",
    b"\xff\xd8",
    b"\xff\xda",
    b"\xff\xe1",
    b"PK\1\2",
    b"PK\3\4",
    b"PK\5\6",
    b"../",
    b"\x7f\xff\xff\xff",
    b"\xff\xff\xff\xff",
    b"[",
    b"{",
    b": ",
    b"- ",
    b"&a ",
    b"*a",
    b"!!",
    b"\n",
    b'"',
    b"|",
    b"...",
    b".nan",
    b"0x",
    b"1e999",
)


def spoil(data: bytes, rng: random.Random) -> bytes:
    """One to four small changes: bits, numbers, pieces taken out, doubled or moved."""
    out = bytearray(data)
    for _ in range(rng.randint(1, 4)):
        at, to = sorted((rng.randrange(len(out) + 1), rng.randrange(len(out) + 1)))
        to = min(to, at + rng.choice((1, 2, 4, 40, 4000)))
        way = rng.randrange(6)
        if way == 0 and out:
            out[at % len(out)] ^= 1 << rng.randrange(8)
        elif way == 1:
            out[at : at + rng.choice((0, 4))] = rng.choice(TOKENS)
        elif way == 2:
            del out[at:to]
        elif way == 3:
            out[at:at] = out[at:to] * rng.choice((1, 1, 30))
        elif way == 4:
            out[at:to] = rng.randbytes(to - at)
        else:
            del out[at:]
    return bytes(out)


def door(data: bytes, _: Path) -> str:
    """The picture door, and the one that takes out what is not needed."""
    bare = jpeg_metadata.bare(data)
    assert bare is None or (bare[:2] == b"\xff\xd8" and bare[-2:] == b"\xff\xd9")
    try:
        pixels = photo.large_of(data, "x")
    except PhotoError:
        return "refused"
    assert pixels.dtype.name == "uint8"
    assert pixels.shape[2] == 3
    assert max(pixels.shape) <= 2560
    return "read"


def prompt(data: bytes, _: Path) -> str:
    """The YAML reader."""
    try:
        read = from_yaml(data.decode("utf-8", "replace"), "x.yaml")
    except CatalogError:
        return "refused"
    assert from_yaml(to_yaml(read), "x.yaml") == read
    return "read"


def received(data: bytes, place: Path) -> str:
    """receive, of the file as it is."""
    (place / "set.zip").write_bytes(data)
    try:
        got = bundle.receive(place / "c", place / "set.zip")
    except (BundleError, CatalogError):
        got = None
    assert {p.name for p in place.iterdir()} <= {"c", "set.zip"}
    if not (place / "c").exists():
        return "refused"
    kept = [p.slug for p in folder.every(place / "c")]
    assert got is not None
    assert sorted(kept) == sorted(p.slug for p in got.added)
    told = ("gives the number away", "is not one that curator knows")  # of what the sender said, not of how it came in
    problems = [p for p in folder.check(place / "c") if not p.note and not any(words in p.wrong for words in told)]
    assert problems == [], problems
    return "read" if got.added else "refused"


def within(data: bytes, place: Path) -> str:
    """receive, of a good bag around a prompt's file or a picture that is spoiled."""
    files = payload(shared("eggs"))
    files["eggs.yaml" if b"format" in data[:40] or b"slug" in data else "eggs.jpg"] = data
    zipped(place / "good.zip", bag(files), zipfile.ZIP_STORED)
    spoiled = (place / "good.zip").read_bytes()
    (place / "good.zip").unlink()
    return received(spoiled, place)


NAMES = (
    "..",
    ".",
    "",
    "a",
    "A",
    "con",
    "eggs.yaml",
    "EGGS.yaml",
    "data",
    "marked",
    "e\u0301",
    "\u00e9",
    "x.jpg",
    "\u202e",
    " ",
    "c:",
    "a\\b",
)
MODES = (0, 0o100644, 0o120777, 0o40755, 0o20666, 0o10644)


def put_together(data: bytes, place: Path) -> str:
    """receive, of a bag put together wrongly: names, kinds, order, checksums; `data` decides how."""
    rng = random.Random(data)
    files = payload(shared("eggs"), shared("spoons", 3))
    if rng.random() < 0.5:
        files["/".join(rng.choices(NAMES, k=rng.randint(1, 3)))] = rng.randbytes(rng.randint(0, 60))
    entries = list(bag(files).items())
    if rng.random() < 0.5:
        entries.append(("/".join(rng.choices((*NAMES, "set"), k=rng.randint(1, 4))), b"x"))
    if rng.random() < 0.3:
        at = rng.randrange(len(entries))
        entries[at] = (entries[at][0], spoil(entries[at][1], rng))
    rng.shuffle(entries)
    with zipfile.ZipFile(place / "good.zip", "w") as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the same name twice
        for name, content in entries[: len(entries) - (rng.random() < 0.2)]:
            entry = zipfile.ZipInfo("x")
            entry.filename = name
            entry.external_attr = rng.choice((*MODES, *[0] * 20)) << 16
            archive.writestr(entry, content, rng.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)))
    made = (place / "good.zip").read_bytes()
    (place / "good.zip").unlink()
    return received(made, place)


def plan(data: bytes, _: Path) -> str:
    """The reader of a lesson's plan."""
    try:
        read = plan_yaml.from_yaml(data.decode("utf-8", "replace"), "x.yaml")
    except LessonError:
        return "refused"
    assert plan_yaml.from_yaml(plan_yaml.to_yaml(read), "x.yaml").steps == read.steps
    return "read"


def waits(data: bytes, place: Path) -> str:
    """The inbox, of an item whose note is spoiled: it is whole, or shown as damaged, and can be dropped."""
    item = inbox.put(place, "a.jpg", b"jpg")
    note = place / ".inbox" / item["id"] / "item.json"
    note.write_bytes(data.replace(b"0123456789abcdef", item["id"].encode()))
    os.utime(note.parent, (1, 1))
    (shown,) = inbox.every(place) or [{"id": item["id"], "state": "gone"}]
    if shown["state"] != "gone":
        photos.summary(shown)
    inbox.put(place, "b.jpg", b"other")
    inbox.drop(place, item["id"])
    assert [one["name"] for one in inbox.every(place)] == ["b.jpg"]
    return "refused" if shown["state"] == "error" else "read"


TARGETS: dict[str, tuple[Callable[[bytes, Path], str], tuple[str, ...]]] = {
    "door": (door, ("pictures",)),
    "prompt": (prompt, ("prompts",)),
    "receive": (received, ("bundles",)),
    "within": (within, ("pictures", "prompts")),
    "together": (put_together, ("prompts",)),
    "plan": (plan, ("plans",)),
    "waits": (waits, ("items",)),
}


def corpus(*kinds: str) -> list[bytes]:
    """The files kept of these kinds."""
    return [path.read_bytes() for kind in kinds for path in sorted((CORPUS / kind).iterdir())]


def one(target: str, data: bytes) -> str:
    """Hand one input over; "read" or "refused". Whatever else happens is a finding."""
    place = Path(tempfile.mkdtemp(prefix="fuzz-"))
    try:
        return TARGETS[target][0](data, place)
    finally:
        shutil.rmtree(place, ignore_errors=True)


def run(seconds: float, seed: int) -> Counter[str]:
    """Spoil and hand over, all targets in turn; findings are kept in the corpus and raised."""
    rng, tried = random.Random(seed), Counter[str]()
    until = time.monotonic() + seconds
    files = {name: corpus(*kinds) for name, (_, kinds) in TARGETS.items()}
    while time.monotonic() < until:
        for target in TARGETS:
            data = spoil(rng.choice(files[target]), rng)
            signal.alarm(LONGEST)
            try:
                tried[f"{target} {one(target, data)}"] += 1
            except BaseException:
                kind = "prompts" if b"format" in data[:40] else TARGETS[target][1][0]
                (CORPUS / kind / f"found-{hashlib.sha256(data).hexdigest()[:8]}").write_bytes(data)
                raise
            finally:
                signal.alarm(0)
    return tried


def draw_corpus() -> None:
    """Small good files of every kind that is read."""
    for kind in ("pictures", "prompts", "bundles", "plans", "items"):
        (CORPUS / kind).mkdir(parents=True, exist_ok=True)
    for name, data in _pictures().items():
        (CORPUS / "pictures" / name).write_bytes(data)
    for half in (0, 1, 7):
        told = shared("eggs", half, tags=("a", "b c"), notes="One\ntwo", line=((0.5, 0.0), (0.5, 1.0)), place="Küche")
        (CORPUS / "prompts" / f"eggs-{half}.yaml").write_text(to_yaml(told), encoding="utf-8")
    steps = (
        Step(1, "eggs"),
        Step(1, frame=7, stages=("see", "cover", "not_half"), hide=3),
        Step(2, "pegs", things="pegs"),
    )
    text = plan_yaml.to_yaml(Plan("en", steps, (7,), "eggs", 2, remarks=("A remark",)))
    (CORPUS / "plans" / "two-days.yaml").write_text(text, encoding="utf-8")
    for name, item in _items().items():
        (CORPUS / "items" / name).write_text(json.dumps(item), encoding="utf-8")
    zipped(CORPUS / "bundles" / "two.zip", bag(payload(shared("eggs"), shared("spoons", 3))))
    zipped(CORPUS / "bundles" / "stored.zip", bag(payload(shared("eggs"))), zipfile.ZIP_STORED)
    place = Path(tempfile.mkdtemp(prefix="fuzz-"))
    folder.add(place / "c", shared("eggs"), drawn("eggs"))
    bundle.pack(place / "c", "", place / "packed.zip")
    shutil.copy(place / "packed.zip", CORPUS / "bundles" / "packed.zip")
    shutil.rmtree(place)


def _items() -> dict[str, dict[str, object]]:
    """Notes of photos that wait, in each state."""
    base = {"id": "0123456789abcdef", "name": "a.jpg", "at": 5.5, "digest": "0" * 64, "phone": ""}
    reading = {"fact": "1+1=2", "grade": "check", "total": 2, "line": [[0, 0], [1, 1]], "reasons": []}
    reading |= {"dots": [{"x": 0.1, "y": 0.5, "side": 1}, {"x": 0.9, "y": 0.5, "side": 2}]}
    ready = {"answer": {**reading, "readings": [reading]}, "size": [40, 24], "sha256": "0" * 64, "phash": "0" * 16}
    error = {"doing": "Looking.", "wrong": "It is dark.", "try_this": "Light it."}
    return {
        "waiting.json": {**base, "state": "waiting"},
        "ready.json": {**base, "state": "ready", "faces": [[0.1, 0.1, 0.2, 0.2]], "removed": [], "ms": 5, **ready},
        "error.json": {**base, "state": "error", "error": error},
        "kept.json": {**base, "state": "kept", "slug": "eggs", "gone": 7.5},
    }


def _pictures() -> dict[str, bytes]:
    from pillow_heif import from_pillow

    image = Image.new("RGB", (40, 24), (200, 90, 20))
    image.paste((10, 60, 120), (4, 4, 20, 20))
    turned = Image.Exif()
    turned[0x0112], turned[0x010F] = 6, "maker"
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    ways: dict[str, tuple[Image.Image, str, dict[str, object]]] = {
        "plain.jpg": (image, "JPEG", {}),
        "progressive.jpg": (image, "JPEG", {"progressive": True}),
        "turned.jpg": (image, "JPEG", {"exif": turned}),
        "profile.jpg": (image, "JPEG", {"icc_profile": profile}),
        "four.jpg": (image.convert("CMYK"), "JPEG", {}),
        "grey.jpg": (image.convert("L"), "JPEG", {}),
        "plain.png": (image, "PNG", {}),
        "few.png": (image.quantize(4), "PNG", {"transparency": 1}),
        "alpha.png": (image.convert("RGBA"), "PNG", {}),
        "deep.png": (image.convert("L").convert("I;16"), "PNG", {}),
        "plain.webp": (image, "WEBP", {}),
        "exact.webp": (image, "WEBP", {"lossless": True}),
        "plain.tif": (image, "TIFF", {}),
        "packed.tif": (image, "TIFF", {"compression": "tiff_lzw"}),
        "moving.gif": (image, "GIF", {"save_all": True, "append_images": [image.rotate(90)]}),
        "plain.bmp": (image, "BMP", {}),
    }
    found = {}
    for name, (picture, kind, options) in ways.items():
        buffer = io.BytesIO()
        picture.save(buffer, kind, **options)
        found[name] = buffer.getvalue()
    buffer = io.BytesIO()
    from_pillow(image).save(buffer, quality=40)
    return found | {"plain.heic": buffer.getvalue()}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--corpus", action="store_true")
    asked = parser.parse_args()
    if asked.corpus:
        draw_corpus()
    else:
        print(dict(sorted(run(asked.seconds, asked.seed).items())))


if __name__ == "__main__":
    main()
