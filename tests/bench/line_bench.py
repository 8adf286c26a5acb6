"""The whole line on one 12-megapixel JPEG, warm, beside a reduced-scale decode of the same file: `python
tests/bench/line_bench.py`.
"""

import multiprocessing
import resource
import statistics
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

from curator.seeing import look


def twelve_megapixels(path: Path, seed: int = 0) -> None:
    """A noisy scene of about 2 MB with two rows of discs."""
    rng = np.random.default_rng(seed)
    picture = np.full((3000, 4000, 3), (150, 170, 180), np.uint8)
    for row in (1100, 1900):
        for column in range(6):
            cv2.circle(picture, (600 + 560 * column, row), 220, (60, 80, 190), -1, cv2.LINE_AA)
    noisy = np.clip(picture.astype(np.int16) + rng.normal(0, 7, picture.shape), 0, 255).astype(np.uint8)
    cv2.imwrite(str(path), noisy, [cv2.IMWRITE_JPEG_QUALITY, 86])


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        paths = [
            Path(folder) / f"photo{seed}.jpg" for seed in (0, 1)
        ]  # by turns: the finders remember the last picture
        for seed, path in enumerate(paths):
            maker = multiprocessing.get_context("spawn").Process(
                target=twelve_megapixels, args=(path, seed)
            )  # its memory is not the line's
            maker.start()
            maker.join()
            look.look(path)
        line, decode = [], []
        for path in paths * 6:
            start = time.perf_counter()
            seen = look.look(path)
            line.append(time.perf_counter() - start)
            start = time.perf_counter()
            cv2.imdecode(np.fromfile(path, np.uint8), cv2.IMREAD_REDUCED_COLOR_4)
            decode.append(time.perf_counter() - start)
        whole, reduced = statistics.median(line), statistics.median(decode)
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        size, times = path.stat().st_size / 1e6, whole / reduced
        print(
            f"{size:.1f} MB, {seen.best.fact}: line {whole * 1e3:.0f} ms, decode {reduced * 1e3:.0f} ms, "
            f"{times:.1f} times; peak {memory:.0f} MB"
        )


if __name__ == "__main__":
    main()
