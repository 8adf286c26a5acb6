"""`python -m curator.learning.samples -o sample_images`: render every picture and write truth.yaml and labels.csv.

Needs `bpy` (Blender as a module) and OpenCV. Pictures are rendered with sampled light, denoised, metered as a camera
meters, and developed by `lens`.
"""

from __future__ import annotations

import argparse
import csv
import math
import tempfile
import zlib
from pathlib import Path
from typing import Any

from curator.learning.samples.rows import SPECS
from curator.learning.samples.specs import Spec

COLUMNS = ("file", "thing", "total", "half", "kind", "also", "clear", "difficulty", "box", "source", "licence", "note")
MIDDLE_GREY = 0.23  # what the meter makes of a scene: 18 % (common practice) and a third of a stop, as phones do
QUALITY = 85


def sized(spec: Spec, width: int) -> tuple[int, int]:
    """Width and height of the picture; some are taken upright."""
    return (width * 3 // 4, width) if spec.upright else (width, width * 3 // 4)


def seed_of(spec: Spec) -> int:
    """The same for the same name, so that a row can be put in or taken out without changing the others."""
    return zlib.crc32(spec.name.encode()) % 9973


def _engine(size: tuple[int, int], samples: int, threads: int) -> Any:
    import bpy

    scene = bpy.context.scene
    scene.render.engine = "CYCLES"
    scene.cycles.samples, scene.cycles.use_denoising, scene.cycles.seed = samples, True, 1
    scene.cycles.denoising_prefilter, scene.cycles.denoising_quality = "FAST", "BALANCED"
    scene.cycles.max_bounces, scene.cycles.diffuse_bounces, scene.cycles.glossy_bounces = 5, 2, 2
    scene.cycles.adaptive_threshold, scene.cycles.adaptive_min_samples = 0.06, 4
    scene.cycles.caustics_reflective = scene.cycles.caustics_refractive = False
    scene.cycles.sample_clamp_indirect = 6.0
    scene.render.threads_mode, scene.render.threads = "FIXED", threads
    scene.render.resolution_x, scene.render.resolution_y = size
    scene.view_settings.view_transform = "AgX"
    scene.view_settings.look = "AgX - Medium High Contrast"
    return scene


def _taken(scene: Any, path: Path, kind: str, depth: str) -> Any:
    """Render to a file and read it back. (h, w, 3) BGR, float 0..1 for a picture, light for EXR"""
    import bpy
    import cv2
    import numpy as np

    scene.render.image_settings.file_format, scene.render.image_settings.color_depth = kind, depth
    scene.render.filepath = str(path)
    bpy.ops.render.render(write_still=True)
    if kind == "PNG":
        return cv2.imread(str(path), cv2.IMREAD_UNCHANGED)[..., :3].astype(np.float32) / 65535
    image = bpy.data.images.load(str(path))
    light = np.array(image.pixels[:]).reshape(image.size[1], image.size[0], -1)[..., 2::-1]
    bpy.data.images.remove(image)
    return light


def _meter(scene: Any, work: Path, bias: float) -> None:
    """Set the exposure by a small picture: its log-average light becomes middle grey, dark scenes a little darker."""
    import numpy as np

    samples, scene.cycles.samples, scene.render.resolution_percentage = scene.cycles.samples, 6, 10
    light = _taken(scene, work / "meter.exr", "OPEN_EXR", "32").mean(2)
    level = float(np.exp(np.log(np.clip(light, 0.004, 6)).mean()))
    scene.view_settings.exposure = 0.82 * math.log2(MIDDLE_GREY / level) + bias
    scene.cycles.samples, scene.render.resolution_percentage = samples, 100


def render(
    spec: Spec, output: Path, masks_in: Path | None, size: tuple[int, int], samples: int, threads: int
) -> list[list[float]]:
    """One picture and its mask; returns the counted things' dots."""
    import cv2

    from curator.learning.samples import lens, masks, stage

    built = stage.build(spec, seed_of(spec), size)
    scene = _engine(size, samples or 1, threads)
    if samples:
        with tempfile.TemporaryDirectory() as work:
            _meter(scene, Path(work), spec.bias)
            picture = lens.develop(_taken(scene, Path(work) / "picture.png", "PNG", "16"), seed_of(spec))
        cv2.imwrite(str(output / f"{spec.name}.jpg"), picture, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    if masks_in and built.things:
        masks.render(built.things, masks_in / f"{spec.name}.png", size)
    return built.dots


def truth(spec: Spec, dots: list[list[float]]) -> dict[str, Any]:
    """A row of truth.yaml."""
    count = len(dots)
    return {
        "file": f"{spec.name}.jpg",
        "shows": spec.shows,
        "thing": spec.thing,
        "things": spec.things,
        "total": count if count >= 2 else None,
        "half": spec.half or "none",
        "kind": spec.kind,
        "also": list(spec.also),
        "difficulty": spec.difficulty,
        "dots": dots,
    }


def write_labels(made: list[dict[str, Any]], output: Path) -> None:
    """truth.yaml and the same as labels.csv; rows of pictures that were not made now stay as they are."""
    import yaml

    kept = yaml.safe_load((output / "truth.yaml").read_text())["pictures"] if (output / "truth.yaml").exists() else []
    by_file = {row["file"]: row for row in [*kept, *made]}
    rows = [by_file[f"{spec.name}.jpg"] for spec in SPECS if f"{spec.name}.jpg" in by_file]
    head = (
        "# Made by python -m curator.learning.samples; licence CC0-1.0. Dots: x, y as fractions of width and height.\n"
    )
    body = yaml.safe_dump(
        {"format": 1, "pictures": rows}, sort_keys=False, allow_unicode=True, default_flow_style=None, width=110
    )
    (output / "truth.yaml").write_text(head + body)
    with (output / "labels.csv").open("w", newline="") as file:
        table = csv.DictWriter(file, COLUMNS)
        table.writeheader()
        for row in rows:
            half = row["half"] if row["half"] != "none" else ""
            table.writerow(
                {
                    "file": row["file"],
                    "thing": row["things"],
                    "total": row["total"] or "",
                    "half": half,
                    "kind": row["kind"],
                    "also": ";".join(row["also"]),
                    "clear": 1,
                    "difficulty": row["difficulty"],
                    "box": "",
                    "source": "rendered",
                    "licence": "CC0-1.0",
                    "note": row["shows"],
                }
            )


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("-o", "--output", type=Path, required=True)
    options.add_argument("--masks", type=Path, help="where which pixels show which thing is written: tests/things")
    options.add_argument("--width", type=int, default=1200)
    options.add_argument("--samples", type=int, default=4, help="0: only masks and labels")
    options.add_argument("--threads", type=int, default=2)
    options.add_argument(
        "--only", default="", help="only pictures whose name holds one of these, by commas, in their order"
    )
    chosen = options.parse_args()
    chosen.output.mkdir(parents=True, exist_ok=True)
    wanted = chosen.only.split(",")
    for spec in sorted(
        SPECS, key=lambda one: min((k for k, part in enumerate(wanted) if part in one.name), default=99)
    ):
        if any(part in spec.name for part in wanted):
            dots = render(spec, chosen.output, chosen.masks, sized(spec, chosen.width), chosen.samples, chosen.threads)
            write_labels([truth(spec, dots)], chosen.output)
            print(spec.name, flush=True)


if __name__ == "__main__":
    main()
