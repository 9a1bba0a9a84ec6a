"""The van round the gearbox: rails, tunnel, exhaust, shaft, undertray, wheels, stands, floor."""

import numpy as np
from hardware import make_hex_screw
from materials import mix_material
from objects import aim, build_mesh, link, put_block, put_pipe, put_solid, put_turned
from solids import Solid, block, rod, web

FLOOR_MM = 660.0
TRAY_FACE_MM = 73.0
TRAY_SCREWS_AT = tuple((x, y) for y in (300, -300) for x in (-330, -110, 110, 330))


def put_strip(name, profile, x_from, x_to, material):
    """A pressed sheet: a line of (y, z) points drawn out along x."""
    profile = np.array(profile, float)
    n = len(profile)
    points = [(x, y, z) for x in (x_from, x_to) for y, z in profile]
    faces = [(i, i + 1, n + i + 1, n + i) for i in range(n - 1)]
    mesh = build_mesh(name, points, faces)
    mesh.set_sharp_from_angle(angle=0.4)
    thing = link(name, mesh, material)
    thick = thing.modifiers.new("thick", "SOLIDIFY")
    thick.thickness = 0.002
    bevel = thing.modifiers.new("edges", "BEVEL")
    bevel.width, bevel.segments = 0.006, 3
    return thing


def put_body():
    """Floor pan with its tunnel and pressed channels, rails and cross members."""
    sheet = mix_material("rusty_steel", rust=0.22, paint="#3B3D3C")
    beam = mix_material("rusty_steel", rust=0.6)
    half = [(330, -190), (300, -200), (250, -330)]
    swages = []
    for y in range(920, 380, -80):
        swages += [(y, -190), (y - 26, -190), (y - 32, -178), (y - 56, -178), (y - 62, -190)]
    left = [*swages, *half]
    profile = left + [(-y, z) for y, z in reversed(left)]
    put_strip("floor pan", profile, -2200, 2400, sheet)
    for side in (-1, 1):
        low, high = sorted((side * 372, side * 452))
        put_block("rail", (-2200, low, -150), (2400, high, -8), beam, 8)
        put_block("sill", (-900, side * 900 - 40, -190), (1600, side * 900 + 40, -40), sheet, 18)
        for x in range(-300, 1400, 170):
            put_turned(
                "rail hole",
                [(0, 0.6), (15, 0.6), (17, 0)],
                mix_material("plain", name="dark", tint="#050505"),
                (x, side * 412, -8),
                aim((0, 0, 1)),
                32,
            )
    put_block("gearbox member", (268, -470, -46), (338, 470, -6), beam, 7)
    put_block("gearbox member rib", (290, -330, -8), (316, 330, 4), beam, 5)
    put_block("front member", (-940, -480, -120), (-800, 480, -20), beam, 16)
    put_block("rear member", (1150, -480, -150), (1230, 480, -70), beam, 10)
    zinc = mix_material("zinc", dirt=0.8)
    for side in (-1, 1):
        for x in (284, 322):
            put_solid(
                "m12",
                lambda: make_hex_screw(18, 13, 11),
                zinc,
                (x, side * 412, -6),
                aim((0, 0, 1), x),
            )
    for x in (284, 322):
        put_solid(
            "m12",
            lambda: make_hex_screw(18, 13, 11),
            zinc,
            (x, 40, 4 if x == 303 else -6),
            aim((0, 0, 1), x),
        )


def put_running_gear():
    """Exhaust, heat shield, shaft, engine sump, brake pipes and hoses."""
    exhaust = mix_material("exhaust_steel")
    put_pipe(
        "exhaust",
        [
            (-1000, -250, -90),
            (-420, -240, -70),
            (-150, -218, -48),
            (250, -225, -58),
            (520, -260, -70),
            (640, -300, -70),
        ],
        27,
        exhaust,
    )
    put_pipe(
        "flexible pipe", [(-420, -240, -70), (-320, -233, -64), (-220, -224, -54)], 34, exhaust, 9
    )
    for x, y, z in ((-190, -221, -50), (120, -218, -52)):
        put_turned(
            "clamp",
            [(28, -14), (30.5, -14), (30.5, 14), (28, 14)],
            mix_material("zinc", dirt=0.7),
            (x, y, z),
            aim((1, 0.05, 0)),
        )
        put_solid(
            "m10",
            lambda: make_hex_screw(15, 10, 9),
            mix_material("zinc", dirt=0.8),
            (x, y + 6, z + 34),
            aim((0.2, 1, 0)),
        )
    put_solid("muffler", make_muffler, exhaust, (940, -320, -60))
    shield = mix_material("plain", name="heat shield", tint="#8C8A86", rough=0.5, metallic=0.8)
    profile = [(-330, -6), (-326, -70), (-300, -108), (-240, -120), (-180, -112), (-160, -90)]
    put_strip("heat shield", profile, -260, 255, shield)
    steel = mix_material("rusty_steel", rust=0.7, paint="#2A2A2A")
    put_turned(
        "shaft", [(0, 0), (34, 0), (34, 1400), (0, 1400)], steel, (395, 0, -135), aim((1, 0, 0))
    )
    put_turned(
        "shaft flange",
        [(0, 0), (54, 0), (56, 2), (56, 20), (40, 22), (38, 52), (0, 52)],
        steel,
        (345, 0, -135),
        aim((1, 0, 0)),
    )
    engine = mix_material("plain", name="engine sump", tint="#191A1B", rough=0.42)
    put_block("engine sump", (-760, -150, -120), (-372, 150, 24), engine, 26)
    put_block(
        "engine block",
        (-800, -170, -300),
        (-345, 170, -110),
        mix_material("cast_aluminium", dirt=0.8),
        14,
    )
    tank = mix_material("plastic", tint="#1A1B1C", dust=0.45)
    put_block("tank", (560, 60, -150), (1140, 360, 40), tank, 40)
    for x in (700, 980):
        put_block("tank strap", (x, 52, -150), (x + 32, 368, 45), mix_material("zinc", dirt=0.9), 4)
    line = mix_material("zinc", dirt=0.6, tint="#8F918E")
    for i in range(3):
        y = 338 - i * 13
        put_pipe(
            "brake pipe",
            [(-1500, y, -182), (-400, y, -182), (100, y, -184), (500, y, -186), (1800, y, -184)],
            3.2,
            line,
        )
    for x in range(-360, 480, 190):
        put_block("pipe clip", (x, 304, -192), (x + 16, 346, -172), mix_material("plastic"), 3)
    hose = mix_material("rubber")
    put_pipe(
        "cooler hose",
        [(-60, -150, -60), (-120, -176, -70), (-260, -186, -90), (-420, -190, -120)],
        8,
        hose,
    )
    put_pipe(
        "cooler pipe",
        [(92, -150, -62), (60, -168, -76), (-100, -182, -96), (-420, -206, -130)],
        6,
        line,
    )
    put_pipe(
        "breather", [(40, 150, -90), (90, 190, -120), (200, 214, -170), (420, 236, -200)], 5, hose
    )
    put_pipe(
        "loom",
        [
            (-1200, 190, -120),
            (-700, 200, -130),
            (-420, 210, -150),
            (-200, 214, -160),
            (60, 206, -150),
            (260, 220, -170),
            (520, 230, -190),
        ],
        8,
        mix_material("plastic"),
        4.2,
    )


def make_muffler():
    solid = Solid((-310, -130, -90), (310, 130, 90), 4)
    solid.add(block((-280, -110, -66), (280, 110, 66), 60))
    for x in (-272, -90, 90, 272):
        solid.add(block((x - 5, -114, -70), (x + 5, 114, 70), 40), 6)
    return solid


def make_tray():
    """The moulded undertray: rim, ribs, slots and dished seats for its screws."""
    solid = Solid((-440, -330, 40), (440, 330, 92), 2.2)
    face = TRAY_FACE_MM
    solid.add(block((-424, -316, face - 4), (424, 316, face), 1.6))
    solid.add(block((-300, -235, face - 4), (300, 235, face + 9), 6), 14)
    solid.cut(block((-294, -229, face - 20), (294, 229, face + 4), 6), 8)
    for y in (-150, -75, 0, 75, 150):
        solid.add(web((-260, y), (260, y), face, face + 13, 9, 0.5, 2.5), 8)
    for x in (-200, 200):
        solid.add(web((x, -190), (x, 190), face, face + 12, 9, 0.5, 2.5), 8)
    for i in range(5):
        for side in (-1, 1):
            x = side * (60 + 26 * i) - 0
            low, high = (x - 6, 168, face - 30), (x + 6, 214, face + 30)
            solid.cut(block(low, high, 5), 2)
    for x, y in TRAY_SCREWS_AT:
        solid.add(rod((x, y, face - 6), (x, y, face + 1.5), 24, 22, 1.2), 6)
        solid.cut(rod((x, y, face - 1.2), (x, y, face + 12), 18, 20, 0.5), 1.5)
    for x in range(-390, 400, 60):
        for y in (-1, 1):
            if min(abs(x - sx) for sx, _ in TRAY_SCREWS_AT) > 34:
                solid.add(web((x, y * 252), (x, y * 306), face - 2, face + 5, 5, 0.4, 1.5), 4)
    return solid


def put_tray():
    put_solid(
        "tray", make_tray, mix_material("plastic", tint="#121314", rough=0.5, dust=0.45, grain=900)
    )
    zinc = mix_material("zinc", dirt=0.7)
    for x, y in TRAY_SCREWS_AT:
        put_solid(
            "tray screw",
            lambda: make_hex_screw(10, 7.4, 6.5, 2.0, 14.5),
            zinc,
            (x, y, TRAY_FACE_MM - 1),
            aim((0, 0, 1), (x + y) % 60),
        )
        put_block(
            "tray seat",
            (x - 22, y - 20, 20),
            (x + 22, y + 20, 68),
            mix_material("rusty_steel", rust=0.5),
            4,
        )
        high = y + 90 if y > 0 else y - 90
        put_block(
            "tray arm",
            (x - 20, min(y, high), 16),
            (x + 20, max(y, high), 22),
            mix_material("rusty_steel", rust=0.5),
            2,
        )


def put_wheels():
    tyre, rim = mix_material("rubber"), mix_material("zinc", dirt=0.6)
    profile = [
        (205, -98),
        (260, -112),
        (318, -108),
        (338, -92),
        (344, -60),
        (338, -56),
        (338, -48),
        (345, -44),
        (346, -6),
        (339, -4),
        (339, 4),
        (346, 6),
        (345, 44),
        (338, 48),
        (338, 56),
        (344, 60),
        (338, 92),
        (318, 108),
        (260, 112),
        (205, 98),
    ]
    for x in (-1150, 1750):
        for side in (-1, 1):
            at = (x, side * 790, 60)
            put_turned("tyre", profile, tyre, at, aim((0, 1, 0)), 96)
            put_turned(
                "rim",
                [(0, -20), (70, -22), (90, 0), (160, 10), (196, -60), (212, -96), (212, 96)],
                rim,
                at,
                aim((0, -side, 0)),
                64,
            )
        put_block(
            "axle", (x - 45, -700, 0), (x + 45, 700, 90), mix_material("rusty_steel", rust=0.8), 20
        )


def put_stand(x, y):
    red = mix_material("plain", name="stand", tint="#7A1E14", rough=0.45)
    top = -8
    for dx in (-1, 1):
        for dy in (-1, 1):
            put_pipe(
                "stand leg",
                [
                    (x + dx * 120, y + dy * 110, FLOOR_MM - 8),
                    (x + dx * 72, y + dy * 66, FLOOR_MM - 190),
                    (x + dx * 24, y + dy * 22, FLOOR_MM - 370),
                ],
                12,
                red,
            )
    for dx in (-1, 1):
        put_block(
            "stand foot",
            (x + dx * 124 - 16, y - 124, FLOOR_MM - 8),
            (x + dx * 124 + 16, y + 124, FLOOR_MM),
            red,
            3,
        )
    put_block(
        "stand head", (x - 34, y - 32, FLOOR_MM - 410), (x + 34, y + 32, FLOOR_MM - 350), red, 6
    )
    put_block(
        "stand column",
        (x - 16, y - 16, top + 24),
        (x + 16, y + 16, FLOOR_MM - 320),
        mix_material("zinc", dirt=0.8),
        3,
    )
    put_block(
        "stand saddle",
        (x - 50, y - 44, top),
        (x + 50, y + 44, top + 24),
        mix_material("zinc", dirt=0.8),
        5,
    )


def put_garage():
    """Floor, walls and a few things standing about, mostly out of focus."""
    put_block(
        "floor", (-6000, -6000, FLOOR_MM), (6000, 6000, FLOOR_MM + 20), mix_material("concrete"), 0
    )
    wall = mix_material("plain", name="wall", tint="#8F8779", rough=0.85)
    put_block("far wall", (-6000, -3220, -2200), (6000, -3200, FLOOR_MM), wall, 0)
    put_block("side wall", (-4200, -3200, -2200), (-4180, 4000, FLOOR_MM), wall, 0)
    put_block("other wall", (4200, -3200, -2200), (4220, 4000, FLOOR_MM), wall, 0)
    rack = mix_material("plain", name="rack", tint="#2E3338", rough=0.5, metallic=0.3)
    for shelf in (0, 1, 2):
        z = FLOOR_MM - 120 - 560 * shelf
        put_block("shelf", (-3300, -3180, z), (3300, -2640, z + 30), rack, 4)
        _fill_shelf(z, 30 + shelf)
    for x in range(-3300, 3301, 1100):
        put_block("upright", (x - 25, -2690, -1400), (x + 25, -2640, FLOOR_MM), rack, 4)


def _fill_shelf(z, seed):
    """Cartons and tins standing on a shelf at z, with gaps."""
    rng = np.random.default_rng(seed)
    tints = ("#6B5740", "#6B5740", "#7A664C", "#3A4A58", "#4E2A24", "#55584E", "#2E3032")
    x = -3250
    while x < 3200:
        tint = tints[rng.integers(len(tints))]
        wide, tall = rng.uniform(120, 380), rng.uniform(120, 400)
        paint = mix_material("plain", name="goods", tint=tint, rough=0.7)
        if rng.random() < 0.4:
            radius, tall = wide * 0.3, tall * 0.6
            put_turned(
                "tin",
                [(0, 0), (radius, 0), (radius, tall), (0, tall)],
                paint,
                (x + radius, -2860, z),
                aim((0, 0, -1)),
                32,
            )
            wide = 2 * radius
        else:
            put_block("carton", (x, -3000, z - tall), (x + wide, -2740, z), paint, 4)
        x += wide + rng.choice((8, 20, 200)) * rng.uniform(0.5, 1.4)


def put_catch_tray(at, fluid_mm=0.0, tint="#3A130C"):
    """A low black drain pan; `at` is the middle of its floor, its rim towards -z."""
    black = mix_material("plastic", tint="#161718", rough=0.38, dust=0.15)
    profile = [
        (0, 0),
        (170, 0),
        (182, 6),
        (200, 84),
        (212, 90),
        (216, 88),
        (206, 78),
        (190, 3),
        (176, -6),
        (0, -6),
    ]
    put_turned("catch tray", profile, black, at, aim((0, 0, -1)), 96)
    if fluid_mm:
        wet = mix_material("fluid", tint=tint, depth=0.15)
        radius = 172 + 0.24 * fluid_mm
        put_turned(
            "old fluid",
            [(0, fluid_mm), (radius, fluid_mm), (radius + 3, fluid_mm + 0.6)],
            wet,
            at,
            aim((0, 0, -1)),
        )


def put_mechanics_lamp(at, turn_deg=0):
    """A stick lamp lying on the floor, lit."""
    x, y, z = at
    black = mix_material("rubber")
    from materials import glow

    turn = aim((0, 0, 1), turn_deg)
    put_block("lamp body", (-150, -22, -18), (150, 22, 18), black, 8, turn, at)
    put_block(
        "lamp glass", (-120, -16, -3), (130, 16, 3), glow("#FFE2B8", 26), 2, turn, (x, y, z - 18)
    )
    hook = [(x - 150, y, z), (x - 190, y, z), (x - 205, y + 20, z - 6), (x - 190, y + 36, z - 8)]
    put_pipe("lamp hook", hook, 3.5, mix_material("zinc"))
