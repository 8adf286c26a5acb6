"""Which pixels of a sample picture show which counted thing (`python -m curator.learning.samples --masks tests/things`).

One grey PNG a picture, as large as the picture: 0 for what is not counted, STEP times (1 + the thing's place in
truth.yaml) for a thing's visible pixels, bent as the lens bends the picture.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import bpy
import cv2

from curator.learning.samples import lens, stage

STEP = 10  # grey levels between things: 24 of them fit


def _flat(level: float) -> Any:
    """A material that shows that grey and lights nothing."""
    made = bpy.data.materials.new("flat")
    made.use_nodes = True
    nodes, links = made.node_tree.nodes, made.node_tree.links
    nodes.clear()
    glow, out = nodes.new("ShaderNodeEmission"), nodes.new("ShaderNodeOutputMaterial")
    glow.inputs["Color"].default_value = (level, level, level, 1)
    links.new(glow.outputs["Emission"], out.inputs["Surface"])
    return made


def _paint(things: list[list[stage.Part]]) -> None:
    """Every object black, but each thing in its own grey, whether it is objects or slots of one."""
    levels = {(part.name, slot): n + 1 for n, parts in enumerate(things) for part, slot in parts}
    flats = {n: _flat(STEP * n / 255) for n in range(len(things) + 1)}
    for one in bpy.data.objects:
        if one.type == "MESH":
            for slot in range(len(one.data.materials)):
                one.data.materials[slot] = flats[levels.get((one.name, slot), levels.get((one.name, None), 0))]


def render(things: list[list[stage.Part]], file: Path, size: tuple[int, int]) -> None:
    """The mask of the scene that is set; its materials are used up."""
    _paint(things)
    scene = bpy.context.scene
    scene.world = None
    scene.camera.data.dof.use_dof = False
    scene.cycles.samples, scene.cycles.use_denoising, scene.cycles.pixel_filter_type = 1, False, "BOX"
    scene.cycles.filter_width = 0.01  # each pixel is one thing or none, never a mixture
    scene.render.resolution_x, scene.render.resolution_y = size
    scene.render.dither_intensity = 0.0
    scene.view_settings.view_transform, scene.view_settings.look, scene.view_settings.exposure = "Raw", "None", 0.0
    scene.render.image_settings.file_format, scene.render.image_settings.color_depth = "PNG", "8"
    scene.render.image_settings.color_mode = "BW"
    with tempfile.TemporaryDirectory() as work:
        scene.render.filepath = str(Path(work) / "mask.png")
        bpy.ops.render.render(write_still=True)
        mask = lens.through(cv2.imread(scene.render.filepath, cv2.IMREAD_GRAYSCALE), nearest=True)
    cv2.imwrite(str(file), mask, [cv2.IMWRITE_PNG_COMPRESSION, 9])
