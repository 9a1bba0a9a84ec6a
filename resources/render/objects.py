"""Puts things into the scene: solids, pipes, sheets and copies; all places in mm."""

import bmesh
import bpy
import numpy as np
from mathutils import Matrix, Vector

MM = 0.001
_shapes: dict = {}  # mesh data kept between pictures: name -> (points, faces, normals)


def remember(name, make):
    """The mesh of a solid, worked out once a run."""
    if name not in _shapes:
        _shapes[name] = make().mesh()
    return _shapes[name]


def build_mesh(name, points_mm, faces, normals=None):
    """A smooth-shaded mesh of metres from points in mm."""
    mesh = bpy.data.meshes.new(name)
    faces = np.asarray(faces, dtype=np.int32)
    mesh.vertices.add(len(points_mm))
    mesh.vertices.foreach_set("co", (np.asarray(points_mm) * MM).astype(np.float32).ravel())
    mesh.loops.add(faces.size)
    mesh.loops.foreach_set("vertex_index", faces.ravel())
    mesh.polygons.add(len(faces))
    starts = np.arange(0, faces.size, faces.shape[1], dtype=np.int32)
    mesh.polygons.foreach_set("loop_start", starts)
    mesh.update(calc_edges=True)
    mesh.validate()
    mesh.shade_smooth()
    if normals is not None:
        mesh.normals_split_custom_set_from_vertices(normals.tolist())
    return mesh


def link(name, data, material=None, at=(0, 0, 0), turn=None):
    thing = bpy.data.objects.new(name, data)
    bpy.context.scene.collection.objects.link(thing)
    place = Matrix.Translation(Vector(at) * MM)
    thing.matrix_world = place @ turn.to_4x4() if turn is not None else place
    if material is not None and hasattr(data, "materials"):
        if len(data.materials):
            data.materials[0] = material
        else:
            data.materials.append(material)
    return thing


def put_solid(name, make, material, at=(0, 0, 0), turn=None):
    """A solid; copies of one name share their mesh."""
    mesh = bpy.data.meshes.get("solid " + name)
    if mesh is None:
        points, faces, normals = remember(name, make)
        mesh = build_mesh("solid " + name, points, faces, normals)
        mesh.materials.append(material)
    return link(name, mesh, None, at, turn)


def aim(direction, about_deg=0.0):
    """The turn that carries +z to a direction."""
    turn = Vector((0, 0, 1)).rotation_difference(Vector(direction)).to_matrix()
    return turn @ Matrix.Rotation(np.radians(about_deg), 3, "Z")


def put_pipe(name, points, radius_mm, material, ribbed_mm=0.0, closed=False):
    """A pipe, hose or cable along smooth points; `ribbed_mm` is a corrugation's pitch."""
    if ribbed_mm:
        return _put_ribbed(name, points, radius_mm, material, ribbed_mm)
    curve = bpy.data.curves.new(name, "CURVE")
    curve.dimensions = "3D"
    curve.bevel_depth = radius_mm * MM
    curve.bevel_resolution = 6
    curve.resolution_u = 16
    curve.use_fill_caps = True
    spline = curve.splines.new("BEZIER")
    spline.bezier_points.add(len(points) - 1)
    for knot, point in zip(spline.bezier_points, points, strict=True):
        knot.co = Vector(point) * MM
        knot.handle_left_type = knot.handle_right_type = "AUTO"
    spline.use_cyclic_u = closed
    return link(name, curve, material)


def smooth_path(points, count):
    """Evenly spread points on a smooth curve through the given ones."""
    p = np.array(points, float)
    ends = np.vstack([2 * p[0] - p[1], p, 2 * p[-1] - p[-2]])
    path = []
    for i in range(1, len(ends) - 2):
        a, b, c, d = ends[i - 1 : i + 3]
        t = np.linspace(0, 1, 40, endpoint=False)[:, None]
        path.append(
            0.5
            * (
                2 * b
                + (c - a) * t
                + (2 * a - 5 * b + 4 * c - d) * t**2
                + (3 * b - a - 3 * c + d) * t**3
            )
        )
    path = np.vstack([*path, p[-1:]])
    run = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    wanted = np.linspace(0, run[-1], count)
    return np.stack([np.interp(wanted, run, path[:, i]) for i in range(3)], axis=1), run[-1]


def _put_ribbed(name, points, radius_mm, material, pitch_mm):
    _, length = smooth_path(points, 10)
    count = max(int(length / pitch_mm * 8), 8)
    path, _ = smooth_path(points, count)
    forward = np.gradient(path, axis=0)
    forward /= np.linalg.norm(forward, axis=1)[:, None]
    side = np.cross(forward, (0.31, 0.17, 0.93))
    side /= np.linalg.norm(side, axis=1)[:, None]
    other = np.cross(forward, side)
    phase = np.linspace(0, length, count) / pitch_mm * 2 * np.pi
    radius = radius_mm * (1 + 0.09 * np.clip(np.sin(phase) * 2.2, -1, 1))
    angle = np.linspace(0, 2 * np.pi, 20, endpoint=False)
    ringlets = path[:, None] + radius[:, None, None] * (
        np.cos(angle)[None, :, None] * side[:, None] + np.sin(angle)[None, :, None] * other[:, None]
    )
    return link(name, build_mesh(name, ringlets.reshape(-1, 3), _tube_faces(count, 20)), material)


def _tube_faces(rows, around):
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(around), indexing="ij")
    a, b = i * around + j, i * around + (j + 1) % around
    return np.stack([a, b, b + around, a + around], axis=-1).reshape(-1, 4)


def _face_outwards(mesh):
    form = bmesh.new()
    form.from_mesh(mesh)
    bmesh.ops.recalc_face_normals(form, faces=form.faces)
    form.to_mesh(mesh)
    form.free()


def put_turned(name, profile, material, at=(0, 0, 0), turn=None, around=72, smooth=True):
    """A turned part: (radius, height) pairs spun about z; doubled pairs keep an edge crisp."""
    profile = np.array(profile, float)
    angle = np.linspace(0, 2 * np.pi, around, endpoint=False)
    points = np.stack(
        [
            profile[:, :1] * np.cos(angle),
            profile[:, :1] * np.sin(angle),
            np.repeat(profile[:, 1:], around, axis=1),
        ],
        axis=-1,
    )
    mesh = build_mesh(name, points.reshape(-1, 3), _tube_faces(len(profile), around)[:, ::-1])
    _face_outwards(mesh)
    if smooth:
        mesh.set_sharp_from_angle(angle=0.6)
    return link(name, mesh, material, at, turn)


def put_block(name, low, high, material, edge_mm=1.5, turn=None, at=None):
    """A box with rounded edges; with `at` and `turn` it is set about its own middle."""
    low, high = np.array(low, float), np.array(high, float)
    middle, half = (low + high) / 2, (high - low) / 2
    corners = [(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]
    points = np.array(corners) * half
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    mesh = build_mesh(name, points, faces)
    thing = link(name, mesh, material, middle if at is None else at, turn)
    if edge_mm:
        bevel = thing.modifiers.new("edges", "BEVEL")
        bevel.width, bevel.segments = edge_mm * MM, 3
        bevel.harden_normals = True
    return thing


def put_sheet(name, outline, thick_mm, material, at=(0, 0, 0), turn=None, edge_mm=0.6):
    """A flat plate of any outline (x, y), from z = 0 up to its thickness."""
    form = bmesh.new()
    verts = [form.verts.new((x * MM, y * MM, 0)) for x, y in outline]
    face = form.faces.new(verts)
    made = bmesh.ops.extrude_face_region(form, geom=[face])
    for part in made["geom"]:
        if isinstance(part, bmesh.types.BMVert):
            part.co.z += thick_mm * MM
    bmesh.ops.recalc_face_normals(form, faces=form.faces)
    mesh = bpy.data.meshes.new(name)
    form.to_mesh(mesh)
    form.free()
    thing = link(name, mesh, material, at, turn)
    bevel = thing.modifiers.new("edges", "BEVEL")
    bevel.width, bevel.segments, bevel.limit_method = edge_mm * MM, 2, "ANGLE"
    return thing


def put_words(name, words, size_mm, material, at, turn=None, depth_mm=0.8):
    """Raised lettering."""
    curve = bpy.data.curves.new(name, "FONT")
    curve.body = words
    curve.size = size_mm * MM
    curve.extrude = depth_mm * MM
    curve.bevel_depth = min(0.25, depth_mm / 3) * MM
    curve.align_x, curve.align_y = "CENTER", "CENTER"
    return link(name, curve, material, at, turn)


def put_lamp(at, towards, watts, size_mm, tint=(1, 1, 1), spread_deg=170):
    """A soft square lamp."""
    data = bpy.data.lights.new("lamp", "AREA")
    data.energy, data.size, data.color = watts, size_mm * MM, tint
    data.spread = np.radians(spread_deg)
    away = Vector(towards) - Vector(at)
    turn = Vector((0, 0, -1)).rotation_difference(away.normalized()).to_matrix()
    return link("lamp", data, None, at, turn)


def put_haze(tint, strength):
    """The even light of the room."""
    world = bpy.data.worlds.new("room")
    bpy.context.scene.world = world
    world.use_nodes = True
    shade = world.node_tree.nodes["Background"]
    shade.inputs["Color"].default_value = (*tint, 1)
    shade.inputs["Strength"].default_value = strength
