"""The workbench and what lies on it: cloth, cover turned over, bottles, jug, pan. z is up."""

import numpy as np
from cover import (
    FLOOR_MM,
    MAGNETS_AT,
    MATING_FACE_MM,
    WALL_MM,
    make_cover,
    make_gasket,
    make_magnet,
)
from hardware import put_cover_screw
from materials import mix_material
from mathutils import Matrix
from objects import aim, build_mesh, link, put_block, put_pipe, put_solid, put_turned, put_words
from screw_table import read_screws
from solids import Solid, block, rod

COVER_TOP_MM = 52.0  # height of the upturned cover's mating face is this less MATING_FACE_MM
UPTURNED = Matrix.Rotation(np.pi, 3, "X")


def put_bench():
    """Boards with gaps, a back wall with a few things on it, out of focus."""
    wood = mix_material("bench_wood")
    for i, y in enumerate(range(-700, 420, 140)):
        board = put_block("board", (-1200, y + 1, -40), (1200, y + 139, 0), wood, 2.5)
        board.location.x += 0.013 * i
    wall = mix_material("plain", name="back wall", tint="#6E665A", rough=0.8)
    put_block("back wall", (-2500, 700, -600), (2500, 720, 1800), wall, 0)
    put_block("upstand", (-1200, 418, -40), (1200, 440, 60), wood, 4)
    _put_tools_behind()


def _put_tools_behind():
    """Tins, cartons and hanging spanners along the wall: company out of focus."""
    rng = np.random.default_rng(5)
    tints = ("#5A2A22", "#2C3E50", "#7D8082", "#6F6140", "#26282A", "#4C5052", "#7A6A50")
    x = -950
    while x < 950:
        tint = tints[rng.integers(len(tints))]
        if rng.random() < 0.55:
            radius, tall = rng.uniform(34, 58), rng.uniform(90, 190)
            paint = mix_material("plain", name="tin", tint=tint, rough=0.35, metallic=0.3)
            profile = [
                (0, tall),
                (radius - 3, tall),
                (radius - 2, tall + 3),
                (radius, tall + 3),
                (radius, tall - 4),
                (radius - 1, tall - 6),
                (radius - 1, 4),
                (radius, 0),
                (0, 0),
            ]
            put_turned("tin", profile, paint, (x + radius, 560, 0), around=48)
            x += 2 * radius
        else:
            wide, tall = rng.uniform(60, 150), rng.uniform(60, 200)
            card = mix_material("plain", name="carton", tint="#7D6547", rough=0.85)
            put_block("carton", (x, 500, 0), (x + wide, 620, tall), card, 2)
            put_block(
                "tape",
                (x - 0.5, 499, tall * 0.42),
                (x + wide + 0.5, 560, tall * 0.62),
                mix_material("plain", name="tape", tint=tint, rough=0.5),
                0,
            )
            x += wide
        x += rng.uniform(6, 70)
    steel = mix_material("zinc", dirt=0.1)
    for i in range(16):
        turn = Matrix.Rotation(np.pi / 2, 3, "Y") @ Matrix.Rotation(np.pi / 2, 3, "X")
        hung = put_solid(
            "spanner", make_spanner, steel, (-760 + 92 * i + 9 * (i % 3), 690, 322), turn
        )
        hung.scale = (0.72 + 0.045 * i,) * 3


def put_cloth(half_x, half_y, seed=2, tint="#74797E"):
    """A cloth lying in soft folds."""
    rng = np.random.default_rng(seed)
    nx, ny = 260, 200
    u, v = np.meshgrid(np.linspace(-1, 1, nx), np.linspace(-1, 1, ny), indexing="ij")
    height = np.zeros_like(u)
    for _ in range(9):
        angle, place = rng.uniform(0, np.pi), rng.uniform(-1, 1)
        across = u * np.cos(angle) + v * np.sin(angle) - place
        wide = rng.uniform(0.03, 0.12)
        height += rng.uniform(0.6, 2.4) * np.exp(-((across / wide) ** 2))
    # Flat where the screws lie, rumpled towards the edge.
    edge = np.maximum(np.abs(u), np.abs(v))
    height *= np.clip((edge - 0.55) / 0.35, 0.06, 1)
    x = half_x * u * (1 + 0.012 * np.sin(5 * v + seed))
    y = half_y * v * (1 + 0.02 * np.sin(4 * u + 1))
    points = np.stack([x, y, height + 0.6], axis=-1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(nx - 1), np.arange(ny - 1), indexing="ij")
    a = i * ny + j
    faces = np.stack([a, a + ny, a + ny + 1, a + 1], axis=-1).reshape(-1, 4)
    thing = link("cloth", build_mesh("cloth", points, faces), mix_material("cloth", tint=tint))
    thick = thing.modifiers.new("thick", "SOLIDIFY")
    thick.thickness, thick.offset = 0.0009, 0


def put_lying_screw(length, x, y, seed, ground_mm=1.4):
    """A cover screw lying on its flange and thread; its head towards +y."""
    rng = np.random.default_rng(seed)
    tip = np.arctan2(7.1 - 3.0, length)
    lean = rng.uniform(-7, 7)
    # The shank points down -y; the flange's rim and the thread's end rest on the ground.
    turn = (
        Matrix.Rotation(np.radians(lean), 3, "Z")
        @ Matrix.Rotation(-np.pi / 2 - tip, 3, "X")
        @ Matrix.Rotation(rng.uniform(0, 6), 3, "Z")
    )
    turn = (
        Matrix.Rotation(np.radians(lean), 3, "Z")
        @ Matrix.Rotation(-np.pi / 2 + tip, 3, "X")
        @ (Matrix.Rotation(rng.uniform(0, 6), 3, "Z"))
    )
    put_cover_screw(None, 0, length=length, at=(x, y, ground_mm + 7.0), turn=turn, dirt=0.4)


def put_screw_rows():
    screws = read_screws()
    long_ones = [s for s in screws if s.is_long]
    short_ones = [s for s in screws if not s.is_long]
    for i, s in enumerate(long_ones):
        put_lying_screw(int(s.length_mm), -103 + 21 * i, 12, s.number)
    for i, s in enumerate(short_ones):
        row, place = divmod(i, (len(short_ones) + 1) // 2)
        put_lying_screw(int(s.length_mm), 4 + 21 * place, 26 - 46 * row, s.number)


def put_steel_rule(x, y, length_mm=180):
    """A steel rule with millimetre ticks, numbered each centimetre, lying on the cloth."""
    steel = mix_material("machined_aluminium")
    ink = mix_material("plain", name="rule ink", tint="#121212", rough=0.6)
    put_block("rule", (x - 6, y - 12, 1.6), (x + length_mm + 6, y + 12, 2.6), steel, 0.3)
    points, faces = [], []
    for mm in range(length_mm + 1):
        tall = 8 if mm % 10 == 0 else 6 if mm % 5 == 0 else 4
        start = len(points)
        for dx, dy in ((-0.14, 0), (0.14, 0), (0.14, -tall), (-0.14, -tall)):
            points.append((x + mm + dx, y + 11.6 + dy, 2.65))
        faces.append((start + 3, start + 2, start + 1, start))
        if mm and mm % 10 == 0:
            put_words("rule number", str(mm), 4.6, ink, (x + mm, y - 1.6, 2.62), None, 0.02)
    link("rule ticks", build_mesh("rule ticks", np.array(points), faces), ink)


def find_on_upturned(x, y, z):
    """A point of the cover (seen from below) where it is once the cover lies upturned."""
    return x, -y, COVER_TOP_MM - z


def put_upturned_cover(dirt, wet=False):
    put_solid(
        "cover",
        make_cover,
        mix_material("cast_aluminium", dirt=dirt, tint="#B4B3AF", milled_mm=(MATING_FACE_MM,)),
        (0, 0, COVER_TOP_MM),
        UPTURNED,
    )
    if wet:
        film = mix_material("fluid", tint="#4A1409", depth=0.5)
        points, faces = _spread_film()
        link("film", build_mesh("film", points, faces), film)


def _spread_film():
    """A shallow puddle left on the cover's floor."""
    from cover import read_plan

    plan = read_plan()
    xs, ys = np.arange(-170, 171, 1.5), np.arange(-125, 126, 1.5)
    x, y = np.meshgrid(xs, ys, indexing="ij")
    inside = plan.pan_at(x, -y) + WALL_MM + 7
    level = COVER_TOP_MM - (FLOOR_MM - WALL_MM) + 1.1
    ripple = 0.12 * np.sin(x / 23) * np.sin(y / 19 + x / 60)
    height = level + ripple - np.clip(inside + 4, 0, 3) * 0.7
    i, j = np.meshgrid(np.arange(len(xs) - 1), np.arange(len(ys) - 1), indexing="ij")
    keep = (inside < 0)[:-1, :-1]
    a = (i * len(ys) + j)[keep]
    faces = np.stack([a, a + len(ys), a + len(ys) + 1, a + 1], axis=-1)
    return np.stack([x, y, height], axis=-1).reshape(-1, 3), faces


def put_magnets(pasted=True):
    steel = mix_material("plain", name="magnet", tint="#3A3B3D", rough=0.38, metallic=0.9)
    floor = FLOOR_MM - WALL_MM - 2
    for index, (x, y) in enumerate(MAGNETS_AT):
        at = find_on_upturned(x, y, floor)
        put_solid("magnet", make_magnet, steel, at)
        if pasted:
            put_paste(at, index)


def make_paste(seed):
    """Paste heaped on a ring magnet, lumpy."""

    def make():
        rng = np.random.default_rng(seed)
        solid = Solid((-22, -22, 0), (22, 22, 17), 0.35)
        for _ in range(110):
            turn, reach = rng.uniform(0, 2 * np.pi), rng.uniform(8.5, 14.6)
            x, y = reach * np.cos(turn), reach * np.sin(turn)
            tall = rng.uniform(8.8, 10.9)
            solid.add(rod((x, y, 6), (x, y, tall), rng.uniform(1.0, 2.4), edge=0.9), 2.2)
        for _ in range(20):
            turn = rng.uniform(0, 2 * np.pi)
            x, y = 15.2 * np.cos(turn), 15.2 * np.sin(turn)
            solid.add(rod((x, y, rng.uniform(1, 5)), (x, y, 9), rng.uniform(1, 2), edge=0.8), 1.5)
        return solid

    return make


def put_paste(at, seed):
    put_solid(f"paste {seed}", make_paste(seed), mix_material("magnet_paste"), at)
    # A few fine bright filings standing in the paste.
    rng = np.random.default_rng(seed + 40)
    bright = mix_material("plain", name="filing", tint="#C9CACB", rough=0.25, metallic=1.0)
    points, faces = [], []
    for _ in range(26):
        turn, reach = rng.uniform(0, 2 * np.pi), rng.uniform(8, 15)
        x, y, z = reach * np.cos(turn), reach * np.sin(turn), rng.uniform(9.8, 11.2)
        way = rng.normal(size=3) * (1, 1, 0.5)
        way *= rng.uniform(0.6, 1.7) / np.linalg.norm(way)
        side = np.cross(way, (0.3, 0.2, 1)) * 0.12
        start = len(points)
        p = np.array((x, y, z))
        points += [p - way - side, p + way - side, p + way + side, p - way + side]
        faces.append((start, start + 1, start + 2, start + 3))
    link("filings", build_mesh("filings", np.array(points), faces), bright, at)


def put_new_gasket():
    put_solid(
        "gasket",
        make_gasket,
        mix_material("gasket_fibre"),
        (0, 0, COVER_TOP_MM),
        UPTURNED,
    )


def make_bottle():
    """A one-litre fluid bottle with a waist and a handle-free shoulder."""
    solid = Solid((-60, -45, -2), (60, 45, 240), 1.2)
    solid.add(block((-48, -34, 0), (48, 34, 178), 14))
    solid.add(rod((0, 0, 165), (0, 0, 208), 34, 17, 4), 22)
    solid.add(rod((0, 0, 200), (0, 0, 226), 15, edge=1), 4)
    for z in (24, 150):
        solid.cut(block((-60, -50, z - 1.5), (60, -33, z + 1.5), 1), 2)
    solid.cut(block((-38, -60, 30), (38, -33.2, 144), 2), 1.5)
    solid.cut(block((44, -18, 34), (60, 18, 140), 8), 5)
    solid.cut(block((-60, -18, 34), (-44, 18, 140), 8), 5)
    return solid


def put_bottle(x, y, turn_deg, tint):
    body = mix_material("plastic", tint=tint, rough=0.34, dust=0.04)
    turn = aim((0, 0, 1), turn_deg)
    put_solid("bottle", make_bottle, body, (x, y, 0), turn)
    cap = mix_material("plastic", tint="#8A1C14", rough=0.35, dust=0.05)
    ridge = [(0, 30), (17, 30), (18.4, 28.6), (18.4, 3), (18.8, 2.6), (18.8, 0), (0, 0)]
    put_turned("cap", ridge, cap, (x, y, 210))
    for i in range(36):
        a = np.radians(i * 10)
        put_block(
            "cap ridge",
            (-0.5, -0.5, 0),
            (0.5, 0.5, 22),
            cap,
            0.3,
            at=(x + 18.4 * np.cos(a), y + 18.4 * np.sin(a), 226),
            turn=aim((0, 0, 1), i * 10),
        )
    label = mix_material("plain", name="label", tint="#E6E2D6", rough=0.55)
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    off = -33.6
    put_block(
        "label", (-36, -0.5, -54), (36, 0.5, 54), label, 0.4, turn, (x - s * off, y + c * off, 87)
    )
    ink = mix_material("plain", name="label ink", tint="#8C2A20", rough=0.6)
    put_block(
        "label band",
        (-36, -0.4, -6),
        (36, 0.4, 6),
        ink,
        0.1,
        turn,
        (x - s * (off - 0.4), y + c * (off - 0.4), 128),
    )


def put_jug(x, y, filled_mm, tint="#A3261A"):
    """A clear measuring jug with millilitre marks."""
    clear = mix_material("clear_plastic")
    wall = [
        (0, 0),
        (58, 0),
        (61, 3),
        (72, 170),
        (75, 174),
        (73.4, 174.6),
        (70, 170),
        (59, 5),
        (57, 3),
        (0, 3),
    ]
    put_turned("jug", wall, clear, (x, y, 0), around=96)
    top = 60.6 + (72 - 61) * (filled_mm - 3) / 167
    body = [(0, 3.2), (57, 3.2), (58.9, 5), (top - 2.15, filled_mm), (0, filled_mm)]
    put_turned(
        "fluid in the jug", body, mix_material("fluid", tint=tint, depth=0.75), (x, y, 0), around=96
    )
    put_pipe(
        "jug handle",
        [
            (x + 70, y + 14, 150),
            (x + 104, y + 22, 146),
            (x + 112, y + 24, 96),
            (x + 96, y + 20, 46),
            (x + 62, y + 12, 42),
        ],
        6,
        clear,
    )
    ink = mix_material("plain", name="jug ink", tint="#EDEDE8", rough=0.6)
    # 100 mL steps, numbered each 200; the jug widens, so the steps come closer together.
    for step in range(1, 18):
        z = 8 + step * 9.4 - 0.06 * step * step
        radius = 61 + 11 * (z - 3) / 167 + 0.25
        long = step % 2 == 0
        _put_mark(x, y, z, radius, 24 if long else 12, ink)
        if long:
            a = np.radians(-90 + 27)
            at = (x + radius * np.cos(a), y + radius * np.sin(a), z)
            turn = Matrix.Rotation(a + np.pi / 2, 3, "Z") @ Matrix.Rotation(np.pi / 2, 3, "X")
            put_words("millilitres", f"{step * 100}", 8.5, ink, at, turn, 0.1)
    a = np.radians(-90 + 22)
    radius = 61 + 11 * 160 / 167 + 0.3
    turn = Matrix.Rotation(a + np.pi / 2, 3, "Z") @ Matrix.Rotation(np.pi / 2, 3, "X")
    put_words(
        "unit", "mL", 9, ink, (x + radius * np.cos(a), y + radius * np.sin(a), 166), turn, 0.1
    )


def _put_mark(x, y, z, radius, wide_deg, ink):
    angle = np.radians(-90 - 8 + np.linspace(0, wide_deg, 14))
    points, faces = [], []
    for i, a in enumerate(angle):
        for dz in (-0.45, 0.45):
            points.append((x + radius * np.cos(a), y + radius * np.sin(a), z + dz))
        if i:
            faces.append((2 * i - 2, 2 * i, 2 * i + 1, 2 * i - 1))
    link("mark", build_mesh("mark", np.array(points), faces), ink)


def put_drain_pan(x, y):
    """The black pan with the dark old fluid, standing on the bench."""
    black = mix_material("plastic", tint="#161718", rough=0.38, dust=0.12)
    wall = [
        (0, 0),
        (120, 0),
        (128, 5),
        (142, 66),
        (150, 70),
        (153, 68),
        (146, 60),
        (132, 2),
        (122, -4),
        (0, -4),
    ]
    put_turned("drain pan", wall, black, (x, y, 4), around=96)
    old = mix_material("fluid", tint="#1E0906", depth=0.1)
    put_turned("old fluid", [(0, 44), (135.5, 44), (137.4, 44.8)], old, (x, y, 4), around=96)


def make_spanner():
    solid = Solid((-85, -14, -1), (85, 14, 9), 0.5)
    solid.add(block((-60, -4.5, 1.2), (60, 4.5, 5.6), 2))
    solid.add(rod((-70, 0, 0), (-70, 0, 7), 9.5, edge=1.2), 5)
    solid.add(rod((68, 0, 0), (68, 0, 6), 12, edge=1.2), 5)
    from solids import hexagon

    solid.cut(hexagon((-70, 0), 10.2, -2, 12, chamfer=False, edge=0.1), 0.4)
    solid.cut(block((68, -5.1, -2), (90, 5.1, 12), 0.2), 0.5)
    solid.cut(block((-46, -2.6, 4.9), (46, 2.6, 9), 1), 0.6)
    return solid
