"""`python -m curator.learning.samples.masks -o tests/things`: which pixels of each sample picture show which counted thing.

One grey PNG a picture, as large as the picture: 0 for what is not counted, STEP times (1 + the thing's place in
truth.yaml) for a thing's visible pixels.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from curator.learning.samples import __main__ as samples
from curator.learning.samples.specs import SPECS, Spec

STEP = 10  # grey levels between things: 24 of them fit


def _flat(name: str, level: float) -> Any:
    """A material that shows that grey and lights nothing."""
    import bpy

    made = bpy.data.materials.new(name)
    made.use_nodes = True
    nodes, links = made.node_tree.nodes, made.node_tree.links
    nodes.clear()
    glow, out = nodes.new("ShaderNodeEmission"), nodes.new("ShaderNodeOutputMaterial")
    glow.inputs["Color"].default_value = (level, level, level, 1)
    links.new(glow.outputs["Emission"], out.inputs["Surface"])
    return made


def _paint(things: list[list[Any]]) -> None:
    """Every object black, but each thing in its own grey."""
    import bpy

    level = {part.name: STEP * (n + 1) / 255 for n, parts in enumerate(things) for part in parts}
    for one in bpy.data.objects:
        if one.type == "MESH":
            one.data.materials.clear()
            one.data.materials.append(_flat(one.name, level.get(one.name, 0.0)))


def render(spec: Spec, output: Path, seed: int, size: tuple[int, int]) -> None:
    """The mask of one sample picture."""
    import bpy

    _paint(samples.build(spec, seed, size))
    scene = bpy.context.scene
    scene.world = None
    scene.render.engine = "CYCLES"
    scene.cycles.samples, scene.cycles.use_denoising, scene.cycles.pixel_filter_type = 1, False, "BOX"
    scene.cycles.filter_width = 0.01  # each pixel is one thing or none, never a mixture
    scene.render.resolution_x, scene.render.resolution_y = size
    scene.render.dither_intensity = 0.0
    scene.view_settings.view_transform = "Raw"
    scene.render.image_settings.file_format = "PNG"
    scene.render.image_settings.color_mode = "BW"
    scene.render.image_settings.compression = 100
    scene.render.filepath = str(output / f"{spec.name}.png")
    bpy.ops.render.render(write_still=True)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("-o", "--output", type=Path, required=True)
    options.add_argument("--width", type=int, default=880)
    chosen = options.parse_args()
    chosen.output.mkdir(parents=True, exist_ok=True)
    for seed, spec in enumerate(SPECS):
        if spec.places:
            render(spec, chosen.output, seed, samples.sized(spec, chosen.width))


if __name__ == "__main__":
    main()
