"""The sump cover, its gasket and the line through its screws, in mm, seen from below."""

import functools

import numpy as np
from screw_table import read_screws, walk_round
from solids import Shape, Solid, block, ring, rod, round_join, soft_max, soft_min, web

MATING_FACE_MM = 1.2  # the gasket lies between this and the casing's face at 0
FLANGE_FACE_MM = 8.0
TALL_FACE_MM = 23.0
FLOOR_MM = 43.0
WALL_MM = 4.0
DRAFT = np.tan(np.radians(8))
DRAIN_AT = (60.0, -40.0)
LEVEL_AT = (-70.0, 30.0)
PAD_FACE_MM = FLOOR_MM + 4
MAGNETS_AT = ((-104.0, -40.0), (-16.0, -52.0), (112.0, 22.0), (22.0, 58.0))


def draw_line(steps_between=40):
    """The smooth closed line through the screws, as points."""
    points = np.array([(s.x_mm, s.y_mm) for s in walk_round()])
    share = np.linspace(0, 1, steps_between, endpoint=False)[:, None]
    line = []
    for i in range(len(points)):
        p0, p1, p2, p3 = (points[(i + k) % len(points)] for k in (-1, 0, 1, 2))
        t1, t2 = (p2 - p0) * 0.42, (p3 - p1) * 0.42
        t, t_2, t_3 = share, share**2, share**3
        line.append(
            p1 * (2 * t_3 - 3 * t_2 + 1)
            + t1 * (t_3 - 2 * t_2 + t)
            + p2 * (3 * t_2 - 2 * t_3)
            + t2 * (t_3 - t_2)
        )
    return np.concatenate(line)


def measure_from_line(x, y, line):
    """Signed distance of points to a closed line, negative inside."""
    best = np.full(x.shape, np.inf)
    crossings = np.zeros(x.shape, dtype=bool)
    for (ax, ay), (bx, by) in zip(line, np.roll(line, -1, axis=0), strict=True):
        rx, ry = bx - ax, by - ay
        share = np.clip(((x - ax) * rx + (y - ay) * ry) / (rx * rx + ry * ry), 0, 1)
        best = np.minimum(best, (x - ax - share * rx) ** 2 + (y - ay - share * ry) ** 2)
        if ay != by:
            spans = (y >= min(ay, by)) & (y < max(ay, by))
            crossings ^= spans & (x < ax + (y - ay) * rx / ry)
    return np.where(crossings, -1, 1) * np.sqrt(best)


class Plan:
    """A flat map of distances, looked up anywhere: the same outline for every part."""

    STEP = 1.0
    LOW, HIGH = (-240, -190), (240, 190)

    def __init__(self):
        xs = np.arange(self.LOW[0], self.HIGH[0] + 1, self.STEP)
        ys = np.arange(self.LOW[1], self.HIGH[1] + 1, self.STEP)
        x, y = np.meshgrid(xs, ys, indexing="ij")
        self.line = measure_from_line(x, y, draw_line(16))
        self.screw = np.min([np.hypot(x - s.x_mm, y - s.y_mm) for s in read_screws()], axis=0)

    def look_up(self, table, x, y):
        i = np.clip((x - self.LOW[0]) / self.STEP, 0, table.shape[0] - 1.001)
        j = np.clip((y - self.LOW[1]) / self.STEP, 0, table.shape[1] - 1.001)
        i0, j0 = i.astype(int), j.astype(int)
        fi, fj = i - i0, j - j0
        near = table[i0, j0] * (1 - fi) + table[i0 + 1, j0] * fi
        far = table[i0, j0 + 1] * (1 - fi) + table[i0 + 1, j0 + 1] * fi
        return near * (1 - fj) + far * fj

    def line_at(self, x, y):
        return self.look_up(self.line, x + 0 * y, y + 0 * x)

    def screw_at(self, x, y):
        """Distance to the nearest screw, exact (the table is too coarse near a centre)."""
        best = np.inf
        for s in read_screws():
            best = np.minimum(best, np.hypot(x - s.x_mm, y - s.y_mm))
        return best

    def flange_at(self, x, y):
        """The flange's outer edge, scalloped round the screws."""
        return soft_min(self.line_at(x, y) - 7.5, self.screw_at(x, y) - 12, 12)

    def pan_at(self, x, y):
        """The foot of the pan's wall, drawn in round the screw heads."""
        return soft_max(self.line_at(x, y) + 10, 10.5 - self.screw_at(x, y), 8)


@functools.cache
def read_plan():
    return Plan()


def make_prism(plan_distance, bottom, top, edge, draft=0.0, draft_from=0.0):
    """The outline stretched from z bottom to z top."""

    def distance(x, y, z):
        side = plan_distance(x, y) + draft * (z - draft_from)
        return round_join(side, np.maximum(bottom - z, z - top), edge)

    return Shape(distance, (-200, -150, bottom), (200, 150, top))


def make_cover():
    """The cast cover as a Solid."""
    plan = read_plan()
    solid = Solid((-186, -134, -1.13), (186, 134, 53), 0.75)
    solid.add(make_prism(plan.flange_at, MATING_FACE_MM, FLANGE_FACE_MM, 1.2))
    pan = make_prism(plan.pan_at, MATING_FACE_MM, FLOOR_MM, 8, DRAFT, FLANGE_FACE_MM)
    solid.add(pan, 5)
    _add_gussets(solid, plan)
    _add_floor_ribs(solid, plan)
    for screw in read_screws():
        top = TALL_FACE_MM if screw.is_long else FLANGE_FACE_MM + 1.0
        at = (screw.x_mm, screw.y_mm)
        radius = 10.2 if screw.is_long else 9.2
        solid.add(rod((*at, 2), (*at, top), radius + (1.2 if screw.is_long else 0), radius, 0.8), 4)
    for at, radius in ((DRAIN_AT, 18), (LEVEL_AT, 15)):
        solid.add(rod((*at, FLOOR_MM - 6), (*at, PAD_FACE_MM), radius + 2, radius, 1.0), 5)

    def hollow_at(x, y):
        return plan.pan_at(x, y) + WALL_MM

    hollow = make_prism(hollow_at, -6, FLOOR_MM - WALL_MM, 6, DRAFT, FLANGE_FACE_MM)
    solid.cut(hollow, 1.0)
    _add_inner_webs(solid)
    # The mating face is milled: nothing stands below it, whatever the fillets did.
    solid.cut(block((-190, -140, -20), (190, 140, MATING_FACE_MM), 0.1))
    for screw in read_screws():
        at = (screw.x_mm, screw.y_mm)
        solid.cut(rod((*at, -2), (*at, 40), 3.4, edge=0.1))
    for at, radius in ((DRAIN_AT, 7.0), (LEVEL_AT, 8.0)):
        solid.cut(rod((*at, 20), (*at, 60), radius, edge=0.1), 0.8)
    return solid


def _add_gussets(solid, plan):
    """Small upright ribs from the wall out over the flange, half-way between the screws."""
    line = draw_line(40)
    for i in range(len(read_screws())):
        here, after = line[40 * i + 20], line[40 * i + 21]
        run = (after - here) / np.hypot(*(after - here))
        inward = np.array((run[1], -run[0]))
        foot, root = here - inward * 3, here + inward * 14
        solid.add(web(foot, root, FLANGE_FACE_MM - 2, FLANGE_FACE_MM + 3, 3, 0.08), 3)
        solid.add(web(here + inward * 5, root, FLANGE_FACE_MM - 2, 24, 2.6, 0.06), 4)


def _add_floor_ribs(solid, plan):
    """Fins along the floor, kept away from the two plugs and ending before the edge."""
    top = FLOOR_MM + 3.5

    def distance(x, y, z):
        across = np.abs((y + 12) % 24 - 12) - 1.5 - 0.12 * (top - z)
        bars = np.abs(np.abs(x + 6) - 62) - 1.7 - 0.12 * (top - z)
        side = soft_min(across + 0 * x, bars + 0 * y, 3)
        side = soft_max(side, plan.pan_at(x, y) + 17, 3)
        for at, radius in ((DRAIN_AT, 27), (LEVEL_AT, 24)):
            side = soft_max(side, radius - np.hypot(x - at[0], y - at[1]), 3)
        # A flat field for the cast lettering.
        field = np.maximum(np.abs(x - 74) - 46, np.abs(y - 36) - 11)
        side = soft_max(side, -field, 2)
        return round_join(side, np.maximum(FLOOR_MM - 6 - z, z - top), 1.0)

    solid.add(Shape(distance, (-160, -110, FLOOR_MM - 6), (160, 110, top)), 3)


def _add_inner_webs(solid):
    inner_floor = FLOOR_MM - WALL_MM
    for start, end in (((-120, 62), (130, 50)), ((-128, -70), (-70, -86)), ((-60, -84), (-60, 70))):
        solid.add(web_inside(start, end, inner_floor), 3)
    for at in MAGNETS_AT:
        solid.add(rod((*at, inner_floor - 1.5), (*at, inner_floor + 2), 18, edge=0.6), 3)
        solid.add(rod((*at, inner_floor - 9), (*at, inner_floor + 1), 5, 6.5, 1.5), 2)


def web_inside(start, end, floor):
    """A rib standing on the inside of the floor (thinner towards the opening, low z)."""
    upright = web(start, end, -floor - 1, -floor + 7, 2.6, 0.08)

    def distance(x, y, z):
        return upright.distance(x, y, -z)

    low, high = upright.low, upright.high
    return Shape(distance, (*low[:2], -high[2]), (*high[:2], -low[2]))


def make_gasket():
    """The flat gasket with a raised sealing bead and sixteen holes."""
    plan = read_plan()
    solid = Solid((-182, -130, -1), (182, 130, 3), 0.6)

    def band(x, y):
        return np.maximum(plan.flange_at(x, y) + 1.5, -plan.pan_at(x, y) - 1.5)

    def bead(x, y):
        return np.abs(plan.pan_at(x, y) - 2.2) - 0.9

    solid.add(make_prism(band, 0, MATING_FACE_MM, 0.3))
    solid.add(make_prism(bead, 0.3, MATING_FACE_MM + 0.6, 0.4), 0.6)
    for screw in read_screws():
        at = (screw.x_mm, screw.y_mm)
        solid.add(rod((*at, 0.1), (*at, MATING_FACE_MM + 0.3), 6.2, edge=0.3), 0.4)
        solid.cut(rod((*at, -4), (*at, 8), 3.5, edge=0.1))
    return solid


def make_magnet():
    """A ring magnet in its steel cup, standing on z = 0 with its hollow side up."""
    solid = Solid((-20, -20, -1), (20, 20, 12), 0.4)
    solid.add(rod((0, 0, 0), (0, 0, 9), 15, edge=0.9))
    solid.cut(rod((0, 0, -2), (0, 0, 20), 7, edge=0.2), 0.8)
    solid.cut(ring((0, 0, 9), 12.2, 0.6), 0.3)
    return solid
