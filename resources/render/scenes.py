"""Sets up the scene of each picture: what is in it and how it is lit."""

import numpy as np
from bench import (
    put_bench,
    put_bottle,
    put_cloth,
    put_drain_pan,
    put_jug,
    put_magnets,
    put_new_gasket,
    put_screw_rows,
    put_steel_rule,
    put_upturned_cover,
)
from cover import LEVEL_AT, PAD_FACE_MM
from gearbox import (
    put_band_screw,
    put_casing,
    put_cover,
    put_filler_tube,
    put_open_inside,
    put_selector_cable,
    put_sensor,
)
from materials import mix_material
from objects import put_haze, put_lamp, put_pipe, put_turned
from van import (
    put_body,
    put_catch_tray,
    put_garage,
    put_mechanics_lamp,
    put_running_gear,
    put_stand,
    put_tray,
    put_wheels,
)

WARM, COOL, WHITE = (1.0, 0.84, 0.66), (0.8, 0.89, 1.0), (1.0, 0.93, 0.84)


def light_from_below(camera, watts=5.0):
    """A warm lamp by the viewer's shoulder, a cool one across, a little of the room."""
    eye, aimed = np.array(camera.at), np.array(camera.towards)
    reach = np.linalg.norm(eye - aimed)
    away = (eye - aimed) / reach
    side = np.cross(away, (0, 0, 1))
    side /= np.linalg.norm(side) or 1
    scale = (reach / 400) ** 2
    put_lamp(
        aimed + away * reach * 0.8 - side * reach * 0.85 + (0, 0, 0.35 * reach),
        aimed,
        watts * scale,
        0.35 * reach,
        WARM,
    )
    put_lamp(
        aimed + away * reach * 0.3 + side * reach * 1.2 + (0, 0, 0.2 * reach),
        aimed,
        watts * 0.45 * scale,
        0.7 * reach,
        COOL,
    )
    put_haze((0.9, 0.93, 1.0), 0.2)


def set_gearbox(cover=True, bracket=True, loose_tube=False, **choices):
    put_body()
    put_running_gear()
    put_garage()
    put_casing()
    put_band_screw()
    put_sensor()
    put_filler_tube(loose_tube)
    put_selector_cable(bracket)
    if cover:
        put_cover(**choices)
    else:
        put_open_inside()


def set_underside(camera):
    set_gearbox()
    put_tray()
    put_wheels()
    for x in (-560, 760):
        for y in (-412, 412):
            put_stand(x, y)
    put_mechanics_lamp((-420, 420, 640), 24)
    put_lamp((-380, 430, 600), (-100, 0, 60), 20, 260, WARM)
    put_lamp((900, 900, 560), (200, 0, 40), 34, 500, WARM)
    put_lamp((-900, -1500, 300), (-200, -300, 100), 26, 900, COOL)
    put_lamp((600, -2200, -900), (0, -900, 640), 45, 1500, WHITE)
    put_haze((0.9, 0.93, 1.0), 0.10)


def set_undertray_screws(camera):
    set_gearbox()
    put_tray()
    light_from_below(camera, 9)
    put_lamp((-420, 330, 330), (0, 290, 70), 5, 120, WHITE)


def set_undertray_off(camera):
    set_gearbox()
    light_from_below(camera, 6)
    put_lamp((-520, 200, 420), (-60, -40, 0), 6, 260, WARM)
    put_lamp((520, 640, 500), (160, 0, -100), 9, 400, WHITE)


def set_close(camera):
    set_gearbox()
    light_from_below(camera, 6)


def set_filler_tube(camera):
    set_gearbox(loose_tube=True)
    light_from_below(camera, 4.5)


def set_drain_plug(camera):
    set_gearbox(bracket=False)
    put_catch_tray((70, 0, 330))
    light_from_below(camera, 2.0)
    put_lamp((-500, 300, 300), (40, 0, 60), 4, 300, WARM)
    put_lamp((600, -2200, -900), (0, -900, 640), 45, 1500, WHITE)
    put_lamp((500, 700, 0), (70, 0, 350), 14, 300, WARM)


def set_cover_from_below(camera):
    set_gearbox(bracket=False)
    put_lamp((-660, 360, 360), (0, 0, 20), 15, 220, WHITE)
    put_lamp((560, -260, 560), (0, 0, 20), 5, 500, COOL)
    put_haze((0.9, 0.93, 1.0), 0.16)


def set_filter(camera):
    set_gearbox(cover=False, bracket=False)
    light_from_below(camera, 5)


def set_level_check(camera):
    set_gearbox(level=False)
    put_thread()
    put_probe()
    light_from_below(camera, 4.5)


def set_witness_marks(camera):
    set_gearbox(strokes=True, dirt=0.2)
    light_from_below(camera, 5)


def put_thread():
    """Fluid running from the level hole: a lip of it, then a thread narrowing as it falls."""
    x, y = LEVEL_AT
    dark = mix_material("plain", name="hole", tint="#060403", rough=0.3)
    put_turned("hole", [(0, 0), (8.4, 0)], dark, (x, y, PAD_FACE_MM - 9))
    wet = mix_material("fluid", tint="#8E1C14", depth=0.7)
    start = PAD_FACE_MM - 1.5
    profile = [
        (7.6, start - 3),
        (7.4, start),
        (6.4, start + 1.6),
        (4.2, start + 3.2),
        (2.6, start + 6),
        (1.9, start + 12),
        (1.5, start + 24),
        (1.25, start + 60),
        (1.0, start + 160),
        (0.9, start + 400),
    ]
    put_turned("thread", profile, wet, (x - 1.5, y, 0), around=24)


def put_probe():
    """A thermometer's wire probe reaching past the thread into the hole."""
    x, y = LEVEL_AT
    steel = mix_material("zinc", dirt=0.05)
    put_pipe(
        "probe",
        [
            (x + 4, y + 1, PAD_FACE_MM - 20),
            (x + 7, y + 2, PAD_FACE_MM + 6),
            (x + 20, y + 4, PAD_FACE_MM + 42),
        ],
        1.7,
        steel,
    )
    black = mix_material("plastic", dust=0.05)
    put_pipe(
        "probe grip",
        [
            (x + 19, y + 3.8, PAD_FACE_MM + 39),
            (x + 25, y + 5, PAD_FACE_MM + 56),
            (x + 31, y + 6, PAD_FACE_MM + 72),
        ],
        4.4,
        black,
    )
    put_pipe(
        "probe lead",
        [
            (x + 31, y + 6, PAD_FACE_MM + 72),
            (x + 52, y + 10, PAD_FACE_MM + 118),
            (x + 120, y + 30, PAD_FACE_MM + 140),
            (x + 190, y + 110, PAD_FACE_MM + 170),
        ],
        1.6,
        black,
    )


def light_bench(watts=14, behind=0.4):
    put_lamp((-620, 60, 720), (0, 0, 20), watts, 300, WARM)
    put_lamp((560, -420, 640), (0, 0, 20), watts * 0.35, 600, COOL)
    if behind:
        put_lamp((200, 380, 900), (0, 100, 0), watts * behind, 700, WHITE)
    put_haze((1.0, 0.95, 0.88), 0.14)


def set_screw_lengths(camera):
    put_bench()
    put_cloth(185, 140)
    put_screw_rows()
    put_steel_rule(-88, -66)
    light_bench(11)


def set_cover_inside(camera):
    put_bench()
    put_upturned_cover(0.35, wet=True)
    put_magnets()
    light_bench(12, behind=0.16)


def set_new_gasket(camera):
    put_bench()
    put_cloth(290, 230, 4)
    put_upturned_cover(0.12)
    put_magnets(pasted=False)
    put_new_gasket()
    light_bench()


def set_refill(camera):
    put_bench()
    put_bottle(-250, 40, 12, "#23272B")
    put_bottle(-140, 90, -8, "#23272B")
    put_jug(60, -60, 126)
    put_drain_pan(270, 60)
    light_bench(26, behind=0.12)


SCENES = {
    "underside": set_underside,
    "undertray_screws": set_undertray_screws,
    "undertray_off": set_undertray_off,
    "cable_bracket": set_close,
    "sensor_plug": set_close,
    "drain_plug": set_drain_plug,
    "cover_from_below": set_cover_from_below,
    "screw_lengths": set_screw_lengths,
    "cover_inside": set_cover_inside,
    "band_screw": set_close,
    "filter": set_filter,
    "new_gasket": set_new_gasket,
    "filler_tube": set_filler_tube,
    "refill": set_refill,
    "level_check": set_level_check,
    "witness_marks": set_witness_marks,
}


def set_scene(picture):
    SCENES[picture.name](picture.camera)
