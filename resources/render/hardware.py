"""Screws, plugs, washers and what the paint pen leaves on them; each stands on z = 0, head up."""

import numpy as np
from materials import mix_material
from objects import aim, build_mesh, link, put_solid, put_turned
from screw_table import read_screws
from solids import Shape, Solid, hexagon, rod, thread

HEAD_MM = 6.6


def _flange(radius, bottom, rim, slope_to, slope_radius):
    """The sloping collar under a hex head."""
    return rod((0, 0, bottom), (0, 0, rim), radius, edge=0.35), rod(
        (0, 0, rim - 0.2), (0, 0, slope_to), radius - 0.3, slope_radius, edge=0.2
    )


def make_cover_screw(length):
    """M6 flanged hex head, 10 mm across flats, the head resting on z = 0."""
    solid = Solid((-8, -8, -length - 1), (8, 8, HEAD_MM + 1), 0.13 if length < 1 else 0.16)
    disc, slope = _flange(7.1, 0, 1.3, 3.0, 5.2)
    solid.add(disc).add(slope, 0.4).add(hexagon((0, 0), 10, 0.5, HEAD_MM), 0.6)
    solid.cut(rod((0, 0, HEAD_MM - 0.35), (0, 0, HEAD_MM + 2), 3.6, 3.9, edge=0.1), 0.25)
    if length > 1:
        solid.add(rod((0, 0, -4), (0, 0, 1), 2.9, edge=0.2), 0.6)
        solid.add(thread((0, 0), 3.0, 1.0, -length, -2.5))
    return solid


def make_hex_screw(across, flange, head, washer=0.0, washer_radius=0.0):
    solid = Solid(
        (-flange - washer_radius - 2,) * 2 + (-2,),
        (flange + washer_radius + 2,) * 2 + (head + washer + 2,),
        0.2,
    )
    if washer:
        solid.add(rod((0, 0, 0), (0, 0, washer), washer_radius, edge=0.4))
    disc, slope = _flange(flange, washer, washer + 1.6, washer + 3.4, across * 0.53)
    solid.add(disc).add(slope, 0.4)
    solid.add(hexagon((0, 0), across, washer + 0.5, washer + head), 0.6)
    top = washer + head
    solid.cut(rod((0, 0, top - 0.4), (0, 0, top + 2), across * 0.36, edge=0.1), 0.25)
    return solid


def make_drain_plug():
    """M14, 17 mm hex with a collar; the copper ring is a part of its own."""
    solid = Solid((-16, -16, -1), (16, 16, 16), 0.2)
    solid.add(rod((0, 0, 1.6), (0, 0, 4.2), 12.2, edge=0.6))
    solid.add(hexagon((0, 0), 17, 3, 12.5), 0.9)
    solid.cut(rod((0, 0, 12), (0, 0, 16), 6.2, edge=0.1), 0.4)
    return solid


def make_level_plug():
    """A round-headed plug with an 8 mm hex socket."""
    solid = Solid((-14, -14, -1), (14, 14, 9), 0.2)
    solid.add(rod((0, 0, 1.4), (0, 0, 6), 11, 10.2, edge=0.9))
    socket = hexagon((0, 0), 8, 1.0, 12, chamfer=False, edge=0.1)
    solid.cut(socket, 0.3)
    solid.cut(rod((0, 0, 5.3), (0, 0, 8), 4.6, 6.6, edge=0.1), 0.2)
    return solid


def make_band_screw():
    """The adjuster: a threaded end with a hex socket through a flanged lock nut."""
    solid = Solid((-11, -11, -1), (11, 11, 17), 0.17)
    disc, slope = _flange(8.6, 0, 1.5, 3.4, 6.6)
    solid.add(disc).add(slope, 0.4).add(hexagon((0, 0), 13, 0.5, 7.5), 0.6)
    solid.cut(rod((0, 0, 6.6), (0, 0, 9), 4.2, 5.4, edge=0.1), 0.2)
    solid.add(thread((0, 0), 4.0, 1.25, 2, 30))
    solid.cut(Shape(lambda x, y, z: 12.5 - z + 0 * x + 0 * y, (-9, -9, 12), (9, 9, 20)), 0.8)
    solid.cut(hexagon((0, 0), 4, 8, 20, chamfer=False, edge=0.1), 0.2)
    return solid


def make_copper_ring():
    solid = Solid((-16, -16, -1), (16, 16, 4), 0.25)
    solid.add(rod((0, 0, 0), (0, 0, 1.6), 11.5, edge=0.5))
    return solid.cut(rod((0, 0, -1), (0, 0, 4), 7.2, edge=0.1), 0.2)


def put_cover_screw(screw, face_mm, turn_deg=0.0, length=0, at=None, turn=None, dirt=0.35):
    """One cover screw; with no length only its head is made (the rest is out of sight)."""
    name = f"cover screw {length}"
    turn = aim((0, 0, 1), turn_deg) if turn is None else turn
    place = (screw.x_mm, screw.y_mm, face_mm) if at is None else at
    return put_solid(
        name, lambda: make_cover_screw(length), mix_material("zinc", dirt=dirt), place, turn
    )


def find_head_turn(number):
    """How far the head of a screw happens to be turned; fixed, so that pictures agree."""
    return (number * 37) % 60


def put_strokes(at, turn_deg, across_mm=5.9):
    """Two crossed paint-pen strokes lying on a head."""
    paint = mix_material("paint_pen")
    rng = np.random.default_rng(int(abs(at[0] * 7 + at[1] * 13)))
    for index, angle in enumerate((turn_deg, turn_deg + 78 + rng.uniform(-8, 8))):
        rows = 15
        along = np.linspace(-across_mm, across_mm, rows)
        half = 0.9 + 0.14 * rng.standard_normal(rows)
        half[[0, -1]] = 0.45
        half[[1, -2]] *= 0.85
        drift = np.cumsum(rng.normal(0, 0.09, rows))
        # The stroke follows the head: flat on top, dipping over the chamfer at its ends.
        # It also rides over the shallow dish in the middle.
        over = np.maximum(np.abs(along) - 4.6, 0)
        height = 0.1 + 0.1 * index - 0.5 * over
        points = []
        for a, h, d, z in zip(along, half, drift, height, strict=True):
            for share, lift in ((-1, 0), (-0.6, 0.14), (0.6, 0.14), (1, 0)):
                points.append((a, d + share * h, z + lift))
        c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        points = np.array(points) @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
        faces = [
            (4 * i + j, 4 * i + j + 4, 4 * i + j + 5, 4 * i + j + 1)
            for i in range(rows - 1)
            for j in range(3)
        ]
        link("stroke", build_mesh("stroke", points, np.array(faces)[:, ::-1]), paint, at)


def put_all_cover_screws(flange_face, tall_face, strokes=False, dirt=0.35):
    for screw in read_screws():
        face = tall_face if screw.is_long else flange_face + 1.0
        turn = find_head_turn(screw.number)
        put_cover_screw(screw, face, turn, dirt=dirt)
        if strokes:
            put_strokes((screw.x_mm, screw.y_mm, face + HEAD_MM), (screw.number * 53) % 180)


def put_washer(at, radius, hole, material, turn=None):
    profile = [
        (hole, 0),
        (radius - 0.4, 0),
        (radius, 0.4),
        (radius, 1.6),
        (radius - 0.4, 2),
        (hole, 2),
        (hole, 0),
    ]
    return put_turned("washer", profile, material, at, turn)
