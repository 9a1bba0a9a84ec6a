"""Works out, through the cameras, where the marks of each picture lie in its pixels."""

import math

import bpy
from bpy_extras.object_utils import world_to_camera_view
from mathutils import Matrix, Vector
from pictures import HEIGHT_PX, PICTURES, WIDTH_PX, Camera, Mark, Picture
from screw_table import Screw, walk_round

# How far inside its screw a number stands, and the height of the flange's face.
NUMBER_INSIDE_MM = 21
FLANGE_FACE_MM = 8


def place_camera(camera: Camera) -> bpy.types.Object:
    """Put the scene's camera where the picture wants it (metres in the scene)."""
    data = bpy.data.cameras.new("camera")
    thing = bpy.data.objects.new("camera", data)
    scene = bpy.context.scene
    scene.collection.objects.link(thing)
    scene.camera = thing
    scene.render.resolution_x, scene.render.resolution_y = WIDTH_PX, HEIGHT_PX
    eye = Vector(camera.at) / 1000
    back = (eye - Vector(camera.towards) / 1000).normalized()
    right = Vector(camera.up).cross(back).normalized()
    up = back.cross(right)
    turn = Matrix((right, up, back)).transposed().to_4x4()
    thing.matrix_world = Matrix.Translation(eye) @ turn
    data.clip_start, data.clip_end = 0.01, 60
    data.sensor_width = 36
    if camera.wide_mm:
        data.type = "ORTHO"
        data.ortho_scale = camera.wide_mm / 1000
    else:
        data.lens = camera.lens_mm
        data.dof.use_dof = True
        data.dof.aperture_fstop = camera.fstop
        focus = Vector(camera.focus or camera.towards) / 1000
        data.dof.focus_distance = (eye - focus).dot(back)
    bpy.context.view_layer.update()
    return thing


def project(thing: bpy.types.Object, at_mm) -> tuple[float, float]:
    """A point of the scene (mm) in picture pixels, origin top left, y down."""
    seen = world_to_camera_view(bpy.context.scene, thing, Vector(at_mm) / 1000)
    return seen.x * WIDTH_PX, (1 - seen.y) * HEIGHT_PX


def list_mark(thing: bpy.types.Object, mark: Mark) -> dict:
    x, y = (round(value) for value in project(thing, mark.at))
    moved = [x + mark.tail_px[0], y + mark.tail_px[1]]
    if mark.kind == "ring":
        return {"kind": "ring", "at": [x, y], "radius": mark.radius_px}
    if mark.kind == "arrow":
        return {"kind": "arrow", "from": moved, "to": [x, y]}
    return {"kind": "text", "at": moved, "text": mark.text}


def find_inward(screws: tuple[Screw, ...], index: int) -> tuple[float, float]:
    """The unit direction from a screw towards the inside of the cover."""
    before, after = screws[index - 1], screws[(index + 1) % len(screws)]
    run_x, run_y = after.x_mm - before.x_mm, after.y_mm - before.y_mm
    length = math.hypot(run_x, run_y)
    # The walk goes clockwise, so the inside lies to the right of the direction of travel.
    return run_y / length, -run_x / length


def list_screws(thing: bpy.types.Object) -> dict:
    """Pixels of every screw, its number beside it, and the mapping from pixels to mm."""
    screws = walk_round()
    at = {s.number: project(thing, (s.x_mm, s.y_mm, FLANGE_FACE_MM)) for s in screws}
    marks = []
    for index, screw in enumerate(screws):
        in_x, in_y = find_inward(screws, index)
        place = (screw.x_mm + NUMBER_INSIDE_MM * in_x, screw.y_mm + NUMBER_INSIDE_MM * in_y, 0)
        x, y = project(thing, place)
        marks.append({"kind": "number", "at": [round(x), round(y)], "number": screw.number})
    marks.sort(key=lambda mark: mark["number"])
    zero, one = project(thing, (0, 0, 0)), project(thing, (100, 100, 0))
    a, e = 100 / (one[0] - zero[0]), 100 / (one[1] - zero[1])
    mapping = [a, 0, -a * zero[0], 0, e, -e * zero[1], 0, 0, 1]
    return {
        "marks": marks,
        "screws": {str(n): [round(x, 2), round(y, 2)] for n, (x, y) in sorted(at.items())},
        "px_to_mm": [round(value, 9) for value in mapping],
    }


def list_picture(picture: Picture) -> dict:
    bpy.ops.wm.read_factory_settings(use_empty=True)
    thing = place_camera(picture.camera)
    entry = {
        "file": picture.name + ".jpg",
        "width": WIDTH_PX,
        "height": HEIGHT_PX,
        "caption": picture.caption,
        "alt": picture.alt,
        "marks": [list_mark(thing, mark) for mark in picture.marks],
    }
    if picture.camera.wide_mm:
        entry |= list_screws(thing)
    return entry


def list_pictures() -> list[dict]:
    """Every picture with its marks in pixels, without rendering anything."""
    return [list_picture(picture) for picture in PICTURES]
