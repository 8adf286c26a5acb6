"""Pack the pictures that scenes are made from, and hand them out again.

`python -m curator.learning.material --stamps DIR --emoji DIR --textures DIR --photos DIR -o .learn/material` packs one
file of at most 16 MB (`pack.npz`: encoded pictures end to end, and what each is) with LICENCES.txt. Nothing of it is
kept in the project.
"""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Iterable, Iterator
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.learning.photos.real import source_of

Image = NDArray[np.uint8]
Row = tuple[str, str, Image]  # sort (sprite, texture, ground), group of things alike, picture RGB or RGBA
LIMIT = 16 * 2**20

STAMPS = (
    "animals/insects",
    "animals/shellfish",
    "animals/amphibians",
    "animals/mammals/rodents",
    "animals/birds",
    "animals/fish",
    "clothes",
    "food",
    "household",
    "plants",
    "hobbies/music",
    "sports",
    "vehicles/auto",
    "seasonal/easter",
    "seasonal/christmas",
    "hobbies",
)
STAMPS_OUT = (
    "egg_2",
    "wrapped",
    "football",
    "beetle",
    "747",
    "guitar",
    "cartoon/spider_",
    "tux",
    "highlighter",
    "pen_dry",
    "indycar",
    "measuring_tape",
    "camera",
    "silo",
    "penguin",
    "pengwin",
    "rugby",
    "santa",
    "grave",
)
CUTOUTS = ("fruitb", "jcoin", "icoin", "coin", "pill", "chess", "cone", "mcu")
PRINTED = {"pill": {1, 6, 7, 15, 20, 22, 23, 24, 42, 43, 44}}  # by eye: these carry a mark, or their edge is poor
GROUNDS = ("kuih", "fruitb", "pill", "cone", "coco", "jcoin", "screw", "mcu", "pear")
CUTOUT_KINDS_OUT = ("banknote", "person", "hand", "signboard", "book", "dining table", "car from above")
LICENCES = """Training material, packed for one training run; not part of the project.
stamps    tuxpaint-stamps-default (Debian), GPL-2, (c) 2002-2022 Bill Kendrick and contributors
emoji     @lobehub/fluent-emoji-3d (npm), MIT; drawings MIT
textures  robosuite 1.5 (PyPI), MIT; scikit-image sample textures brick, grass, gravel: CC0 by their makers' statement
cutouts, grounds   pieces of photos with the licences written in their boxes.json:
"""


def _open(path: Path, longer: int) -> Image | None:
    raw = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    if raw is None or raw.dtype != np.uint8:
        return None
    if raw.ndim == 2:
        raw = cv2.cvtColor(raw, cv2.COLOR_GRAY2BGR)
    raw = cv2.cvtColor(raw, cv2.COLOR_BGRA2RGBA if raw.shape[2] == 4 else cv2.COLOR_BGR2RGB)
    scale = longer / max(raw.shape[:2])
    shrunk = raw if scale >= 1 else cv2.resize(raw, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return np.asarray(shrunk, np.uint8)


def _trim(picture: Image) -> Image | None:
    """The cut-out without its clear rim; None when it is mostly clear or has no clear part at all."""
    solid = picture[..., 3] > 100
    if solid.mean() < 0.02 or picture[..., 3].min() > 30:
        return None
    rows, cols = np.nonzero(solid.any(1))[0], np.nonzero(solid.any(0))[0]
    picture = picture[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]
    return picture if min(picture.shape[:2]) >= 14 else None


def stamps(folder: Path, longer: int = 180) -> Iterator[Row]:
    seen: set[str] = set()
    for part in STAMPS:
        for path in sorted((folder / part).rglob("*.png")):
            name = str(path.relative_to(folder))
            if name in seen or "_mirror" in name or any(word in name for word in STAMPS_OUT):
                continue
            seen.add(name)
            picture = _open(path, longer)
            cut = _trim(picture) if picture is not None and picture.shape[2] == 4 else None
            if cut is not None:
                group = "toon" if "cartoon" in name else "stamp"
                yield "sprite", f"{group}/{Path(name).stem.split('_')[0].rstrip('0123456789-')}", cut


def emoji(folder: Path, longer: int = 128) -> Iterator[Row]:
    wanted = [
        *range(0x1F345, 0x1F37F),
        *range(0x1F400, 0x1F43F),
        *range(0x1F950, 0x1F970),
        *range(0x1F980, 0x1F9AE),
        *range(0x1F9C0, 0x1F9CC),
    ]
    wanted += [
        *range(0x1F330, 0x1F344),
        *range(0x1F45E, 0x1F464),
        0x1F9E2,
        0x1F9E4,
        0x1F9E6,
        0x1F9F5,
        0x1F9F8,
        0x1F528,
        0x1F511,
        0x1F4CE,
    ]
    wanted += [
        0x26BD,
        0x1F3C0,
        0x1F3BE,
        0x1F525,
        0x1F6D2,
        0x1F56F,
        0x1F514,
        0x1F48E,
        0x1F388,
        0x1F381,
        0x1F9C3,
        0x1F9FC,
        0x1F4A1,
        0x1F58D,
    ]
    for code in wanted:
        if code == 0x1F35F:  # its box looks like a shop's
            continue
        path = folder / f"{code:x}.webp"
        picture = _open(path, longer) if path.exists() else None
        cut = _trim(picture) if picture is not None and picture.shape[2] == 4 else None
        if cut is not None:
            yield "sprite", f"emoji/{code:x}", cut


def textures(folder: Path, longer: int = 256) -> Iterator[Row]:
    for path in sorted(folder.glob("*.png")):
        if path.stem in ("bread", "can", "cereal", "lemon", "soda", "glass"):  # packs with print on them
            continue
        picture = _open(path, longer * 2)
        if picture is not None:
            yield "texture", path.stem, np.ascontiguousarray(picture[: longer * 2, : longer * 2, :3])


def sample_textures(longer: int = 256) -> Iterator[Row]:
    import skimage.data

    for name in ("brick", "grass", "gravel"):
        picture = getattr(skimage.data, name)()
        yield (
            "texture",
            name,
            cv2.cvtColor(cv2.resize(picture, (longer, longer), interpolation=cv2.INTER_AREA), cv2.COLOR_GRAY2RGB),
        )


def _photo(folder: Path, name: str) -> Image:
    raw = cv2.imread(str(folder / "images" / name))
    if raw is None:
        raise FileNotFoundError(f"{name} is named in boxes.json but is not in {folder / 'images'}")
    return np.asarray(raw, np.uint8)


def _alone(box: NDArray[np.float64], others: NDArray[np.float64]) -> bool:
    width = np.minimum(box[2], others[:, 2]) - np.maximum(box[0], others[:, 0])
    height = np.minimum(box[3], others[:, 3]) - np.maximum(box[1], others[:, 1])
    shared = np.clip(width, 0, None) * np.clip(height, 0, None)
    return bool(shared.max(initial=0) < 0.01 * (box[2] - box[0]) * (box[3] - box[1]))


def cut_out(picture: Image, box: tuple[int, int, int, int]) -> Image | None:
    """The thing in the box (left, top, right, bottom) on a clear ground, or None when its edge is not clean."""
    left, top, right, bottom = box
    pad_x, pad_y = int(0.18 * (right - left)) + 3, int(0.18 * (bottom - top)) + 3
    x0, y0 = max(0, left - pad_x), max(0, top - pad_y)
    crop = np.ascontiguousarray(picture[y0 : bottom + pad_y, x0 : right + pad_x])
    mask = np.zeros(crop.shape[:2], np.uint8)
    inner = (left - x0, top - y0, right - left, bottom - top)
    try:
        cv2.grabCut(crop, mask, inner, np.zeros((1, 65)), np.zeros((1, 65)), 4, cv2.GC_INIT_WITH_RECT)
    except cv2.error:
        return None
    solid = ((mask == 1) | (mask == 3)).astype(np.uint8)
    solid = cv2.morphologyEx(solid, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(solid)
    if count < 2:
        return None
    best = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    area = stats[best, cv2.CC_STAT_AREA]
    whole = (labels == best).astype(np.uint8)
    contours, _ = cv2.findContours(whole, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(contours, key=cv2.contourArea)
    filled = cv2.drawContours(np.zeros_like(whole), [outline], -1, 1, -1)
    spanned = stats[best, cv2.CC_STAT_WIDTH] * stats[best, cv2.CC_STAT_HEIGHT] / max(1, inner[2] * inner[3])
    hull = cv2.contourArea(cv2.convexHull(outline))
    if (
        area < 0.8 * solid.sum()
        or spanned < 0.72
        or cv2.contourArea(outline) < 0.84 * hull
        or area < 0.3 * inner[2] * inner[3]
    ):
        return None
    alpha = cv2.GaussianBlur(cv2.erode(filled, np.ones((3, 3), np.uint8)).astype(np.float32), (0, 0), 0.8)
    return _trim(np.dstack([crop, (alpha * 255).astype(np.uint8)]))


def cutouts(folder: Path, longer: int = 170, most: int = 60) -> Iterator[Row]:
    """Clean cut-outs of whole, separate things, at most so many a source."""
    taken: dict[str, int] = {}
    for name, entry in json.loads((folder / "boxes.json").read_text()).items():
        source = source_of(name)
        if source not in CUTOUTS or taken.get(source, 0) >= most:
            continue
        raw = _photo(folder, name)
        picture = cv2.cvtColor(raw, cv2.COLOR_BGR2RGB)
        height, width = picture.shape[:2]
        boxes = np.asarray(np.array([b["box"] for b in entry["boxes"]]) * (width, height, width, height), np.float64)
        got = 0
        for i, box in enumerate(boxes):
            kind, (wide, high) = entry["boxes"][i]["kind"], (box[2:] - box[:2])
            inside = box[0] > 2 and box[1] > 2 and box[2] < width - 3 and box[3] < height - 3
            large = 48 <= max(wide, high) <= 400 and min(wide, high) >= 26
            if (
                got >= 3
                or not inside
                or not large
                or kind in CUTOUT_KINDS_OUT
                or not _alone(box, np.delete(boxes, i, 0))
            ):
                continue
            cut = cut_out(picture, (int(box[0]), int(box[1]), int(np.ceil(box[2])), int(np.ceil(box[3]))))
            if cut is None:
                continue
            scale = longer / max(cut.shape[:2])
            cut = cut if scale >= 1 else cv2.resize(cut, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
            number = taken.get(source, 0)
            taken[source] = number + 1
            got += 1
            if number in PRINTED.get(source, ()):
                continue
            if kind == "coin":  # some sources were stretched by their owners
                cut = cv2.resize(cut, (min(longer, max(cut.shape[:2])),) * 2, interpolation=cv2.INTER_AREA)
            yield "sprite", f"real-{source}/{kind}", cut


def grounds(folder: Path, most: int = 26, size: int = 224) -> Iterator[Row]:
    """Squares of photos that no box touches."""
    rng = np.random.default_rng(7)
    taken: dict[str, int] = {}
    for name, entry in json.loads((folder / "boxes.json").read_text()).items():
        source = source_of(name)
        if source not in GROUNDS or taken.get(source, 0) >= most:
            continue
        raw = _photo(folder, name)
        height, width = raw.shape[:2]
        boxes = np.asarray(np.array([b["box"] for b in entry["boxes"]]) * (width, height, width, height), np.float64)
        for side in (300, 220, 160, 128):
            spots = [rng.integers(0, (max(1, width - side), max(1, height - side))) for _ in range(40)]
            free = [
                s for s in spots if width > side < height and _alone(np.asarray([*s, *(s + side)], np.float64), boxes)
            ]
            if free:
                x, y = free[0]
                crop = cv2.cvtColor(raw[y : y + side, x : x + side], cv2.COLOR_BGR2RGB)
                if np.abs(crop.astype(int).mean() - 128) < 110 and crop.max() > 40:
                    taken[source] = taken.get(source, 0) + 1
                    yield "ground", f"real-{source}", cv2.resize(crop, (size, size), interpolation=cv2.INTER_AREA)
                break


def write(rows: list[Row], output: Path, licences: str) -> int:
    """Encode and pack the rows; the size in bytes."""
    output.mkdir(parents=True, exist_ok=True)
    data, lengths = [], []
    for sort, _, picture in rows:
        bgr = cv2.cvtColor(picture, cv2.COLOR_RGBA2BGRA if picture.shape[2] == 4 else cv2.COLOR_RGB2BGR)
        quality = 78 if sort == "sprite" else 72
        encoded = cv2.imencode(".webp", bgr, [cv2.IMWRITE_WEBP_QUALITY, quality])[1].ravel()
        data.append(encoded)
        lengths.append(len(encoded))
    np.savez(
        output / "pack.npz",
        data=np.concatenate(data),
        ends=np.cumsum(lengths),
        sort=np.array([r[0] for r in rows]),
        group=np.array([r[1] for r in rows]),
    )
    (output / "LICENCES.txt").write_text(licences)
    return (output / "pack.npz").stat().st_size


class Pack:
    """The packed pictures; each is decoded when first asked for."""

    def __init__(self, path: Path) -> None:
        with np.load(path) as stored:
            self.data, self.ends = stored["data"], stored["ends"]
            self.sort, self.group = stored["sort"].tolist(), stored["group"].tolist()
        self.picture = lru_cache(maxsize=500)(self._decode)

    def _decode(self, index: int) -> Image:
        start = int(self.ends[index - 1]) if index else 0
        raw = cv2.imdecode(self.data[start : int(self.ends[index])], cv2.IMREAD_UNCHANGED)
        if raw is None:
            raise ValueError(f"picture {index} of the pack cannot be read: pack it again")
        return np.asarray(cv2.cvtColor(raw, cv2.COLOR_BGRA2RGBA if raw.shape[2] == 4 else cv2.COLOR_BGR2RGB), np.uint8)

    def indices(self, sort: str, prefix: str = "") -> list[int]:
        return [
            i for i, (s, g) in enumerate(zip(self.sort, self.group, strict=True)) if s == sort and g.startswith(prefix)
        ]


@lru_cache(maxsize=4)
def _load(path: Path) -> Pack | None:
    return Pack(path) if path.exists() else None


def pack() -> Pack | None:
    """The packed material of this machine (folder: CURATOR_MATERIAL or .learn/material), or None when there is none."""
    return _load(Path(os.environ.get("CURATOR_MATERIAL", ".learn/material")) / "pack.npz")


def _some(rows: Iterable[Row], folder: Path) -> list[Row]:
    """All of them; a folder that was named and gives none is the wrong one."""
    found = list(rows)
    if not found:
        raise SystemExit(
            f"Packing material. Nothing of use lies in {folder} itself. Name the folder that holds the pictures."
        )
    return found


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--stamps", type=Path, default=Path("/usr/share/tuxpaint/stamps"))
    options.add_argument("--emoji", type=Path)
    options.add_argument("--textures", type=Path)
    options.add_argument("--photos", type=Path)
    options.add_argument("-o", "--output", type=Path, default=Path(".learn/material"))
    chosen = options.parse_args()
    rows: list[Row] = [*stamps(chosen.stamps), *sample_textures()]
    licences = LICENCES
    if chosen.emoji:
        rows += _some(emoji(chosen.emoji), chosen.emoji)
    if chosen.textures:
        rows += _some(textures(chosen.textures), chosen.textures)
    if chosen.photos:
        rows += _some([*cutouts(chosen.photos), *grounds(chosen.photos)], chosen.photos)
        entries = json.loads((chosen.photos / "boxes.json").read_text())
        licences += "\n".join(
            sorted(
                {
                    f"  {n.split('_')[0].rstrip('0123456789')}: {e['licence']}"
                    for n, e in entries.items()
                    if source_of(n) in CUTOUTS + GROUNDS
                }
            )
        )
    size = write(rows, chosen.output, licences)
    print(f"{len(rows)} pictures, {size / 2**20:.1f} MB")
    if size > LIMIT:
        raise SystemExit("The pack is larger than 16 MB: take fewer or smaller pictures.")


if __name__ == "__main__":
    main()
