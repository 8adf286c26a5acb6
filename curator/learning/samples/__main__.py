"""`python -m curator.learning.samples -o sample_images`: render every picture and write truth.yaml and labels.csv."""

from __future__ import annotations

import argparse
import csv
import random
from dataclasses import replace
from pathlib import Path
from typing import Any

from curator.learning.samples import grounds
from curator.learning.samples.specs import SPECS, Spec
from curator.learning.samples.things import BUILDERS

COLUMNS = ("file", "thing", "total", "half", "kind", "also", "clear", "difficulty", "box", "source", "licence", "note")


def _place_under(spec: Spec) -> None:
    spots = [(x, y) for x, y, _ in (spec.cups or spec.places)]
    if spec.under == "two_boards":
        cut = 4
        grounds.board(spots[:cut])
        grounds.board(spots[cut:])
    elif spec.under == "dice_uneven":
        grounds.dice([(-1.2, 0.0), (1.2, 0.0)])
    elif spec.under:
        grounds.UNDER[spec.under](spots)


def _camera(spec: Spec, reach: tuple[float, float], aspect: float) -> None:
    import math

    import bpy
    from mathutils import Vector

    tall = max(reach[1], reach[0] / aspect, 1.0)
    distance = tall * 3.7
    slant = math.radians(spec.slant)
    eye = Vector((0.0, -math.sin(slant) * distance, math.cos(slant) * distance))
    bpy.ops.object.camera_add(location=eye)
    camera = bpy.context.object
    camera.rotation_euler = (-eye).to_track_quat("-Z", "Y").to_euler()
    camera.rotation_euler.rotate_axis("Z", math.radians(spec.roll))
    camera.data.lens = 50
    bpy.context.scene.camera = camera


def _light(chance: random.Random) -> None:
    import bpy

    bpy.ops.object.light_add(type="AREA", location=(chance.uniform(-7, -3), chance.uniform(2, 6), 9))
    sun = bpy.context.object
    sun.data.energy, sun.data.size = 620, 4
    sun.rotation_euler = (-sun.location).to_track_quat("-Z", "Y").to_euler()
    world = bpy.data.worlds.new("sky")
    bpy.context.scene.world = world
    world.use_nodes = True
    world.node_tree.nodes["Background"].inputs[0].default_value = (0.75, 0.85, 1.0, 1)
    world.node_tree.nodes["Background"].inputs[1].default_value = 0.42


def build(spec: Spec, seed: int, size: tuple[int, int]) -> list[list[Any]]:
    """Set the scene; returns the objects that each counted thing is made of."""
    import bpy

    chance = random.Random(seed)
    bpy.ops.wm.read_factory_settings(use_empty=True)
    grounds.plain(spec.ground)
    reach_x = max([abs(x) + 0.7 for x, _, _ in spec.places], default=1.3)
    reach_y = max(
        [abs(y) + (1.2 if spec.builder in ("spoon", "crayon", "peg") else 0.7) for _, y, _ in spec.places], default=1.0
    )
    if spec.under == "beetle":
        reach_x, reach_y = 1.9, 2.1
    _place_under(spec)
    things = []
    for i, (x, y, turn) in enumerate(spec.places):
        jitter = 0.0 if spec.under or spec.builder in ("boot", "mug", "spoon", "leaf") else 0.03
        at = (x + chance.gauss(0, jitter), y + chance.gauss(0, jitter))
        colour = spec.colours[i % len(spec.colours)] if len(spec.colours) < 2 else chance.choice(spec.colours)
        before = set(bpy.data.objects)
        BUILDERS[spec.builder](at[0], at[1], turn, colour)
        things.append([part for part in bpy.data.objects if part not in before])
    grounds.odds(chance, (reach_x - 0.6, reach_y - 0.6), spec.odds)
    _camera(spec, (reach_x + 0.5, reach_y + 0.5), size[0] / size[1])
    _light(chance)
    return things


def sized(spec: Spec, width: int) -> tuple[int, int]:
    """Width and height of the picture; long leaves stand upright."""
    upright = spec.under == "stem" and len(spec.places) >= 14
    return (width * 3 // 4, width) if upright else (width, width * 3 // 4)


HEIGHTS = {
    "egg": 0.5,
    "orange": 0.5,
    "mug": 0.8,
    "tin": 0.7,
    "pot": 0.6,
    "boot": 0.9,
    "bulb": 0.5,
    "pip": 0.56,
    "spot": 0.6,
}


def _dots(spec: Spec) -> list[list[float]]:
    """Fractions of each counted thing's centre in the picture."""
    import bpy
    from bpy_extras.object_utils import world_to_camera_view
    from mathutils import Vector

    bpy.context.view_layer.update()
    scene = bpy.context.scene
    height = HEIGHTS.get(spec.builder, 0.15)
    seen = [world_to_camera_view(scene, scene.camera, Vector((x, y, height))) for x, y, _ in spec.places]
    return [[round(p.x, 4), round(1 - p.y, 4)] for p in seen]


def render(spec: Spec, output: Path, seed: int, size: tuple[int, int], samples: int) -> list[list[float]]:
    """One picture; returns the counted things' dots."""
    import bpy

    build(spec, seed, size)
    scene = bpy.context.scene
    scene.render.engine = "CYCLES"
    scene.cycles.samples, scene.cycles.use_denoising, scene.cycles.seed = samples, True, seed
    scene.render.resolution_x, scene.render.resolution_y = size
    scene.view_settings.view_transform = "Standard"
    scene.render.image_settings.file_format = "JPEG"
    scene.render.image_settings.quality = 88
    scene.render.filepath = str(output / f"{spec.name}.jpg")
    dots = _dots(spec)
    bpy.ops.render.render(write_still=True)
    return dots


def truth(spec: Spec, dots: list[list[float]]) -> dict[str, Any]:
    """A row of truth.yaml."""
    count = len(spec.places)
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


def write_labels(rows: list[dict[str, Any]], output: Path) -> None:
    """truth.yaml and the same as labels.csv."""
    import yaml

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
    options.add_argument("--width", type=int, default=880)
    options.add_argument("--samples", type=int, default=16)
    options.add_argument(
        "--only", default="", help="render only pictures whose name holds this; truth is then not written"
    )
    chosen = options.parse_args()
    chosen.output.mkdir(parents=True, exist_ok=True)
    rows = []
    for seed, spec in enumerate(SPECS):
        if chosen.only not in spec.name:
            continue
        dots = render(replace(spec), chosen.output, seed, sized(spec, chosen.width), chosen.samples)
        rows.append(truth(spec, dots))
        print(spec.name, flush=True)
    if not chosen.only:
        write_labels(rows, chosen.output)


if __name__ == "__main__":
    main()
