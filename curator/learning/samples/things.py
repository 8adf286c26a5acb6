"""Ordinary things from primitives, each about one unit across, standing on z = 0; a builder returns its parts."""

from __future__ import annotations

import math
from typing import Any

Object = Any  # bpy.types.Object
Colour = tuple[float, float, float]


def material(name: str, colour: Colour, *, rough: float = 0.5, metal: float = 0.0, grain: float = 0.0) -> Any:
    """A principled material; `grain` mixes in a noise texture of darker colour."""
    import bpy

    made = bpy.data.materials.new(name)
    made.use_nodes = True
    nodes, links = made.node_tree.nodes, made.node_tree.links
    shader = nodes["Principled BSDF"]
    shader.inputs["Base Color"].default_value = (*colour, 1)
    shader.inputs["Roughness"].default_value = rough
    shader.inputs["Metallic"].default_value = metal
    if grain:
        noise, ramp, place = (
            nodes.new("ShaderNodeTexNoise"),
            nodes.new("ShaderNodeValToRGB"),
            nodes.new("ShaderNodeTexCoord"),
        )
        stretch = nodes.new("ShaderNodeMapping")
        stretch.inputs["Scale"].default_value = (0.3, 3.5, 0.3) if grain > 0.5 else (2.5, 2.5, 2.5)
        noise.inputs["Detail"].default_value = 6
        ramp.color_ramp.elements[0].color = (*(c * 0.55 for c in colour), 1)
        ramp.color_ramp.elements[1].color = (*colour, 1)
        links.new(place.outputs["Object"], stretch.inputs["Vector"])
        links.new(stretch.outputs["Vector"], noise.inputs["Vector"])
        links.new(noise.outputs["Fac"], ramp.inputs["Fac"])
        links.new(ramp.outputs["Color"], shader.inputs["Base Color"])
    return made


def _finish(made: Object, paint: Any, *, smooth: bool = True, bevel: float = 0.0) -> Object:
    import bpy

    made.data.materials.append(paint)
    if bevel:
        edge = made.modifiers.new("edge", "BEVEL")
        edge.width, edge.segments = bevel, 3
    if smooth:
        bpy.ops.object.shade_smooth_by_angle(angle=0.7)
    return made


def ball(paint: Any, at: tuple[float, float, float], size: tuple[float, float, float]) -> Object:
    import bpy

    bpy.ops.mesh.primitive_uv_sphere_add(segments=40, ring_count=24, location=at, radius=1)
    bpy.context.object.scale = size
    return _finish(bpy.context.object, paint)


def drum(
    paint: Any,
    at: tuple[float, float, float],
    radius: float,
    depth: float,
    *,
    top: float | None = None,
    lie: float | None = None,
) -> Object:
    """A cylinder, or a cone cut off where `top` is another radius; `lie` lays it down in that direction."""
    import bpy

    turn = (0, 0, 0) if lie is None else (math.pi / 2, 0, lie)
    bpy.ops.mesh.primitive_cone_add(
        vertices=48, radius1=radius, radius2=radius if top is None else top, depth=depth, location=at, rotation=turn
    )
    return _finish(bpy.context.object, paint, bevel=min(radius, depth) * 0.08)


def block(
    paint: Any,
    at: tuple[float, float, float],
    size: tuple[float, float, float],
    *,
    turn: float = 0.0,
    bevel: float = 0.03,
) -> Object:
    import bpy

    bpy.ops.mesh.primitive_cube_add(size=1, location=at, rotation=(0, 0, turn))
    bpy.context.object.scale = size
    bpy.ops.object.transform_apply(location=False, rotation=False, scale=True)
    return _finish(bpy.context.object, paint, bevel=bevel, smooth=False)


def ring(
    paint: Any, at: tuple[float, float, float], radius: float, thick: float, *, stand: float | None = None
) -> Object:
    import bpy

    turn = (0, 0, 0) if stand is None else (math.pi / 2, 0, stand)
    bpy.ops.mesh.primitive_torus_add(
        major_radius=radius, minor_radius=thick, major_segments=48, minor_segments=16, location=at, rotation=turn
    )
    return _finish(bpy.context.object, paint)


def egg(x: float, y: float, turn: float, colour: Colour) -> None:
    shell = material("shell", colour, rough=0.45)
    ball(shell, (x, y, 0.42), (0.33, 0.33, 0.44))


def orange(x: float, y: float, turn: float, colour: Colour) -> None:
    ball(material("peel", colour, rough=0.4), (x, y, 0.4), (0.4, 0.4, 0.38))
    ball(material("stalk", (0.12, 0.2, 0.05)), (x + 0.03, y, 0.77), (0.05, 0.05, 0.03))


def bun(x: float, y: float, turn: float, colour: Colour) -> None:
    ball(material("crust", colour, rough=0.55, grain=0.3), (x, y, 0.24), (0.42, 0.42, 0.28))


def button(x: float, y: float, turn: float, colour: Colour) -> None:
    drum(material("button", colour, rough=0.3), (x, y, 0.06), 0.42, 0.12)
    ring(material("rim", colour, rough=0.3), (x, y, 0.12), 0.37, 0.05)
    dark = material("hole", (0.02, 0.02, 0.02))
    for k in range(4):
        a = turn + math.pi / 4 + k * math.pi / 2
        drum(dark, (x + 0.13 * math.cos(a), y + 0.13 * math.sin(a), 0.125), 0.05, 0.02)


def mug(x: float, y: float, turn: float, colour: Colour) -> None:
    glaze = material("glaze", colour, rough=0.15)
    drum(glaze, (x, y, 0.4), 0.38, 0.8)
    drum(material("cocoa", (0.12, 0.05, 0.02), rough=0.2), (x, y, 0.80), 0.32, 0.02)
    ring(glaze, (x + 0.42 * math.cos(turn), y + 0.42 * math.sin(turn), 0.42), 0.22, 0.06, stand=turn)


def pot(x: float, y: float, turn: float, colour: Colour) -> None:
    clay = material("clay", colour, rough=0.8, grain=0.2)
    drum(clay, (x, y, 0.3), 0.27, 0.6, top=0.38)
    ring(clay, (x, y, 0.6), 0.38, 0.06)
    drum(material("soil", (0.05, 0.03, 0.02), rough=1), (x, y, 0.59), 0.34, 0.03)


def tin(x: float, y: float, turn: float, colour: Colour) -> None:
    drum(material("paint", colour, rough=0.35), (x, y, 0.35), 0.4, 0.7)
    ring(material("rim", (0.75, 0.75, 0.75), rough=0.4, metal=0.3), (x, y, 0.7), 0.39, 0.035)
    drum(material("lid", (0.7, 0.7, 0.72), rough=0.45, metal=0.2), (x, y, 0.705), 0.35, 0.02)


def bulb(x: float, y: float, turn: float, colour: Colour) -> None:
    skin = material("skin", colour, rough=0.6, grain=0.3)
    ball(skin, (x, y, 0.33), (0.34, 0.34, 0.34))
    drum(skin, (x, y, 0.72), 0.16, 0.3, top=0.02)


def crayon(x: float, y: float, turn: float, colour: Colour) -> None:
    wax = material("wax", colour, rough=0.4)
    dx, dy = math.sin(turn), -math.cos(turn)
    drum(wax, (x, y, 0.16), 0.15, 1.5, lie=turn)
    drum(wax, (x + dx * -0.86, y + dy * -0.86, 0.16), 0.04, 0.24, top=0.14, lie=turn)
    drum(material("band", tuple(c * 0.4 for c in colour)), (x, y, 0.16), 0.155, 0.9, lie=turn)  # type: ignore[arg-type]


def spoon(x: float, y: float, turn: float, colour: Colour) -> None:
    steel = material("steel", colour, rough=0.2, metal=0.9)
    dx, dy = math.sin(turn), -math.cos(turn)
    bowl = ball(steel, (x + dx * 0.75, y + dy * 0.75, 0.08), (0.24, 0.36, 0.07))
    bowl.rotation_euler[2] = turn
    block(steel, (x - dx * 0.35, y - dy * 0.35, 0.08), (0.11, 1.6, 0.06), turn=turn)
    tail = ball(steel, (x - dx * 1.15, y - dy * 1.15, 0.08), (0.1, 0.2, 0.05))
    tail.rotation_euler[2] = turn


def boot(x: float, y: float, turn: float, colour: Colour) -> None:
    """A rubber boot from above, toe towards +y; turn < 0 is the left one (toe leans right)."""
    rubber = material("rubber", colour, rough=0.25)
    lean = 0.06 if turn < 0 else -0.06
    ball(rubber, (x + lean, y + 0.42, 0.24), (0.3, 0.46, 0.24))
    ball(rubber, (x, y - 0.1, 0.22), (0.25, 0.5, 0.22))
    drum(rubber, (x, y - 0.3, 0.75), 0.27, 1.3)
    drum(material("inside", (0.02, 0.02, 0.02), rough=1), (x, y - 0.3, 1.405), 0.22, 0.02)
    ring(material("trim", (0.85, 0.85, 0.8), rough=0.4), (x, y - 0.3, 1.4), 0.25, 0.04)
    block(material("sole", (0.03, 0.03, 0.03)), (x + lean / 2, y + 0.12, 0.04), (0.5, 1.3, 0.08), bevel=0.04)


def peg(x: float, y: float, turn: float, colour: Colour) -> None:
    wood = material("peg", colour, rough=0.7, grain=0.8)
    for off in (-0.09, 0.09):
        dx, dy = math.cos(turn) * off, math.sin(turn) * off
        block(wood, (x + dx, y + dy, 0.12), (0.14, 1.25, 0.2), turn=turn + off * 0.4)
    drum(material("wire", (0.7, 0.7, 0.7), metal=1, rough=0.3), (x, y, 0.15), 0.16, 0.12, lie=turn)


def knob(x: float, y: float, turn: float, colour: Colour) -> None:
    brass = material("brass", colour, rough=0.3, metal=0.6)
    drum(brass, (x, y, 0.12), 0.14, 0.24)
    ball(brass, (x, y, 0.34), (0.3, 0.3, 0.16))


def pane(x: float, y: float, turn: float, colour: Colour) -> None:
    block(material("sky", colour, rough=0.06), (x, y, 0.01), (0.9, 0.9, 0.02), bevel=0)


def pip(x: float, y: float, turn: float, colour: Colour) -> None:
    drum(material("pip", colour, rough=0.6), (x, y, 0.565), 0.11, 0.03)


def leaf(x: float, y: float, turn: float, colour: Colour) -> None:
    green = material("leaf", colour, rough=0.5, grain=0.3)
    blade = ball(green, (x, y, 0.1), (0.2, 0.48, 0.025))
    blade.rotation_euler = (0, 0.15, turn)
    rib = block(
        material("rib", tuple(min(1, c * 1.6) for c in colour)), (x, y, 0.13), (0.02, 0.85, 0.012), turn=turn, bevel=0
    )  # type: ignore[arg-type]
    rib.rotation_euler = (0, 0.15, turn)


def spot(x: float, y: float, turn: float, colour: Colour) -> None:
    mark = ball(material("spot", colour, rough=0.35), (x, y, 0.62 - 0.12 * (abs(x) + 0.35 * abs(y))), (0.19, 0.19, 0.1))
    mark.rotation_euler = (-0.12 * y, 0.35 * x, 0)


def hook(x: float, y: float, turn: float, colour: Colour) -> None:
    iron = material("iron", colour, rough=0.35, metal=0.7)
    block(iron, (x, y + 0.25, 0.08), (0.24, 0.55, 0.05))
    ring(iron, (x, y - 0.15, 0.22), 0.2, 0.055, stand=math.pi / 2)
    ball(iron, (x, y - 0.18, 0.43), (0.09, 0.09, 0.09))


BUILDERS = {
    f.__name__: f
    for f in (
        egg,
        orange,
        bun,
        button,
        mug,
        pot,
        tin,
        bulb,
        crayon,
        spoon,
        boot,
        peg,
        knob,
        pane,
        pip,
        leaf,
        spot,
        hook,
    )
}
