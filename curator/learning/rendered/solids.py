"""Training scenes rendered from solids, with true contact, occlusion and cut-off, and the shards that carry them.

`python -m curator.learning.rendered.solids -o .learn/solids --count 800 --seed 1000` renders here, where MuJoCo is;
`load_solids(folder)` reads the shards anywhere with NumPy and OpenCV alone.
"""

from __future__ import annotations

import argparse
import time
import zlib
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.errors import CuratorError
from curator.learning import paint
from curator.learning.scene import Scene, check

COLUMNS = ("boxes", "centers", "tips", "kind", "level", "parent", "visible", "side", "aside")
SHARD = 200  # scenes a file
TRIES = 5  # stagings of one seed before it is given up


def make_clean(seed: int, size: int = 384, family: str | None = None, among: tuple[str, ...] = ()) -> Scene:
    """The scene of this seed as it was rendered, without camera effects, of the family that is named or that the seed
    chooses (of those in `among`, or of all); ValueError where no try is fair.
    """
    from curator.learning.rendered.families import choose, make_stage
    from curator.learning.rendered.kit import Kit
    from curator.learning.rendered.view import view

    chosen = family or choose(np.random.default_rng(seed), among)  # once, or hard families would become rare
    for attempt in range(TRIES):
        kit = Kit(chances(seed, attempt))
        stage = make_stage(kit, chosen)
        scene = check(view(kit, stage, size))
        if fair(scene) and (scene.main >= 0 or stage.main is None):
            return scene
    raise ValueError(f"{chosen}: no fair scene in {TRIES} tries")


def chances(seed: int, attempt: int) -> np.random.Generator:
    """The chances of one try. Never [seed, 0]:

    NumPy takes that for `seed`, whose first number has chosen the family.
    """
    return np.random.default_rng([seed, attempt, 1])


def fair(scene: Scene) -> bool:
    """Whether a person could answer: exposed well, not too small or too many, hardly anything that just peeps out."""
    grey = scene.image.mean(2)
    if not 28 < grey.mean() < 228 or (grey > 250).mean() > 0.5 or grey.std() < 6:
        return False
    if scene.main < 0:
        return True
    own = (scene.kind == scene.main) & ~scene.aside
    seen, size = own & (scene.visible >= 0.25), scene.image.shape[0]
    extent = (scene.boxes[:, 2:] - scene.boxes[:, :2]).max(1)
    inside = (scene.boxes[:, :2] > 0).all(1) & (scene.boxes[:, 2:] < size).all(1)
    peeping = own & inside & (scene.visible > 0.03) & (scene.visible < 0.27)
    sliver = own & ~inside & (scene.visible > 0.15) & (scene.visible < 0.33)  # cut by the frame: in or out?
    return bool(2 <= seen.sum() <= 24 and np.median(extent[seen]) >= 0.035 * size and not (peeping | sliver).any())


def make_solid(seed: int, size: int = 384, family: str | None = None, among: tuple[str, ...] = ()) -> Scene:
    """The scene of this seed, `size` pixels a side, as a camera would give it; families as of `make_clean`."""
    return _through_camera(make_clean(seed, size, family, among), seed)


def _through_camera(scene: Scene, seed: int) -> Scene:
    image = paint.camera(np.random.default_rng([seed, 7]), scene.image.astype(np.float32))
    return _with_image(scene, image)


def _with_image(scene: Scene, image: NDArray[np.uint8]) -> Scene:
    fields = {name: getattr(scene, name) for name in (*COLUMNS, "axis", "main", "family", "ids")}
    return Scene(image=image, **fields)


def pack(scenes: list[Scene], path: Path, *, quality: int = 80) -> None:
    """Write scenes as one .npz: WebP bytes end to end, truth rows end to end, and where each scene's begin; the
    outlines of those that have them.
    """
    pictures = []
    for scene in scenes:
        done, data = cv2.imencode(".webp", scene.image[..., ::-1], [cv2.IMWRITE_WEBP_QUALITY, quality])
        if not done:
            raise CuratorError(
                "Packing rendered scenes.", "A picture could not be encoded.", "Render it again with another seed."
            )
        pictures.append(np.asarray(data, np.uint8).ravel())
    arrays = {name: np.concatenate([getattr(s, name) for s in scenes]) for name in COLUMNS}
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        np.savez_compressed(
            file,
            pictures=np.concatenate(pictures),
            picture_ends=np.cumsum([len(p) for p in pictures]),
            ends=np.cumsum([len(s.kind) for s in scenes]),
            axis=np.concatenate([s.axis for s in scenes]),
            axis_ends=np.cumsum([len(s.axis) for s in scenes]),
            main=np.array([s.main for s in scenes], np.int16),
            family=np.array([s.family for s in scenes]),
            outlined=np.array([s.ids is not None for s in scenes]),
            ids=np.array([s.ids for s in scenes if s.ids is not None], np.uint8),
            **arrays,
        )


def _cut(array: NDArray[np.generic], ends: NDArray[np.int64], k: int) -> NDArray[np.generic]:
    return array[(ends[k - 1] if k else 0) : ends[k]]


def unpack(path: Path) -> Iterator[Scene]:
    """The scenes of one shard, in order, clean as rendered."""
    try:
        with np.load(path, allow_pickle=False) as shard:
            stored = {name: shard[name] for name in shard.files}
    except (OSError, ValueError, EOFError) as wrong:
        raise CuratorError(
            f"Reading the shard {path.name}.", f"It cannot be read: {wrong}", "Render it again."
        ) from wrong
    if "ids" not in stored:
        raise CuratorError(
            f"Reading the shard {path.name}.", "It is older than the outlines that shards hold now.", "Render it again."
        )
    for k in range(len(stored["main"])):
        data = _cut(stored["pictures"], stored["picture_ends"], k)
        image = cv2.cvtColor(cv2.imdecode(np.ascontiguousarray(data), cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)
        rows: dict[str, Any] = {name: _cut(stored[name], stored["ends"], k) for name in COLUMNS}
        rows["axis"] = _cut(stored["axis"], stored["axis_ends"], k)
        rows["ids"] = stored["ids"][stored["outlined"][:k].sum()] if stored["outlined"][k] else None
        yield Scene(image=image, main=int(stored["main"][k]), family=str(stored["family"][k]), **rows)


def load_solids(folder: Path | str, *, effects: int | None = 0) -> Iterator[Scene]:
    """Every scene of a folder; camera effects by the seed `effects` (another seed, another camera), or none."""
    for path in sorted(Path(folder).glob("*.npz")):
        yield from unpack(path) if effects is None else photographed(path, effects)


def photographed(path: Path, effects: int) -> Iterator[Scene]:
    """The scenes of one shard, each through a camera of its own: another seed `effects`, other cameras."""
    first = zlib.crc32(path.name.encode())
    for number, scene in enumerate(unpack(path)):
        yield _through_camera(scene, effects * 1_000_003 + first + number)


def length(path: Path) -> int:
    """How many scenes a shard holds."""
    with np.load(path, allow_pickle=False) as shard:
        return len(shard["main"])


def _render(job: tuple[int, int, Path, tuple[str, ...]]) -> tuple[str, int, float]:
    """One shard of seeds first..first+count, of these families or of all; a seed that MuJoCo refuses is passed over and
    named.
    """
    first, count, path, families = job
    begun, made = time.monotonic(), []
    for seed in range(first, first + count):
        try:
            made.append(make_clean(seed, among=families))
        except (ValueError, RuntimeError) as wrong:
            print(f"seed {seed}: {str(wrong)[:160]}", flush=True)
    pack(made, path)
    return path.name, len(made), time.monotonic() - begun


def main() -> None:
    """Render shards with as many processes as asked for."""
    from curator.learning.rendered.families import named

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("-o", "--output", type=Path, default=Path(".learn/solids"))
    options.add_argument("--seed", type=int, default=1000)
    options.add_argument("--count", type=int, default=800)
    options.add_argument("--processes", type=int, default=2)
    options.add_argument("--families", default="", help="only these, with commas")
    chosen = options.parse_args()
    families, jobs = named(chosen.families), []
    for first in range(chosen.seed, chosen.seed + chosen.count, SHARD):
        count = min(SHARD, chosen.seed + chosen.count - first)
        jobs.append((first, count, chosen.output / f"solids-{first:07d}.npz", families))
    with ProcessPoolExecutor(chosen.processes) as pool:
        for name, count, seconds in pool.map(_render, jobs):
            print(f"{name}: {count} scenes, {count / seconds:.1f} a second", flush=True)


if __name__ == "__main__":
    main()
