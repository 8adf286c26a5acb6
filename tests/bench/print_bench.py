"""How much print the reader misses, by size, angle and contrast, and in how many photos it reads what nobody printed.

    python tests/bench/print_bench.py                  numbers and clock faces drawn into the sample pictures
    python tests/bench/print_bench.py FOLDER ...       photos in which it reads anything, to be looked at

The typefaces are Debian's (fonts-dejavu, fonts-liberation, fonts-urw-base35, fonts-freefont-ttf); those that are not
there are left out. A size is that of a figure's height, as a share of the picture's longer side.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from time import process_time

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

HERE = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(HERE))

from curator.errors import PhotoError  # noqa: E402
from curator.numbers_in_text import WORDS, says  # noqa: E402
from curator.seeing import photo, print_reader  # noqa: E402

Pixels = NDArray[np.uint8]
LONGER = 1024  # as the checks of a photo see it
SIZES = (0.02, 0.03, 0.04, 0.06, 0.08, 0.10)
ANGLES = (0, 10, 90)
CONTRASTS = (12.0, 4.5, 2.0)  # ink on ground, as WCAG counts
FONTS = [
    path
    for name in (
        "truetype/dejavu/DejaVuSans.ttf",
        "truetype/dejavu/DejaVuSans-Bold.ttf",
        "truetype/dejavu/DejaVuSerif-Bold.ttf",
        "truetype/liberation/LiberationSans-Regular.ttf",
        "truetype/liberation/LiberationSansNarrow-Bold.ttf",
        "truetype/liberation/LiberationSerif-Regular.ttf",
        "truetype/freefont/FreeMonoBold.ttf",
        "opentype/urw-base35/C059-Bold.otf",
        "opentype/urw-base35/URWGothic-Demi.otf",
        "opentype/urw-base35/URWBookman-Demi.otf",
        "opentype/urw-base35/NimbusRoman-Regular.otf",
    )
    if (path := Path("/usr/share/fonts") / name).exists()
]


@dataclass(frozen=True, slots=True)
class Printed:
    """One number drawn into a picture."""

    number: int
    how: str  # figure, word, label
    size: float
    angle: int
    contrast: float
    on_patch: bool
    x: float
    y: float


def _luminance(color: tuple[int, int, int]) -> float:
    line = [c / 255 / 12.92 if c <= 10 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in color]  # WCAG 2.2
    return float(np.dot(line, (0.2126, 0.7152, 0.0722)))


def ink_on(ground: tuple[int, int, int], contrast: float, rng: np.random.Generator) -> tuple[int, int, int]:
    """A colour of about that contrast with the ground: darker where that is possible, else lighter."""
    have, tint = _luminance(ground), rng.uniform(0.5, 1.0, 3)
    shades = [tuple(int(v) for v in np.clip(k * tint, 0, 255)) for k in np.linspace(0, 255, 52)]
    shades += [tuple(int(v) for v in np.clip(255 - k * tint, 0, 255)) for k in np.linspace(0, 255, 52)]

    def away(shade: tuple[int, ...]) -> float:
        low, high = sorted((have, _luminance(shade)))  # type: ignore[arg-type]
        return abs((high + 0.05) / (low + 0.05) - contrast)

    return min(shades, key=away)  # type: ignore[return-value]


def stamp(canvas: Image.Image, one: Printed, text: str, font: Path, rng: np.random.Generator) -> None:
    """Draw a number, turned, on a patch of its own or straight on the photo."""
    figure = one.size * max(canvas.size)
    face = ImageFont.truetype(str(font), 100)
    tall = face.getbbox("8")[3] - face.getbbox("8")[1]
    face = ImageFont.truetype(str(font), max(6, round(100 * figure / tall)))
    left, top, right, bottom = face.getbbox(text)
    edge = round(0.5 * figure)
    size = (round(right - left) + 2 * edge, round(bottom - top) + 2 * edge)
    x, y = round(one.x * canvas.width), round(one.y * canvas.height)
    around = np.asarray(canvas.crop((x - size[0] // 2, y - size[1] // 2, x + size[0] // 2, y + size[1] // 2)))
    pale = tuple(int(v) for v in rng.integers(150, 256, 3))
    ground = pale if one.on_patch else tuple(int(v) for v in np.median(around.reshape(-1, 3), axis=0))
    color = ink_on(ground, one.contrast, rng)  # type: ignore[arg-type]
    layer = Image.new("RGBA", size, (*ground, 255 if one.on_patch else 0))
    ImageDraw.Draw(layer).text((edge - left, edge - top), text, font=face, fill=(*color, 255))
    layer = layer.rotate(one.angle, expand=True, resample=Image.Resampling.BICUBIC)
    canvas.paste(layer, (x - layer.width // 2, y - layer.height // 2), layer)


def base(path: Path) -> Image.Image:
    """A picture as the checks see it."""
    found = photo.load_large(path)
    scale = LONGER / max(found.shape[:2])
    size = (round(found.shape[1] * scale), round(found.shape[0] * scale))
    return Image.fromarray(cv2.resize(found, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC))


def finished(canvas: Image.Image, rng: np.random.Generator) -> Pixels:
    """A little blur and grain, and JPEG's loss."""
    shown = cv2.GaussianBlur(np.asarray(canvas), (0, 0), 0.7).astype(np.float32)
    shown = np.clip(shown + rng.normal(0, 3, shown.shape), 0, 255).astype(np.uint8)
    _, packed = cv2.imencode(".jpg", shown, [cv2.IMWRITE_JPEG_QUALITY, 85])
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR), np.uint8)


def numbers(path: Path, rng: np.random.Generator) -> tuple[Pixels, list[Printed]]:
    """A sample picture with eight numbers printed in it."""
    canvas, made = base(path), []
    for cell in range(8):
        number = int(rng.integers(2, 25))
        how = str(rng.choice(["figure", "figure", "word", "label"]))
        size = float(rng.choice(SIZES if how == "figure" else SIZES[:3]))
        text = {"figure": str(number), "word": WORDS["en"][number], "label": f"{number} eggs"}[how]
        x, y = 0.125 + 0.25 * (cell % 4), 0.27 + 0.46 * (cell // 4)
        one = Printed(
            number,
            how,
            size,
            int(rng.choice(ANGLES)),
            float(rng.choice(CONTRASTS)),
            bool(rng.integers(2)),
            x,
            y,
        )
        stamp(canvas, one, text, FONTS[int(rng.integers(len(FONTS)))], rng)
        made.append(one)
    return finished(canvas, rng), made


def clock(path: Path, rng: np.random.Generator) -> tuple[Pixels, float]:
    """A sample picture with a clock on it, and the share of the longer side that its figures are tall."""
    canvas = base(path)
    radius = float(rng.choice([0.08, 0.12, 0.16, 0.20])) * max(canvas.size)
    x, y = (
        float(rng.uniform(radius + 2, side - radius - 2)) if side > 2 * radius + 4 else side / 2 for side in canvas.size
    )
    board = ImageDraw.Draw(canvas)
    board.ellipse(
        [x - radius, y - radius, x + radius, y + radius],
        fill=(246, 243, 235),
        outline=(40, 40, 45),
        width=max(2, int(radius / 14)),
    )
    face = ImageFont.truetype(str(FONTS[int(rng.integers(len(FONTS)))]), max(6, int(0.28 * radius)))
    for hour in range(1, 13):
        turn = np.pi * hour / 6
        at = (x + 0.76 * radius * np.sin(turn), y - 0.76 * radius * np.cos(turn))
        board.text(at, str(hour), font=face, fill=(25, 25, 30), anchor="mm")
    for turn, reach in zip(rng.uniform(0, 2 * np.pi, 2), (0.4, 0.6), strict=True):
        end = (x + reach * radius * np.sin(turn), y - reach * radius * np.cos(turn))
        board.line([(x, y), end], fill=(25, 25, 30), width=max(2, int(radius / 20)))
    return finished(canvas, rng), 0.2 * radius / max(canvas.size)


def hit(word: print_reader.Word, one: Printed, size: tuple[int, int]) -> bool:
    """Whether a word stands where a number was drawn: within its row, and not past its cell."""
    aside, above = abs(word.x - one.x), abs(word.y - one.y)
    return above < 0.2 and aside < 0.12 + one.size * max(size) / size[0]


def says_number(text: str, number: int) -> bool:
    """As the checks of a photo ask it."""
    return text in (str(number), *says(number))


def drawn_numbers(paths: list[Path], seed: int) -> None:
    """Numbers drawn into pictures: how many are read, by kind; how many are read as another number; what it costs."""
    rows: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    cost, elsewhere = [], []
    for n, path in enumerate(paths):
        shown, made = numbers(path, np.random.default_rng(seed + n))
        began = process_time()
        found = print_reader.words(shown)
        cost.append(process_time() - began)
        size = (shown.shape[1], shown.shape[0])
        elsewhere += [(path.name, w.text) for w in found if not any(hit(w, one, size) for one in made)]
        for one in made:
            here = [word for word in found if hit(word, one, size)]
            right = any(says_number(word.text, one.number) for word in here)
            wrong = [w.text for w in here if not right and any(says_number(w.text, n) for n in range(1, 25))]
            if wrong:
                print(f"{path.name}: {one.number} ({one.how}, {one.size}, {one.angle} degrees) is read as {wrong}")
            kinds = [f"size {one.size:.0%}", f"angle {one.angle}", f"contrast {one.contrast}", one.how, "all"]
            plain = one.angle < 90 and one.contrast > 2
            for kind in [*kinds, *([f"plain, size {one.size:.0%}", "plain"] if plain else [])]:
                rows[kind] = [a + b for a, b in zip(rows[kind], (1, right, bool(wrong)), strict=True)]
    for kind, (count, right, wrong) in sorted(rows.items()):
        print(f"{kind:24} {count:4} drawn, {right / count:.2f} read, {wrong / count:.2f} read as another")
    print(f"read where nothing was drawn: {elsewhere}")
    print(f"seconds of the processor a picture: {np.median(cost):.2f}, at most {max(cost):.2f}")


def drawn_clocks(paths: list[Path], seed: int) -> None:
    """Clock faces drawn into pictures: how many of their twelve numbers are read."""
    for n, path in enumerate(paths):
        shown, tall = clock(path, np.random.default_rng(seed + n))
        read = sorted({int(w.text) for w in print_reader.words(shown) if w.text.isdigit() and 0 < int(w.text) < 13})
        print(f"clock, figures {tall:.1%} of the side: {len(read)} of 12 read: {read}", flush=True)


def alarms(folders: list[Path]) -> None:
    """What is read in photos of folders, to be looked at."""
    count, cost = 0, []
    for path in sorted(
        p for folder in folders for p in folder.rglob("*") if p.suffix.lower() in (".jpg", ".jpeg", ".png")
    ):
        try:
            shown = np.asarray(base(path))
        except PhotoError:
            continue
        began = process_time()
        found = print_reader.words(shown)
        cost.append(process_time() - began)
        count += bool(found)
        if found:
            said = ", ".join(f"{w.text} ({w.x:.2f}, {w.y:.2f}; {w.sure:.2f})" for w in found[:12])
            print(f"{path.name}: {len(found)}: {said}", flush=True)
    print(f"{count} of {len(cost)} photos; seconds of the processor a picture: {np.median(cost):.2f}")


def main() -> None:
    if len(sys.argv) > 1:
        alarms([Path(one) for one in sys.argv[1:]])
        return
    paths = sorted((HERE / "sample_images").glob("*.jpg"))
    drawn_numbers(paths, 100)
    drawn_clocks(paths[::3], 1000)


if __name__ == "__main__":
    main()
