"""How long a site of many prompts takes to make and to update, what keeping them took before, and how heavy its pages
are.

    python tests/bench/site_bench.py CATALOG --prompts 2000

The pictures of CATALOG are used again and again, each time a little darker, enlarged to `--side` pixels.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import cv2

QUALITY = [cv2.IMWRITE_JPEG_QUALITY, 90]
HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent.parent)]

from catalog_made import sha_of  # noqa: E402

from curator import limited  # noqa: E402
from curator.catalog import face_gate, reading  # noqa: E402
from curator.catalog.reading import every  # noqa: E402
from curator.catalog.store import folder as catalog  # noqa: E402
from curator.catalog.yamls import to_yaml  # noqa: E402
from curator.classroom.marking import kept  # noqa: E402
from curator.records import Prompt  # noqa: E402
from curator.site.build import build  # noqa: E402
from curator.site.prompt_files import Wish  # noqa: E402


def fill(source: Path, target: Path, count: int, side: int) -> None:
    """`count` prompts with pictures of their own, `side` pixels long; files only."""
    known = list(catalog.every(source))
    for first, one in enumerate(known[:count]):
        pixels = cv2.imread(str(reading.picture_path(source, one)))
        scale = side / max(pixels.shape[:2])
        large = cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
        for number in range(first, count, len(known)):
            darker = cv2.convertScaleAbs(large, alpha=1 - 0.3 * number / count)
            _keep(target, one, f"{one.slug}-{number}", cv2.imencode(".jpg", darker, QUALITY)[1].tobytes())


def _keep(target: Path, one: Prompt, slug: str, picture: bytes) -> None:
    """The prompt `one` under another name and with another picture."""
    seen = face_gate.record([], picture)  # as a kept prompt has it: no search anew
    made = replace(
        one,
        slug=slug,
        picture=f"{slug}.jpg",
        source_sha256=sha_of(slug),
        credit="Room 4",
        license="CC0-1.0",
        people="none",
        seen=seen,
    )
    (target / made.picture).write_bytes(picture)
    (target / f"{slug}.yaml").write_text(to_yaml(made))


def weight(path: Path) -> str:
    """Number, mean and largest size of the files of one kind."""
    sizes = [p.stat().st_size for p in path.iterdir()]
    return f"{len(sizes):6} files, mean {sum(sizes) / len(sizes) / 1000:7.0f} kB, largest {max(sizes) / 1000:7.0f} kB"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("catalog", type=Path)
    parser.add_argument("--prompts", type=int, default=2000)
    parser.add_argument("--side", type=int, default=1600)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="site-bench-") as where:
        place, output = Path(where) / "catalog", Path(where) / "site"
        place.mkdir()
        start = time.monotonic()
        fill(asked.catalog, place, asked.prompts, asked.side)
        print(f"{'made up':<14}{time.monotonic() - start:8.1f} s", flush=True)
        start, before = time.monotonic(), sum(os.times()[:4])
        kept.prepare(place, [prompt.slug for prompt in every(place)])
        limited._end_all()  # so that what the other processes did is counted
        used = sum(os.times()[:4]) - before
        print(f"{'when kept':<14}{time.monotonic() - start:8.1f} s, {used:8.1f} s of processor  outlines", flush=True)
        for name in ("site", "again"):
            start, before = time.monotonic(), sum(os.times()[:4])
            made = build(place, "", output, Wish())
            took, used = time.monotonic() - start, sum(os.times()[:4]) - before
            told = f"{len(made.shown)} prompts, {made.again} taken over, {len(made.refused)} left out"
            print(f"{name:<14}{took:8.1f} s, {used:8.1f} s of processor  {told}", flush=True)
        print(f"together {made.octets / 1e6:.0f} MB")
        for name in ("index.html", "index.js", "credits.html"):
            print(f"{name:<14}{(output / name).stat().st_size / 1000:8.0f} kB")
        for name in ("facts", "prompts", "show", "pictures"):
            print(f"{name:<10}{weight(output / name)}")


if __name__ == "__main__":
    main()
