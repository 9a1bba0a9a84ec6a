"""The gearbox above the cover: casing, valve body, filter, and what is fastened to the casing."""

import numpy as np
from cover import (
    DRAIN_AT,
    FLANGE_FACE_MM,
    FLOOR_MM,
    LEVEL_AT,
    PAD_FACE_MM,
    TALL_FACE_MM,
    make_cover,
    make_gasket,
    make_prism,
    read_plan,
)
from hardware import (
    make_band_screw,
    make_copper_ring,
    make_drain_plug,
    make_hex_screw,
    make_level_plug,
    put_all_cover_screws,
)
from materials import mix_material
from objects import aim, put_block, put_pipe, put_solid, put_turned, put_words
from screw_table import read_screws
from solids import Shape, Solid, block, rod, web

BAND_AT = (190.0, 10.0, 2.0)
SENSOR_AT = (-190.0, -20.0, 0.0)
TUBE_SCREW_AT = (-168.0, 136.0, -39.0)
BRACKET_SCREWS_AT = ((112.0, 138.0, -5.0), (168.0, 122.0, -5.0))
FILTER_SCREWS_AT = ((-92.0, 42.0), (64.0, 44.0), (-20.0, -62.0))
AXIS_MM = -135.0


def make_casing():
    """The cast casing: bell housing at the front (low x), tail at the rear."""
    plan = read_plan()
    solid = Solid((-345, -192, -250.4), (345, 192, 46), 1.5)
    solid.add(rod((-175, 0, AXIS_MM), (178, 0, AXIS_MM), 116, 108, 8))
    solid.add(rod((-330, 0, AXIS_MM), (-165, 0, AXIS_MM), 168, 112, 6), 20)
    solid.add(rod((-344, 0, AXIS_MM), (-326, 0, AXIS_MM), 178, edge=3), 6)
    solid.add(rod((165, 0, AXIS_MM), (262, 0, AXIS_MM), 104, 66, 6), 20)
    solid.add(rod((255, 0, AXIS_MM), (345, 0, AXIS_MM), 58, 54, 4), 14)

    def rail(x, y):
        return plan.flange_at(x, y) - 0.5

    solid.add(make_prism(rail, -13, 0, 1.5), 4)

    def skirt(x, y):
        return plan.line_at(x, y) + 1

    solid.add(make_prism(skirt, -120, -4, 4, -0.06, 0), 7)
    for s in read_screws():
        at = (s.x_mm, s.y_mm)
        solid.add(rod((*at, -48), (*at, 0), 8, 11, 1.5), 5)
    _add_casing_ribs(solid)
    _add_lugs(solid)

    def sealing(x, y):
        return plan.flange_at(x, y) - 3

    # The sealing face is milled: no fillet stands above it.
    solid.cut(make_prism(sealing, 0, 9, 0.1))

    def hollow(x, y):
        return plan.pan_at(x, y) + 0.5

    solid.cut(make_prism(hollow, -66, 8, 5), 1.2)
    for s in read_screws():
        at = (s.x_mm, s.y_mm)
        solid.cut(rod((*at, -30), (*at, 8), 2.7, edge=0.1), 0.9)
    return solid


def _add_casing_ribs(solid):
    for x in (-120, -60, 0, 60, 120):
        solid.add(_cross_rib(x, 123), 6)
    for z in (-40, -78):
        for side in (-1, 1):
            solid.add(block((-170, side * 121 - 4, z - 3), (172, side * 121 + 4, z + 3), 2), 6)
    for angle in range(0, 360, 20):
        turn = np.radians(angle + 10)
        y, z = np.cos(turn), np.sin(turn)
        start = (-328, 170 * y, AXIS_MM + 170 * z)
        end = (-190, 112 * y, AXIS_MM + 112 * z)
        solid.add(rod(start, end, 4.5, 4.0, 2), 7)
        bolt = (172 * np.cos(turn + 0.17), AXIS_MM + 172 * np.sin(turn + 0.17))
        if angle % 40 == 0:
            solid.add(rod((-344, *bolt), (-312, *bolt), 13, 10, 2), 8)
    for angle in range(0, 360, 30):
        turn = np.radians(angle + 15)
        y, z = np.cos(turn), np.sin(turn)
        start, end = (170, 104 * y, AXIS_MM + 104 * z), (300, 58 * y, AXIS_MM + 58 * z)
        solid.add(rod(start, end, 4.0, 3.4, 2), 7)


def _cross_rib(x, radius):
    def distance(px, y, z):
        across = np.hypot(y, z - AXIS_MM) - radius
        return np.maximum(across, np.abs(px - x) - 3.2 + 0.05 * (across + 20)) + 0 * px

    return Shape(distance, (x - 5, -radius, AXIS_MM - radius), (x + 5, radius, AXIS_MM + radius))


def _add_boss(solid, root, face, root_radius, radius):
    """A leaning stem that ends in a short upright boss, so that its face is level."""
    x, y, z = face
    solid.add(rod(root, (x, y, z - 9), root_radius, radius, 2), 9)
    solid.add(rod((x, y, z - 20), face, radius + 1, radius, 1.2), 3)


def _add_lugs(solid):
    """Bosses for what is screwed to the casing, each with a flat face."""
    x, y, z = BAND_AT
    _add_boss(solid, (x - 6, y, -80), (x, y, z), 18, 14)
    solid.add(web((150, 10), (x, y), -50, -8, 8, 0.08), 8)
    x, y, z = SENSOR_AT
    _add_boss(solid, (x + 4, y, -70), (x, y, z), 18, 15)
    solid.add(rod((-170, 34, -34), (-193, 80, -38), 19, 16, 1.5), 9)
    solid.cut(rod((-190, 74, -37), (-205, 104, -39), 11.2, edge=0.2), 0.8)
    x, y, z = TUBE_SCREW_AT
    _add_boss(solid, (x + 14, y - 30, -130), (x, y, z - 3), 16, 11)
    for x, y, z in BRACKET_SCREWS_AT:
        _add_boss(solid, (x - 6, y - 34, -120), (x, y, z - 3), 16, 12)
    # A test port with its plug's seat, a cast pad and a few drillings closed with balls.
    solid.add(rod((-60, -118, -60), (-60, -138, -42), 15, 12, 1.2), 8)
    solid.add(rod((40, 112, -60), (40, 132, -52), 16, 13, 1.2), 8)
    solid.add(block((64, -140, -76), (120, -112, -44), 3), 8)


def make_valve_body():
    """Channels, ribs and bolt bosses of the valve body inside the casing."""
    plan = read_plan()
    solid = Solid((-165, -120, -60), (165, 120, -8), 0.9)

    def plate(x, y):
        return plan.pan_at(x, y) + 9

    solid.add(make_prism(plate, -58, -42, 2))
    rng = np.random.default_rng(7)
    for y in range(-92, 100, 15):
        x = -135.0 + rng.uniform(0, 20)
        while x < 128:
            reach = rng.uniform(25, 70)
            end = min(x + reach, 136)
            solid.add(web((x, y), (end, y), -46, -27, 3.4, 0.05, 0.8), 2)
            if rng.random() < 0.8:
                other = y + 15 * (1 if rng.random() < 0.6 else -1)
                solid.add(
                    web((end, y), (end, np.clip(other, -95, 95)), -46, -27, 3.2, 0.05, 0.8), 2
                )
            x = end + rng.uniform(4, 12)
    for _ in range(26):
        at = (rng.uniform(-132, 132), rng.uniform(-90, 90))
        solid.add(rod((*at, -46), (*at, -25), 7, 6, 0.8), 3)
        solid.cut(rod((*at, -40), (*at, -10), 2.6, edge=0.1), 0.4)

    def within(x, y, z):
        return plan.pan_at(x, y) + 8 + 0 * z

    low, high = (-165, -120, -60), (165, 120, -8)
    kept = Shape(lambda x, y, z: -within(x, y, z), low, high)
    return solid.cut(kept, 1.0)


def make_filter():
    """A flat moulded filter: ribbed lid, a suction snout, three ears for its screws."""
    solid = Solid((-125, -90, -26), (100, 80, 4), 0.7)
    solid.add(block((-104, -46, -22), (56, 52, -9), 4))
    solid.add(block((-60, -62, -22), (80, 20, -9), 4), 10)
    solid.add(rod((-86, -50, -22), (-86, -50, -9), 26, 24, 3), 10)
    for x in range(-92, 76, 14):
        solid.add(web((x, -34), (x, 40), -12, -6.5, 2, 0.1, 0.6), 1.5)
    for y in (-30, 2, 34):
        solid.add(web((-92, y), (64, y), -12, -7.2, 2, 0.1, 0.6), 1.5)
    solid.cut(block((-24, -16, -11), (30, 16, 4), 2), 1)
    for at in FILTER_SCREWS_AT:
        solid.add(rod((*at, -20), (*at, -13), 11, 10, 1), 6)
        solid.cut(rod((*at, -13), (*at, 4), 9.5, edge=0.3), 0.5)
    solid.add(rod((-86, -50, -10), (-86, -50, -4), 13, 12, 1), 2)
    return solid


def make_selector_bracket():
    """A pressed plate: feet on the casing's lugs, a tongue down on the flange, a cable fork."""
    solid = Solid((88, 84, -12), (192, 176, 46), 0.6)
    low, high = -8.0, -5.0
    solid.add(web(BRACKET_SCREWS_AT[0][:2], BRACKET_SCREWS_AT[1][:2], low, high, 26, 0, 0.5))
    turn = float(np.degrees(np.arctan2(-18, 48)))
    out = np.array((0.351, 0.936))
    middle = np.array((122, 93))

    def plate(offset, half_along, half_out, bottom, top):
        at = middle + out * offset
        half = np.array((half_along, half_out))
        return block((*(at - half), bottom), (*(at + half), top), 0.5, turn)

    solid.add(plate(8, 13, 14, 9.0, 12.0))
    solid.add(plate(21, 13, 1.6, -8, 12.0), 2.5)
    solid.add(plate(28, 13, 8, -8, -5), 2.5)
    solid.add(web(middle - out * 2, middle + out * 20, 11, 13.6, 3, 0.1, 0.8), 3)
    # The fork stands up at the outer edge, its slot open towards the viewer.
    solid.add(block((138, 128, -8), (141.2, 166, 34), 0.6), 2.0)
    solid.add(block((126, 140, -8), (152, 160, -5), 0.6), 2.0)
    solid.cut(rod((130, 148, 16), (150, 148, 16), 6.6, edge=0.1), 0.2)
    solid.cut(block((130, 143.5, 16), (150, 152.5, 40), 0.3), 0.4)
    for at in BRACKET_SCREWS_AT:
        solid.cut(rod((*at[:2], -20), (*at[:2], 8), 4.4, edge=0.1), 0.2)
    return solid


def make_plug():
    """A three-way plug seen from its wire side, with latch ribs; the lock is a part of its own."""
    solid = Solid((-20, -16, -2), (20, 16, 34), 0.3)
    solid.add(block((-13, -9, 2), (13, 9, 22), 1.6))
    solid.add(block((-14.5, -10.5, 2), (14.5, 10.5, 7), 1.2), 0.6)
    solid.add(block((-10, -7, 20), (10, 7, 30), 2), 1)
    for x in (-8, 0, 8):
        solid.cut(rod((x, 0, 26), (x, 0, 40), 2.8, edge=0.1), 0.3)
    for x in (-12, 12):
        for z in (11, 14, 17):
            solid.add(block((x - 2, -5, z - 0.6), (x + 2, 5, z + 0.6), 0.4), 0.2)
    solid.add(block((-6, 8, 5), (6, 12.2, 23), 0.8), 0.6)
    solid.cut(block((-4.4, 10, 7), (4.4, 14, 19), 0.4), 0.2)
    return solid


def make_plug_lock():
    """The grey sliding lock across the plug's latch."""
    solid = Solid((-14, 5, 8), (14, 22, 32), 0.3)
    solid.add(block((-8.6, 9, 17), (8.6, 14.6, 26.5), 0.9))
    solid.add(block((-3.6, 11, 9), (3.6, 13.4, 19), 0.5), 0.4)
    for z in (19, 21, 23, 25):
        solid.add(block((-6.5, 14, z - 0.5), (6.5, 15.6, z + 0.5), 0.4), 0.3)
    return solid


def put_casing(dirt=0.55):
    put_solid(
        "casing",
        make_casing,
        mix_material("cast_aluminium", dirt=dirt, milled_mm=(0.0, BAND_AT[2])),
    )
    zinc = mix_material("zinc", dirt=0.7)
    for angle in range(0, 360, 40):
        turn = np.radians(angle + 10) + 0.17
        at = (-311, 172 * np.cos(turn), AXIS_MM + 172 * np.sin(turn))
        put_solid("m10", lambda: make_hex_screw(15, 10, 9), zinc, at, aim((1, 0, 0), angle))
    put_solid(
        "test plug", lambda: make_hex_screw(13, 9, 8), zinc, (-60, -137, -43), aim((0, -20, 18))
    )
    put_solid("m10", lambda: make_hex_screw(15, 10, 9), zinc, (40, 131, -52.5), aim((0, 20, 8)))


def put_band_screw():
    turn = aim((0, 0, 1), 17)
    put_solid("band screw", make_band_screw, mix_material("zinc", dirt=0.5), BAND_AT, turn)


def put_sensor(unplugged=False):
    black = mix_material("plastic", tint="#17181A", rough=0.42, dust=0.3)
    grey = mix_material("plastic", tint="#8D9193", rough=0.45, dust=0.12)
    x, y, _ = SENSOR_AT
    put_turned("sensor", [(0, 4), (12.5, 4), (12.5, 0), (14, 0), (14, -2)], black, (x, y, 1))
    at = (x, y, 2) if not unplugged else (x - 12, y - 44, 10)
    turn = aim((0, 0, 1), 40)
    put_solid("plug", make_plug, black, at, turn)
    put_solid("plug lock", make_plug_lock, grey, at, turn)
    for i, tint in enumerate(("#7A2F23", "#2F5B7A", "#8A7A3A")):
        spread = (i - 1) * 8
        cos, sin = np.cos(np.radians(40)), np.sin(np.radians(40))
        start = (at[0] + spread * cos, at[1] + spread * sin, at[2] + 27)
        wire = mix_material("plastic", tint=tint, rough=0.4, dust=0.15)
        put_pipe(
            "wire",
            [
                start,
                (start[0] - 1, start[1] - 3, start[2] + 9),
                (at[0] - 6 + spread * 0.3, at[1] - 22, at[2] + 40),
                (at[0] - 9 + spread * 0.2, at[1] - 34, at[2] + 39),
            ],
            1.3,
            wire,
        )
    sleeve = mix_material("plastic", tint="#151515", rough=0.5, dust=0.3)
    put_pipe(
        "sleeve",
        [
            (at[0] - 8, at[1] - 28, at[2] + 40),
            (at[0] - 16, at[1] - 62, at[2] + 30),
            (at[0] - 8, at[1] - 105, at[2] - 6),
            (at[0] + 16, at[1] - 138, at[2] - 60),
            (at[0] + 20, at[1] - 150, at[2] - 160),
        ],
        5.5,
        sleeve,
        ribbed_mm=3.2,
    )


def put_filler_tube(loose=False):
    steel = mix_material("zinc", dirt=0.6, tint="#A9AAA6")
    put_pipe(
        "filler tube",
        [(-184, 62, -36), (-204, 102, -42), (-222, 138, -72), (-232, 160, -150), (-238, 172, -330)],
        10.5,
        steel,
    )
    black = mix_material("rubber")
    put_turned(
        "tube seal",
        [(10.5, 0), (14.5, 0), (15.4, 1), (15.4, 3.6), (14.4, 4.6), (10.5, 4.6)],
        black,
        (-193.2, 80.4, -38.1),
        aim((-14, 28, -3)),
    )
    put_solid("tube bracket", make_tube_bracket, mix_material("zinc", dirt=0.5))
    x, y, z = TUBE_SCREW_AT
    gap = 5.5 if loose else 0
    screw = mix_material("zinc", dirt=0.3)
    put_solid("m8", lambda: make_hex_screw(13, 9, 8), screw, (x, y, z + gap), aim((0, 0, 1), 22))
    put_turned("m8 shank", [(3.9, -20), (3.9, 9)], screw, (x, y, z + gap - 8))


def make_tube_bracket():
    """A tab welded to the tube: a band half round it and a plate with a hole for the screw."""
    solid = Solid((-240, 96, -78), (-150, 156, -30), 0.6)
    x, y, z = TUBE_SCREW_AT
    solid.add(
        web(
            (x, y),
            (
                -206,
                121,
            ),
            z - 3,
            z,
            23,
            0,
            0.5,
        )
    )
    solid.add(rod((-207, 108, -44.5), (-215, 123, -55), 13.2, edge=0.5), 2.5)
    solid.cut(rod((-200, 94, -36), (-222, 138, -66), 9.5, edge=0.1))
    solid.cut(rod((x, y, z - 10), (x, y, z + 10), 4.6, edge=0.1), 0.2)
    return solid


def put_selector_cable(bracket=True):
    zinc = mix_material("zinc", dirt=0.45)
    black = mix_material("rubber")
    if bracket:
        put_solid("selector bracket", make_selector_bracket, zinc)
        for x, y, z in BRACKET_SCREWS_AT:
            put_solid(
                "m8",
                lambda: make_hex_screw(13, 9, 8),
                mix_material("zinc", dirt=0.4),
                (x, y, z),
                aim((0, 0, 1), x % 60),
            )
    drop = 0 if bracket else 46
    y, z = 148 + drop, 16 - drop * 0.4
    put_pipe(
        "selector cable",
        [
            (164, y, z),
            (196, y + 2, z - 4),
            (236, y + 14, z - 62),
            (300, y + 34, z - 96),
            (400, y + 70, z - 120),
            (560, y + 90, z - 170),
        ],
        5.2,
        black,
    )
    grommet = [
        (5, -24),
        (7.5, -23),
        (7.5, -8),
        (9.4, -7),
        (9.4, -2.2),
        (6.4, -2),
        (6.4, 2),
        (9.4, 2.2),
        (9.4, 7),
        (7.2, 8),
        (6.6, 22),
        (5.4, 23),
        (0, 23),
    ]
    put_turned("cable end", grommet, mix_material("plastic"), (139.6, y, z), aim((-1, 0, 0)))
    put_pipe("cable rod", [(120, y, z), (90, y, z), (60, y - 2, z - 1)], 2.6, zinc)
    put_turned(
        "cable eye",
        [(0, -6), (9, -6), (10, -5), (10, 5), (9, 6), (0, 6)],
        mix_material("plastic"),
        (52, y - 2, z - 2),
    )
    put_block("selector lever", (44, 96, -18), (60, 156 + drop, -14), zinc, 1.2)
    put_solid("m10", lambda: make_hex_screw(15, 10, 9), zinc, (52, 106, -14), aim((0, 0, 1), 9))


def put_cover(dirt=0.7, drain=True, level=True, strokes=False, screws=True):
    put_solid(
        "cover",
        make_cover,
        mix_material(
            "cast_aluminium",
            dirt=dirt,
            tint="#A3A29E",
            milled_mm=(FLANGE_FACE_MM + 1.0, PAD_FACE_MM, TALL_FACE_MM),
        ),
    )
    put_solid("gasket", make_gasket, mix_material("gasket_fibre"))
    if screws:
        put_all_cover_screws(FLANGE_FACE_MM, TALL_FACE_MM, strokes, dirt * 0.8)
    if drain:
        at = (*DRAIN_AT, PAD_FACE_MM)
        put_solid("copper ring", make_copper_ring, mix_material("copper"), at)
        put_solid(
            "drain plug", make_drain_plug, mix_material("zinc", dirt=0.4), at, aim((0, 0, 1), 11)
        )
    if level:
        at = (*LEVEL_AT, PAD_FACE_MM)
        put_solid("copper ring", make_copper_ring, mix_material("copper"), at)
        put_solid(
            "level plug", make_level_plug, mix_material("zinc", dirt=0.35), at, aim((0, 0, 1), 40)
        )
    metal = mix_material("cast_aluminium", dirt=dirt, tint="#A3A29E")
    put_words("casting mark", "71-204 B", 15, metal, (74, 40, FLOOR_MM), depth_mm=1.2)
    put_words("casting mark", ">AlSi9Cu3<", 8, metal, (74, 29, FLOOR_MM), depth_mm=1.0)


def put_open_inside():
    """What is seen once the cover is off."""
    put_solid(
        "valve body", make_valve_body, mix_material("cast_aluminium", dirt=0.25, tint="#BDBBB5")
    )
    put_solid("filter", make_filter, mix_material("plastic", tint="#1B1C1E", rough=0.3, dust=0.0))
    put_block("filter window", (-24, -16, -13), (30, 16, -11.2), mix_material("filter_felt"), 0.4)
    zinc = mix_material("zinc", dirt=0.15)
    for x, y in FILTER_SCREWS_AT:
        put_solid(
            "m6 plain",
            lambda: make_hex_screw(10, 7.4, 6.6),
            zinc,
            (x, y, -13),
            aim((0, 0, 1), x % 50),
        )
    rng = np.random.default_rng(3)
    for x, y in (
        (-124, 20),
        (-118, -62),
        (-40, 78),
        (30, -84),
        (96, -70),
        (112, 0),
        (100, 66),
        (-122, 66),
    ):
        put_solid(
            "m6 plain",
            lambda: make_hex_screw(10, 7.4, 6.6),
            zinc,
            (x, y, -27),
            aim((0, 0, 1), rng.uniform(0, 60)),
        )
    put_pipe(
        "steel pipe",
        [(92, 60, -34), (104, 40, -20), (116, 10, -18), (112, -40, -20), (98, -56, -36)],
        5,
        zinc,
    )
