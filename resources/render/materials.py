"""Materials of the garage: cast aluminium, zinc, steel, plastic, rubber, cloth, fluid, concrete."""

import functools

import bpy


def srgb(text: str) -> tuple[float, float, float, float]:
    """A colour written as #RRGGBB, in the linear numbers the renderer wants."""
    parts = [int(text[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return (*linear, 1.0)


class Recipe:
    """Builds one node material step by step; scales are per metre of the object."""

    def __init__(self, name: str):
        self.material = bpy.data.materials.new(name)
        self.material.use_nodes = True
        self.tree = self.material.node_tree
        self.shader = self.tree.nodes["Principled BSDF"]
        self.place = self.tree.nodes.new("ShaderNodeTexCoord").outputs["Object"]

    def node(self, kind: str, **inputs):
        node = self.tree.nodes.new(kind)
        for name, value in inputs.items():
            self.feed(node, name.replace("_", " "), value)
        return node

    def feed(self, node, name, value):
        if isinstance(value, bpy.types.NodeSocket):
            self.tree.links.new(value, node.inputs[name])
        else:
            node.inputs[name].default_value = value

    def set(self, **inputs):
        for name, value in inputs.items():
            self.feed(self.shader, name.replace("_", " "), value)
        return self

    def noise(self, scale, detail=4.0, roughness=0.6, place=None):
        node = self.node("ShaderNodeTexNoise", Scale=scale, Detail=detail, Roughness=roughness)
        self.tree.links.new(place or self.place, node.inputs["Vector"])
        return node.outputs["Fac"]

    def stretch(self, x, y, z):
        """The place with its axes scaled: for brushed and streaked surfaces."""
        node = self.node("ShaderNodeMapping", Scale=(x, y, z))
        self.tree.links.new(self.place, node.inputs["Vector"])
        return node.outputs["Vector"]

    def ramp(self, value, low, high, to_low=0.0, to_high=1.0):
        node = self.node("ShaderNodeMapRange")
        node.clamp = True
        self.feed(node, "Value", value)
        for name, number in (
            ("From Min", low),
            ("From Max", high),
            ("To Min", to_low),
            ("To Max", to_high),
        ):
            node.inputs[name].default_value = number
        return node.outputs["Result"]

    def mix(self, share, first, second):
        node = self.tree.nodes.new("ShaderNodeMix")
        node.data_type = "RGBA"
        self.feed(node, 0, share)
        self.feed(node, 6, first)
        self.feed(node, 7, second)
        return node.outputs[2]

    def sums(self, operation, first, second):
        node = self.tree.nodes.new("ShaderNodeMath")
        node.operation = operation
        self.feed(node, 0, first)
        self.feed(node, 1, second)
        return node.outputs[0]

    def find_milled(self, heights_mm):
        """1 on level faces at the given heights of the part, else 0."""
        at = self.node("ShaderNodeSeparateXYZ", Vector=self.place).outputs["Z"]
        coordinates = self.tree.nodes.new("ShaderNodeTexCoord")
        lean = self.node("ShaderNodeSeparateXYZ", Vector=coordinates.outputs["Normal"]).outputs["Z"]
        level = self.ramp(self.sums("ABSOLUTE", lean, 0.0), 0.93, 0.985)
        near = 0.0
        for height in heights_mm:
            off = self.sums("ABSOLUTE", self.sums("SUBTRACT", at, height / 1000), 0.0)
            near = self.sums("MAXIMUM", near, self.ramp(off, 0.00022, 0.0004, 1, 0))
        return self.sums("MULTIPLY", level, near)

    def crevices(self, reach_m):
        """1 in the open, towards 0 in corners: where dirt gathers."""
        node = self.node("ShaderNodeAmbientOcclusion", Distance=reach_m)
        node.samples = 1
        return node.outputs["AO"]

    def bump(self, height, depth_m, strength=1.0):
        node = self.node("ShaderNodeBump", Strength=strength, Distance=depth_m)
        self.tree.links.new(height, node.inputs["Height"])
        self.tree.links.new(node.outputs["Normal"], self.shader.inputs["Normal"])
        return self


def cast_aluminium(dirt=0.5, tint="#A9A8A4", grime="#2A241D", milled_mm=()):
    """Sand-cast alloy: grainy, mottled, dark in its corners, oily here and there.

    Level faces at the heights `milled_mm` of the part are bright from the mill.
    """
    r = Recipe("cast aluminium")
    grain, blotch = r.noise(1500, 3), r.noise(28, 5, 0.65)
    colour = r.mix(r.ramp(blotch, 0.3, 0.7), srgb(tint), srgb("#85827C"))
    colour = r.mix(r.ramp(r.noise(420, 4), 0.35, 0.7, 0, 0.35), colour, srgb("#6E6A64"))
    corners = r.ramp(r.crevices(0.016), 0.35, 0.95, 1, 0)
    patches = r.ramp(r.noise(14, 6, 0.7), 0.5, 0.72)
    share = r.sums("MAXIMUM", corners, r.sums("MULTIPLY", patches, 0.6))
    share = r.sums("MULTIPLY", share, r.ramp(r.noise(160, 4), 0.25, 0.65, 0.45, 1))
    share = r.sums("MULTIPLY", share, dirt)
    oily = r.ramp(r.noise(9, 3), 0.52, 0.66, 0, 0.18 * min(1, dirt * 1.6))
    rough = r.sums("SUBTRACT", r.ramp(blotch, 0.3, 0.7, 0.46, 0.62), oily)
    rough = r.sums("ADD", rough, r.sums("MULTIPLY", share, 0.18))
    height = r.sums("ADD", grain, r.sums("MULTIPLY", r.noise(260, 4), 1.4))
    if milled_mm:
        milled = r.find_milled(milled_mm)
        colour = r.mix(
            milled, colour, r.mix(r.ramp(blotch, 0.3, 0.7), srgb("#C6C5C1"), srgb("#B0ADA6"))
        )
        rough = r.sums(
            "ADD",
            r.sums("MULTIPLY", rough, r.ramp(milled, 0, 1, 1, 0)),
            r.sums("MULTIPLY", milled, 0.33),
        )
        height = r.sums("MULTIPLY", height, r.ramp(milled, 0, 1, 1, 0.12))
        share = r.sums("MULTIPLY", share, r.ramp(milled, 0, 1, 1, 0.35))
    r.set(
        Base_Color=r.mix(share, colour, srgb(grime)),
        Metallic=r.ramp(share, 0, 0.9, 0.85, 0.1),
        Roughness=rough,
    )
    return r.bump(height, 0.00035, 0.5).material


def machined_aluminium():
    """A milled sealing face: bright, with fine tool marks."""
    r = Recipe("machined aluminium")
    marks = r.noise(700, 3)
    r.set(
        Base_Color=r.mix(r.ramp(r.noise(40, 4), 0.4, 0.7), srgb("#C9C8C4"), srgb("#B5B2AB")),
        Metallic=1.0,
        Roughness=r.ramp(marks, 0.3, 0.7, 0.26, 0.34),
    )
    return r.bump(marks, 0.00004, 0.25).material


def zinc(dirt=0.35, tint="#CDD0D4"):
    """Zinc-plated screws and brackets, a little stained."""
    r = Recipe("zinc")
    stain = r.noise(180, 5, 0.65)
    colour = r.mix(r.ramp(stain, 0.35, 0.7), srgb(tint), srgb("#8E8C84"))
    corners = r.sums("MULTIPLY", r.ramp(r.crevices(0.005), 0.3, 0.9, 1, 0), dirt)
    rust = r.sums("MULTIPLY", r.ramp(r.noise(420, 5, 0.7), 0.62, 0.7), dirt)
    colour = r.mix(corners, colour, srgb("#2B2620"))
    r.set(
        Base_Color=r.mix(rust, colour, srgb("#6B4326")),
        Metallic=r.ramp(r.sums("ADD", corners, rust), 0, 0.8, 0.95, 0.2),
        Roughness=r.ramp(stain, 0.3, 0.75, 0.2, 0.4),
    )
    return r.bump(r.noise(2600, 2), 0.00006, 0.35).material


def rusty_steel(rust=0.5, paint="#1E1F20"):
    """Painted underbody steel with rust coming through, road dust on top."""
    r = Recipe("underbody steel")
    spots = r.sums("ADD", r.noise(9, 9, 0.78), r.sums("MULTIPLY", r.noise(120, 5, 0.7), 0.35))
    through = r.ramp(spots, 0.78 - 0.14 * rust, 0.92 - 0.12 * rust)
    browns = r.mix(r.ramp(r.noise(90, 5), 0.3, 0.7), srgb("#33231A"), srgb("#5C402C"))
    dusty = r.ramp(r.noise(5, 5), 0.4, 0.75, 0, 0.5)
    colour = r.mix(dusty, srgb(paint), srgb("#5A5044"))
    r.set(
        Base_Color=r.mix(r.sums("MULTIPLY", through, min(1, rust * 1.6)), colour, browns),
        Roughness=r.ramp(through, 0, 1, 0.5, 0.9),
        Metallic=0.0,
    )
    height = r.sums("ADD", r.sums("MULTIPLY", through, 0.8), r.noise(300, 4))
    return r.bump(height, 0.0006, 0.7).material


def exhaust_steel():
    """Stainless pipe gone straw and brown with heat."""
    r = Recipe("exhaust steel")
    heat = r.noise(7, 5, 0.6)
    colour = r.mix(r.ramp(heat, 0.35, 0.65), srgb("#8F8577"), srgb("#5B4A3A"))
    spots = r.ramp(r.noise(130, 6, 0.7), 0.6, 0.7, 0, 0.8)
    r.set(
        Base_Color=r.mix(spots, colour, srgb("#50301C")),
        Metallic=r.ramp(spots, 0, 0.8, 0.85, 0.2),
        Roughness=r.ramp(r.noise(60, 4), 0.3, 0.7, 0.36, 0.62),
    )
    return r.bump(r.noise(240, 4), 0.0003, 0.4).material


def plastic(tint="#141517", rough=0.48, dust=0.25, grain=1400):
    """Moulded plastic with a fine grain and dust."""
    r = Recipe("plastic")
    dusty = r.ramp(r.noise(11, 7, 0.75), 0.5, 0.8, 0, dust * 0.7)
    corners = r.ramp(r.crevices(0.02), 0.4, 0.95, dust, 0)
    share = r.sums("MAXIMUM", dusty, corners)
    r.set(
        Base_Color=r.mix(share, srgb(tint), srgb("#4E463B")),
        Roughness=r.sums("ADD", r.ramp(r.noise(40, 4), 0.3, 0.7, rough, rough + 0.14), share),
    )
    return r.bump(r.noise(grain, 2), 0.00018, 0.5).material


def rubber(tint="#101010"):
    return plastic(tint, 0.62, 0.3, 700)


def plain(name, tint, rough=0.5, metallic=0.0):
    """A single colour with slightly uneven gloss."""
    r = Recipe(name)
    r.set(
        Base_Color=srgb(tint),
        Metallic=metallic,
        Roughness=r.ramp(r.noise(120, 4), 0.3, 0.7, rough - 0.06, rough + 0.08),
    )
    return r.material


def copper():
    return plain("copper", "#B86F45", 0.34, 1.0)


def gasket_fibre():
    r = Recipe("gasket")
    r.set(
        Base_Color=r.mix(r.ramp(r.noise(500, 4), 0.3, 0.7), srgb("#101214"), srgb("#1D2023")),
        Roughness=0.55,
    )
    return r.bump(r.noise(1800, 2), 0.00012, 0.4).material


def cloth(tint="#74797E"):
    """A folded workshop cloth with its weave."""
    r = Recipe("cloth")
    waves = []
    for direction in ("X", "Y"):
        node = r.node("ShaderNodeTexWave", Scale=330.0, Distortion=1.2, Detail=2.0)
        node.bands_direction = direction
        r.tree.links.new(r.place, node.inputs["Vector"])
        waves.append(node.outputs["Fac"])
    weave = r.sums("MULTIPLY", *waves)
    stains = r.ramp(r.noise(9, 6, 0.7), 0.55, 0.72, 0, 0.55)
    colour = r.mix(weave, srgb("#5A5F64"), srgb(tint))
    r.set(Base_Color=r.mix(stains, colour, srgb("#332B22")), Roughness=0.95)
    r.set(Sheen_Weight=0.25)
    return r.bump(r.sums("ADD", weave, r.noise(900, 3)), 0.0004, 0.8).material


def bench_wood():
    """A workbench top of oiled boards, scratched and spotted."""
    r = Recipe("bench wood")
    fibres = r.noise(34, 8, 0.62, place=r.stretch(0.12, 3.2, 3.2))
    fine = r.noise(420, 4, place=r.stretch(0.05, 1, 1))
    colour = r.mix(r.ramp(fibres, 0.3, 0.72), srgb("#57432F"), srgb("#7D6850"))
    colour = r.mix(r.ramp(fine, 0.45, 0.7, 0, 0.4), colour, srgb("#4A3320"))
    oil = r.ramp(r.noise(6, 6, 0.7), 0.5, 0.68, 0, 0.8)
    r.set(
        Base_Color=r.mix(oil, colour, srgb("#221A13")),
        Roughness=r.ramp(oil, 0, 0.8, 0.62, 0.4),
    )
    return r.bump(r.sums("ADD", fibres, fine), 0.0007, 0.6).material


def concrete():
    """A garage floor: worn, cracked, with oil spots."""
    r = Recipe("concrete")
    base = r.mix(r.ramp(r.noise(3.5, 8, 0.62), 0.3, 0.7), srgb("#5C5852"), srgb("#7E7970"))
    base = r.mix(r.ramp(r.noise(160, 5), 0.4, 0.7, 0, 0.4), base, srgb("#5E5A54"))
    oil = r.ramp(r.noise(2.1, 5, 0.6), 0.56, 0.66, 0, 0.85)
    r.set(
        Base_Color=r.mix(oil, base, srgb("#24201C")),
        Roughness=r.ramp(oil, 0, 0.8, 0.78, 0.4),
    )
    return r.bump(r.sums("ADD", r.noise(220, 6), r.noise(30, 5)), 0.0012, 0.6).material


def fluid(tint="#8E1C14", depth=0.4):
    """Gearbox fluid: clear, oily, red when new and brown when old."""
    r = Recipe("fluid")
    r.set(Base_Color=srgb(tint), Roughness=0.03, IOR=1.47, Transmission_Weight=depth)
    r.set(Coat_Weight=0.6, Coat_Roughness=0.03)
    return r.material


def clear_plastic(tint="#F4F6F4", rough=0.04):
    r = Recipe("clear plastic")
    r.set(Base_Color=srgb(tint), Roughness=rough, IOR=1.35, Transmission_Weight=1.0)
    return r.material


def magnet_paste():
    """Grey paste of fine wear on a magnet: wet, matt at the edges."""
    r = Recipe("magnet paste")
    r.set(
        Base_Color=r.mix(r.ramp(r.noise(300, 4), 0.3, 0.7), srgb("#2C2D2F"), srgb("#4C4E50")),
        Metallic=0.35,
        Roughness=r.ramp(r.noise(180, 4), 0.35, 0.65, 0.22, 0.55),
    )
    return r.bump(r.noise(500, 5, 0.7), 0.0007, 0.9).material


def filter_felt():
    r = Recipe("filter felt")
    r.set(
        Base_Color=r.mix(r.noise(700, 5), srgb("#6B5337"), srgb("#8D7350")),
        Roughness=0.85,
    )
    return r.bump(r.noise(1100, 4), 0.0005, 0.8).material


def paint_pen():
    """The magenta of the paint pen, slightly glossy."""
    return plain("paint pen", "#A00A5C", 0.45)


def glow(tint, strength):
    r = Recipe("lamp")
    r.set(Base_Color=(0, 0, 0, 1), Emission_Color=srgb(tint), Emission_Strength=strength)
    return r.material


MAKERS = {
    maker.__name__: maker
    for maker in (
        cast_aluminium,
        machined_aluminium,
        zinc,
        rusty_steel,
        exhaust_steel,
        plain,
        plastic,
        rubber,
        copper,
        gasket_fibre,
        cloth,
        bench_wood,
        concrete,
        fluid,
        clear_plastic,
        magnet_paste,
        filter_felt,
        paint_pen,
    )
}


@functools.cache
def mix_material(kind: str, **choices):
    """One material by its maker's name, made once a scene (cleared by `forget`)."""
    return MAKERS[kind](**choices)


def forget():
    """Call when a new scene starts: the old scene's materials are gone."""
    mix_material.cache_clear()
