"""Node trees in few words: a node with its inputs, the usual mixtures, and a finished surface."""

from __future__ import annotations

from typing import Any

import bpy

Colour = tuple[float, float, float]


class Tree:
    """A material's node tree under construction; `at` is the place on the part, in its own units, `which` is the thing's own number."""

    def __init__(self, name: str) -> None:
        self.material = bpy.data.materials.new(name)
        self.material.use_nodes = True
        self.nodes, self.links = self.material.node_tree.nodes, self.material.node_tree.links
        self.nodes.clear()
        where = self.nodes.new("ShaderNodeTexCoord")
        self.at, self.uv = where.outputs["Object"], where.outputs["UV"]
        index = self.nodes.new("ShaderNodeObjectInfo").outputs["Object Index"]
        spun = self.nodes.new("ShaderNodeTexWhiteNoise")
        spun.noise_dimensions = "1D"
        self.links.new(index, spun.inputs["W"])
        self.which = spun.outputs[0]  # 0 to 1, the same for all parts of one thing

    def put(self, socket: Any, value: Any) -> None:
        """A link where `value` is another node's output, else the value itself."""
        if isinstance(value, bpy.types.NodeSocket):
            self.links.new(value, socket)
        elif isinstance(value, tuple) and len(value) == 3 and len(socket.default_value) == 4:
            socket.default_value = (*value, 1.0)
        else:
            socket.default_value = value

    def node(self, kind: str, /, settings: dict[str, Any] | None = None, **inputs: Any) -> Any:
        """A node `ShaderNode<kind>`; inputs by name with _ for blanks, or `in0`, `in1` by number."""
        made = self.nodes.new(f"ShaderNode{kind}")
        for key, value in (settings or {}).items():
            setattr(made, key, value)
        for key, value in inputs.items():
            name: Any = int(key[2:]) if key[:2] == "in" and key[2:].isdigit() else key.replace("_", " ")
            self.put(made.inputs[name], value)
        return made

    def noise(self, scale: float, *, detail: float = 3, rough: float = 0.55, warp: float = 0.0, at: Any = None) -> Any:
        made = self.node(
            "TexNoise", Scale=scale, Detail=detail, Roughness=rough, Distortion=warp, Vector=at or self.shaken()
        )
        return made.outputs[0]

    def shaken(self) -> Any:
        """The place, moved by another amount for each object, so that no two carry the same pattern."""
        if not hasattr(self, "_shaken"):
            far = self.node("Math", {"operation": "MULTIPLY"}, in0=self.which, in1=37.0).outputs[0]
            self._shaken = self.node("VectorMath", {"operation": "ADD"}, in0=self.at, in1=far).outputs[0]
        return self._shaken

    def stretched(self, x: float, y: float, z: float, at: Any = None) -> Any:
        return self.node("Mapping", Vector=at or self.shaken(), Scale=(x, y, z)).outputs[0]

    def ramp(self, value: Any, *stops: tuple[float, Any]) -> Any:
        """A colour, or a grey where the stops are numbers, for each value."""
        made = self.node("ValToRGB", in0=value)
        steps = made.color_ramp.elements
        while len(steps) < len(stops):
            steps.new(0.5)
        for step, (place, colour) in zip(steps, stops, strict=True):
            step.position = place
            step.color = (colour, colour, colour, 1) if isinstance(colour, (int, float)) else (*colour, 1)
        return made.outputs[0]

    def mix(self, how_much: Any, a: Any, b: Any, blend: str = "MIX") -> Any:
        made = self.node("Mix", {"data_type": "RGBA", "blend_type": blend})
        for place, value in ((0, how_much), (6, a), (7, b)):
            self.put(made.inputs[place], value)
        return made.outputs[2]

    def maths(self, operation: str, a: Any, b: Any = 0.0, *, clamp: bool = False) -> Any:
        return self.node("Math", {"operation": operation, "use_clamp": clamp}, in0=a, in1=b).outputs[0]

    def tinted(self, colour: Any, spread: float = 0.12) -> Any:
        """That colour, a little lighter or darker for each object."""
        value = self.node("MapRange", in0=self.which, in3=1 - spread, in4=1 + spread).outputs[0]
        hue = self.node("MapRange", in0=self.which, in3=0.5 - spread / 12, in4=0.5 + spread / 12).outputs[0]
        return self.node("HueSaturation", Hue=hue, Value=value, Color=colour).outputs[0]

    def bump(self, height: Any, strength: float = 0.3, distance: float = 0.02, under: Any = None) -> Any:
        made = self.node("Bump", Strength=strength, Distance=distance, Height=height)
        if under is not None:
            self.put(made.inputs["Normal"], under)
        return made.outputs[0]

    def done(self, colour: Any, rough: Any = 0.5, *, bump: Any = None, **more: Any) -> Any:
        """The material: a principled surface; `more` are its other inputs."""
        shader = self.node("BsdfPrincipled", Base_Color=colour, Roughness=rough, **more)
        if bump is not None:
            self.put(shader.inputs["Normal"], bump)
        self.node("OutputMaterial", Surface=shader.outputs[0])
        return self.material
