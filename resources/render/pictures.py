"""What each picture shows: its camera, caption, text for those who cannot see it, and marks.

Two frames, both in mm. "van": x right, y up as seen from below, z towards the floor (so the
viewer under the vehicle is at +z and "up" in the real world is -z). "bench": z up, the bench
top at 0. Marks are tied to points of the scene and projected through the camera.
"""

from dataclasses import dataclass, field

from screw_table import name_screw

WIDTH_PX, HEIGHT_PX = 1600, 1200


@dataclass(frozen=True)
class Camera:
    """Where a picture is taken from; places in mm, the lens as on a 36 mm wide film."""

    at: tuple[float, float, float]
    towards: tuple[float, float, float]
    lens_mm: float = 50
    up: tuple[float, float, float] = (0, 0, -1)
    fstop: float = 8
    focus: tuple[float, float, float] | None = None
    wide_mm: float | None = None  # a width makes it a parallel projection


@dataclass(frozen=True)
class Mark:
    """One mark: the point it speaks of, and how it stands to it in picture pixels."""

    kind: str
    at: tuple[float, float, float]
    radius_px: int = 0
    tail_px: tuple[int, int] = (0, 0)
    text: str = ""


@dataclass(frozen=True)
class Picture:
    name: str
    frame: str
    camera: Camera
    caption: str
    alt: str
    marks: tuple[Mark, ...] = field(default=())


def ring(at, radius_px):
    return Mark("ring", at, radius_px=radius_px)


def arrow(at, tail_px):
    return Mark("arrow", at, tail_px=tail_px)


def text(at, words, offset_px=(0, 0)):
    return Mark("text", at, text=words, tail_px=offset_px)


BENCH_UP = (0, 0, 1)
BRACKET_SCREWS = " and ".join(map(str, sorted((name_screw(98, 102), name_screw(146, 84)))))
BAND_SCREWS = " and ".join(map(str, sorted((name_screw(160, 30), name_screw(154, -26)))))

PICTURES = (
    Picture(
        "underside",
        "van",
        Camera((330, 1080, 520), (-110, -200, 60), 25, fstop=2.8, focus=(0, 300, 70)),
        "From below with the undertray still on. The front is to the left.",
        "The van's underside on axle stands: frame rails, exhaust pipe and, in the middle, a "
        "black plastic undertray hiding the gearbox.",
        (arrow((0, 120, 74), (240, 330)), text((0, 120, 74), "undertray", (250, 345))),
    ),
    Picture(
        "undertray_screws",
        "van",
        Camera((70, 560, 330), (-10, 285, 60), 50, fstop=8, focus=(0, 300, 74)),
        "The tray's screws sit under large washers along its edge.",
        "Close view of the black tray's edge: two hex screws with large steel washers, brackets "
        "above them and cooling slots below.",
        (ring((-110, 300, 76), 110), ring((110, 300, 76), 110)),
    ),
    Picture(
        "undertray_off",
        "van",
        Camera((70, 520, 560), (10, 20, -20), 28, fstop=11, focus=(0, 60, 20)),
        "Undertray off: the gearbox and its whole sump cover can be seen.",
        "The cast aluminium gearbox from below with the ribbed sump cover in the middle, the "
        "exhaust pipe beside it and the steel rails either side.",
        (arrow((0, -10, 45), (-330, 330)), text((0, -10, 45), "sump cover", (-420, 345))),
    ),
    Picture(
        "cable_bracket",
        "van",
        Camera((225, 360, 260), (126, 114, 2), 58, fstop=8, focus=(125, 105, 10)),
        f"The selector-cable bracket lies over the cover's edge between screws {BRACKET_SCREWS}.",
        "A zinc-plated steel bracket with a black cable in it; its tongue lies on the cover's "
        "flange between two screws.",
        (
            ring((122, 96, 14), 130),
            arrow((112, 140, 2), (-260, -120)),
            arrow((168, 122, 2), (260, -160)),
        ),
    ),
    Picture(
        "sensor_plug",
        "van",
        Camera((-360, 130, 190), (-196, -16, -2), 62, fstop=5.6, focus=(-196, -15, 15)),
        "Sensor plug on the casing. Push the grey lock back before pulling.",
        "A black three-way plug with a grey lock on the left side of the gearbox casing, its "
        "cable leading away in a ribbed sleeve.",
        (arrow((-199, -9, 23), (330, -150)), text((-199, -9, 23), "grey lock", (350, -185))),
    ),
    Picture(
        "drain_plug",
        "van",
        Camera((170, 470, 190), (56, -20, 112), 32, fstop=3.5, focus=(60, -30, 60)),
        "The drain plug on the cover's floor, with a tray underneath to catch the fluid.",
        "The sump cover from below at a low angle: a hex drain plug with its copper ring, and a "
        "black catch tray standing under it.",
        (ring((60, -40, 55), 75), arrow((-60, 150, 246), (-80, -300))),
    ),
    Picture(
        "cover_from_below",
        "van",
        Camera((0, 0, 600), (0, 0, 0), up=(0, 1, 0), wide_mm=440),
        "The cover from straight below, front to the left, with all 16 screws.",
        "The sump cover seen squarely from below, front to the left: an irregular flange with "
        "16 hex-head screws round a ribbed pan, drain plug lower right, level plug upper left.",
    ),
    Picture(
        "screw_lengths",
        "bench",
        Camera((0, -205, 250), (2, -12, 0), 45, up=BENCH_UP, fstop=8, focus=(0, 0, 4)),
        "Two lengths: four long screws (M6 x 35) left, twelve short (M6 x 20) right.",
        "Sixteen flanged hex screws on a grey cloth, four long ones on the left and twelve short "
        "ones in two rows on the right, with a steel rule below them.",
        (
            text((-72, 40, 0), "4 long, 35 mm", (0, -70)),
            text((56, 50, 0), "12 short, 20 mm", (0, -60)),
        ),
    ),
    Picture(
        "cover_inside",
        "bench",
        Camera((-30, -330, 400), (0, -6, 20), 38, up=BENCH_UP, fstop=11, focus=(0, -20, 20)),
        "The cover's inside: look at what the magnets caught before cleaning.",
        "The cover turned over on the bench, wet with red-brown fluid; four ring magnets on its "
        "floor carry grey paste and a few fine filings.",
        (
            ring((-104, 40, 24), 80),
            ring((-16, 52, 24), 80),
            ring((112, -22, 24), 80),
            ring((22, -58, 24), 80),
        ),
    ),
    Picture(
        "band_screw",
        "van",
        Camera((300, 170, 190), (176, 6, 6), 54, fstop=8, focus=(186, 10, 16)),
        f"Never touch: the band-adjusting screw with its lock nut, beside screws {BAND_SCREWS}.",
        "Close view of the cover's right edge: two cover screws and, just outside the flange on "
        "the casing, a similar-looking screw end with a lock nut.",
        (ring((190, 10, 7), 120),),
    ),
    Picture(
        "filter",
        "van",
        Camera((50, 290, 410), (0, 8, -20), 36, fstop=11, focus=(0, 20, -10)),
        "Cover off: the flat filter hangs on three screws.",
        "The open gearbox from below: a flat black filter with three screws, the ribs of the "
        "valve body around it and the bare sealing face.",
        (
            ring((-92, 42, -8), 60),
            ring((64, 44, -8), 60),
            ring((-20, -62, -8), 60),
        ),
    ),
    Picture(
        "new_gasket",
        "bench",
        Camera((50, -360, 345), (0, -4, 30), 39, up=BENCH_UP, fstop=11, focus=(0, -60, 50)),
        "The new gasket on the cleaned flange: all 16 holes agree.",
        "A clean cover lying open side up with a dark new gasket on its flange; each of the "
        "gasket's 16 holes stands over a hole in the flange.",
        (arrow((-66, 112, 50), (-120, -130)), arrow((100, 106, 50), (150, -120))),
    ),
    Picture(
        "filler_tube",
        "van",
        Camera((-390, 340, 170), (-190, 100, -40), 48, fstop=8, focus=(-178, 128, -30)),
        "The filler-tube bracket screw stays loose until the tube is seated.",
        "A steel filler tube going into the casing; the screw of its bracket stands out with a "
        "gap under its head.",
        (ring((-168, 136, -31), 95),),
    ),
    Picture(
        "refill",
        "bench",
        Camera((-20, -800, 350), (12, 0, 96), 47, up=BENCH_UP, fstop=5.6, focus=(0, -40, 100)),
        "Measure what came out, then fill in the like amount.",
        "On the bench: two fluid bottles with blank labels, a clear measuring jug with red fluid "
        "and graduations, and a drain pan with the dark old fluid.",
        (arrow((60, -60, 110), (0, -300)),),
    ),
    Picture(
        "level_check",
        "van",
        Camera((-190, 330, 230), (-60, 20, 70), 46, fstop=5.6, focus=(-70, 30, 55)),
        "Level plug out, fluid at 40 to 45 °C: a thin thread just runs.",
        "The cover's floor with the level plug taken out; a thin thread of red fluid runs from "
        "the hole beside the wire of a thermometer probe.",
        (ring((-70, 30, 48), 70), arrow((-70, 30, 80), (-300, 60))),
    ),
    Picture(
        "witness_marks",
        "van",
        Camera((36, 118, 520), (2, 2, 8), 43, fstop=11, focus=(0, 40, 25)),
        "Finished: two crossed paint-pen strokes on each of the 16 screw heads.",
        "The refitted cover from below at an angle; every one of its 16 screw heads carries two "
        "crossed magenta strokes.",
        (arrow((-30, 110, 15), (0, -150)),),
    ),
)


def find_picture(name: str) -> Picture:
    for picture in PICTURES:
        if picture.name == name:
            return picture
    raise SystemExit(
        f"no picture is called {name!r}; there are: " + ", ".join(p.name for p in PICTURES)
    )
