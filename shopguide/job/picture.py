"""Taking a picture in: judged before it is decoded, set upright, stripped of place and serials."""

from __future__ import annotations

import hashlib
import io
import re
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from shopguide.errors import Trouble
from shopguide.job.packing import MOST_PICTURE_BYTES
from shopguide.job.picture_head import (
    COM,
    EOI,
    FIRST_ENDING,
    MOST_PIXELS,
    PIECE_BYTES,
    cut_off,
    damaged,
    find_kind,
    probe,
    read_tags,
    walk_jpeg_head,
    walk_png,
)

if TYPE_CHECKING:
    from PIL.Image import Image

_MUCH_ROOM_PX = 8_000_000

MOST_PROFILE_BYTES = 1_000_000
"""The longest colour profile that is kept; those of cameras and screens have some thousands."""

PAPER_SIDE_PX = 1000
PAPER_QUALITY = 82
ORIGINAL_QUALITY = 92

# A marker inside a JPEG's packed pixels: neither a stuffed FF, a restart, nor filling.
_JPEG_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
# What a PNG needs to look as it should; everything else is notes, dates, places or animation.
_PNG_KEPT = frozenset(
    {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB"}
    | {b"iCCP", b"sBIT", b"pHYs", b"bKGD", b"cICP"}
)
ORIENTATION = 274
"""The number of the EXIF note that says how a picture stands."""
# What a TIFF notes of how its own pixels lie; of another file that would be untrue.
_TIFF_LAYOUT = (
    *(254, 255, 256, 257, 258, 259, 262, 263, 264, 265, 266, 273, 277, 278, 279, 280, 281, 284),
    *(290, 291, 292, 293, 301, 317, 320, 322, 323, 324, 325, 330, 332, 338, 339, 347),
    *(512, 513, 514, 519, 520, 521, 529, 530, 531, 532, 34675),
)


@dataclass(frozen=True)
class Picture:
    """A picture as it is kept.

    original: JPEG or PNG, upright, without EXIF, place, serials or comments, unless these were to
    stay.
    paper: a JPEG in RGB, at most 1000 px on its long side, for screen and paper.
    width and height are the original's, in pixels. note: what was left out, if anything was.
    """

    original: bytes = field(repr=False)
    paper: bytes = field(repr=False)
    width: int
    height: int
    sha256: str
    paper_sha256: str
    ending: str
    note: str = ""


def take_in(data: bytes, name: str = "", *, keep_notes: bool = False) -> Picture:
    """The picture as it is to be kept, with a small copy for the paper.

    A JPEG or PNG that stands upright keeps its packed pixels bit for bit. keep_notes: the camera's
    notes (EXIF) stay in the original, not in the copy; a JPEG that stands upright is then kept
    byte for byte. Raises Trouble where probe does, and where the pixels cannot be unpacked.
    """
    width, height, kind = probe(data, name)
    note = ""
    with _decoding():
        if kind == "JPEG":
            original, turn, bad_profile = _strip_jpeg(data)
            note = _NOTE_PROFILE if bad_profile else ""
            if turn != 1:
                original = _turn(original, turn, "JPEG")
            elif keep_notes and not bad_profile:
                original, keep_notes = data, False
        elif kind == "PNG":
            original, turn, animated, bad_profile = _strip_png(data)
            note = _NOTE_PROFILE if bad_profile else ""
            note = f"{_NOTE_ANIMATED} {note}".strip() if animated else note
            if turn != 1:
                original = _turn(original, turn, "PNG")
        else:
            original, note = _convert(data, kind)
        if keep_notes:
            try:
                original = put_notes(original, read_notes(data))
            except Trouble as trouble:
                note = f"{note} {trouble.what}".strip()
        width, height, kind = probe(original)
        paper = _make_paper(original, kind)
    return Picture(
        original=original,
        paper=paper,
        width=width,
        height=height,
        sha256=hashlib.sha256(original).hexdigest(),
        paper_sha256=hashlib.sha256(paper).hexdigest(),
        ending=FIRST_ENDING[kind],
        note=note,
    )


_NOTE_ANIMATED = "The picture is animated; only its first frame is kept."
_NOTE_PROFILE = "Its colour profile is damaged, or far too long, and was left out."
_NOTE_PAGES = "The file holds several pictures; only the first is kept."


# --- stripping without touching the pixels ---


def _strip_jpeg(data: bytes) -> tuple[bytes, int, bool]:
    """The JPEG without APPn and comments, its orientation by EXIF (1 to 8), and whether a colour
    profile that is none was left out.

    Kept are the colour profile and what decoders need to read the colours (JFIF, Adobe). All
    behind the end of the picture goes: previews, depth maps and films are put there.
    """
    kept = [b"\xff\xd8"]
    turn = 1
    end = 2
    bad_profile = not _is_profile(_join_profile(data))
    for marker, start, end in walk_jpeg_head(data):
        body = data[start + 4 : end]
        if marker == 0xE1 and body.startswith(b"Exif\x00\x00"):
            turn = _read_orientation(body, 6)
        if _is_needed(marker, body) and not (bad_profile and marker == 0xE2):
            kept.append(data[start:end])
    while True:
        found = _find_marker(data, end)
        kept.append(data[end : found.start()])
        start = found.start()
        marker = data[start + 1]
        if marker == EOI:
            kept.append(b"\xff\xd9")
            return b"".join(kept), turn, bad_profile
        (length,) = struct.unpack(">H", data[start + 2 : start + 4])
        end = start + 2 + length
        if length < 2 or end > len(data):
            raise damaged()
        if marker != 0xE2 and _is_needed(marker, data[start + 4 : end]):
            kept.append(data[start:end])


def _find_marker(data: bytes, at: int) -> re.Match[bytes]:
    """The next marker in packed pixels, looked for piece by piece: a search holds up every thread
    of Python, and a key press must not wait for fifty megabytes."""
    for start in range(at, len(data), PIECE_BYTES):
        found = _JPEG_MARKER.search(data, start, start + PIECE_BYTES + 1)
        if found is not None:
            return found
    raise cut_off()


def _join_profile(data: bytes) -> bytes:
    """A JPEG's colour profile, put together from its numbered pieces; b"" where it has none."""
    pieces: list[tuple[int, bytes]] = []
    for marker, start, end in walk_jpeg_head(data):
        body = data[start + 4 : end]
        if marker == 0xE2 and body.startswith(b"ICC_PROFILE\x00") and len(body) > 14:
            pieces.append((body[12], body[14:]))
    return b"".join(piece for _, piece in sorted(pieces))


def _is_profile(profile: bytes) -> bool:
    """True for a colour profile that says of itself that it is one, and for none at all.

    By ICC.1: the length in its first four bytes, the mark "acsp" at byte 36, 128 bytes of head.
    """
    if not profile:
        return True
    (said,) = struct.unpack(">I", profile[:4].ljust(4, b"\0"))
    return profile[36:40] == b"acsp" and 132 <= said <= len(profile) <= MOST_PROFILE_BYTES


def _is_needed(marker: int, body: bytes) -> bool:
    if marker == 0xE0:
        # A JFIF head longer than this carries a small copy of the picture.
        return body.startswith(b"JFIF\x00") and len(body) == 14
    if marker == 0xE2:
        return body.startswith(b"ICC_PROFILE\x00")
    if marker == 0xEE:
        return body.startswith(b"Adobe")
    return not (0xE0 <= marker <= 0xEF or marker == COM)


def _read_orientation(data: bytes, base: int) -> int:
    try:
        turn = read_tags(data, base).get(ORIENTATION, 1)
    except (struct.error, KeyError):
        return 1
    return turn if 1 <= turn <= 8 else 1


def _strip_png(data: bytes) -> tuple[bytes, int, bool, bool]:
    """The PNG with needed chunks only, its orientation by EXIF, whether it is animated, and whether
    a colour profile that is none was left out."""
    kept = [data[:8]]
    turn = 1
    animated = bad_profile = False
    for name, start, end in walk_png(data):
        if name == b"eXIf":
            turn = _read_orientation(data[start + 8 : end - 4], 0)
        animated = animated or name == b"acTL"
        if name in _PNG_KEPT:
            if struct.unpack(">I", data[end - 4 : end])[0] != zlib.crc32(data[start + 4 : end - 4]):
                raise damaged()
            if name == b"iCCP" and not _is_profile(_unpack_profile(data[start + 8 : end - 4])):
                bad_profile = True
                continue
            kept.append(data[start:end])
    return b"".join(kept), turn, animated, bad_profile


def _unpack_profile(body: bytes) -> bytes:
    """The colour profile in a PNG's chunk, unpacked no further than one may be long."""
    _, _, packed = body.partition(b"\0")
    try:
        unpacked = zlib.decompressobj().decompress(packed[1:], MOST_PROFILE_BYTES + 1)
    except zlib.error:
        return b"no profile"
    return unpacked or b"no profile"


# --- notes that are to stay ---


def strip_notes(data: bytes) -> bytes:
    """A JPEG or PNG without notes, its pixels as they lie; other formats as they are.

    Raises Trouble where it is damaged.
    """
    with _decoding():
        kind = find_kind(data)
        if kind == "JPEG":
            return _strip_jpeg(data)[0]
        return _strip_png(data)[0] if kind == "PNG" else data


def read_notes(data: bytes) -> bytes:
    """The camera's notes in a picture as EXIF, beginning with its TIFF head; b"" where none are.

    What they say of how the picture stands is left out, for it is set upright. Raises Trouble
    where they cannot be read.
    """
    try:
        with _open_image(data, find_kind(data)) as image:
            notes = image.getexif()
            for tag in (ORIENTATION, *_TIFF_LAYOUT):
                notes.pop(tag, None)
            if not len(notes):
                return b""
            return notes.tobytes().removeprefix(b"Exif\x00\x00")
    # Notes may say anything, and the decoder raises nearly everything.
    except Exception as fault:
        raise Trouble(
            "Its notes cannot be read and were left out.", next="Add it without its notes."
        ) from fault


def put_notes(original: bytes, notes: bytes) -> bytes:
    """A stripped JPEG or PNG with these notes put in, its pixels as they were.

    Raises Trouble where they are longer than a JPEG can hold.
    """
    if not notes:
        return original
    if original[:2] == b"\xff\xd8":
        body = b"Exif\x00\x00" + notes
        if len(body) + 2 > 0xFFFF:
            raise Trouble(
                "Its notes are too long and were left out.", next="Add it without its notes."
            )
        at = 2
        for marker, start, end in walk_jpeg_head(original):
            if marker != 0xE0:
                at = start
                break
            at = end
        return original[:at] + struct.pack(">BBH", 0xFF, 0xE1, len(body) + 2) + body + original[at:]
    chunk = b"eXIf" + notes
    sealed = struct.pack(">I", len(notes)) + chunk + struct.pack(">I", zlib.crc32(chunk))
    # Behind the head, which has 8 + 25 bytes.
    return original[:33] + sealed + original[33:]


# --- where the pixels must be unpacked ---


@contextmanager
def _decoding() -> Iterator[None]:
    """Whatever a decoder says about a bad file becomes one sentence."""
    try:
        yield
    except Trouble:
        raise
    except MemoryError:
        raise Trouble(
            "The picture needs more memory than there is.", next="Save it smaller."
        ) from None
    # Decoders raise nearly everything on bad files: OSError, SyntaxError, ValueError, struct.error.
    except Exception as fault:
        trouble = cut_off() if "truncated" in str(fault) else damaged()
        raise trouble from fault


def _open_image(data: bytes, kind: str) -> Image:
    # Imported here, for the window must come up without waiting for it.
    from PIL import Image

    # The limit was applied above; Pillow's own would warn below it, on standard error.
    Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    image = Image.open(io.BytesIO(data), formats=[kind.upper()])
    if image.width * image.height > MOST_PIXELS:
        raise damaged()
    return image


def make_room(image: Image) -> None:
    """Gives a large picture the memory for its pixels before they are unpacked.

    Pillow would clear it at unpacking, for a tenth of a second in which no other thread of Python
    runs; what it makes by enlarging is not cleared, and filled while others run.
    """
    from PIL import Image

    plain = image.mode in ("1", "L", "P", "RGB", "RGBA", "CMYK")
    if plain and image.width * image.height > _MUCH_ROOM_PX:
        image.im = Image.new(image.mode, (1, 1)).resize(image.size, Image.Resampling.NEAREST).im


def _turn(data: bytes, turn: int, kind: str) -> bytes:
    from PIL import Image, JpegImagePlugin

    way = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }[turn]
    with _open_image(data, kind) as image:
        make_room(image)
        fine = kind == "JPEG" and JpegImagePlugin.get_sampling(image) == 0
        return _save(image.transpose(way), kind, image.info.get("icc_profile"), fine)


def _save(image: Image, kind: str, profile: bytes | None, fine: bool = False) -> bytes:
    # Notes that came along with the image would be written again.
    image.info = {key: image.info[key] for key in ("transparency",) if key in image.info}
    out = io.BytesIO()
    if kind == "JPEG":
        image.save(
            out,
            "JPEG",
            quality=ORIGINAL_QUALITY,
            subsampling=0 if fine else 2,
            optimize=False,
            icc_profile=profile,
        )
    else:
        image.save(out, "PNG", icc_profile=profile)
    return out.getvalue()


def _convert(data: bytes, kind: str) -> tuple[bytes, str]:
    """WebP, TIFF or BMP as PNG where nothing may be lost, else as JPEG; and the note."""
    from PIL import ImageOps

    lossy = kind == "WebP" and b"VP8 " in data[12:16] + data[30:34]
    with _open_image(data, kind) as image:
        frames = getattr(image, "n_frames", 1)
        image.seek(0)
        make_room(image)
        image.load()
        profile = image.info.get("icc_profile")
        upright = ImageOps.exif_transpose(image)
        clear = "A" in upright.getbands() or "transparency" in upright.info
        plain = _make_plain(upright, clear)
    # A profile for another sort of colours than the pixels have now would be wrong.
    profile = profile if plain.mode in ("RGB", "RGBA") and image.mode in ("RGB", "RGBA") else None
    profile = profile if profile and _is_profile(profile) else None
    note = "" if frames == 1 else _NOTE_ANIMATED if kind == "WebP" else _NOTE_PAGES
    if lossy and not clear:
        return _save(plain, "JPEG", profile), note
    packed = _save(plain, "PNG", profile)
    if len(packed) > MOST_PICTURE_BYTES and not clear:
        packed = _save(plain, "JPEG", profile, fine=True)
    return packed, note


def _make_plain(image: Image, clear: bool) -> Image:
    """The image in grey, RGB or RGBA with eight bits each."""
    if image.mode in ("L", "RGB", "RGBA"):
        return image.copy()
    if image.mode.startswith("I"):
        return flatten_grey(image)
    if image.mode == "F":
        raise Trouble(
            "The file holds measured values, not a picture.", next="Save it as JPEG or PNG."
        )
    return image.convert("RGBA" if clear else "RGB")


def flatten_grey(image: Image) -> Image:
    """Sixteen bits of grey as eight: Pillow would cut off instead of scaling."""
    return image.convert("I").point(lambda value: value * (1 / 257)).convert("L")


def _make_paper(original: bytes, kind: str) -> bytes:
    from PIL import Image

    with _open_image(original, kind) as image:
        profile = image.info.get("icc_profile")
        # The decoder itself can halve a JPEG while unpacking it, which is three times as fast.
        image.draft("RGB", (PAPER_SIDE_PX, PAPER_SIDE_PX))
        make_room(image)
        image.load()
        clear = "A" in image.getbands() or "transparency" in image.info
        small = image if image.mode == "CMYK" else _make_plain(image, clear)
        small.thumbnail((PAPER_SIDE_PX, PAPER_SIDE_PX), Image.Resampling.LANCZOS)
        if profile:
            small = _to_srgb(small, profile)
        if small.mode == "RGBA":
            ground = Image.new("RGB", small.size, "white")
            ground.paste(small, mask=small.getchannel("A"))
            small = ground
        small = small.convert("RGB")
        small.info = {}
        out = io.BytesIO()
        small.save(out, "JPEG", quality=PAPER_QUALITY)
    return out.getvalue()


def _to_srgb(image: Image, profile: bytes) -> Image:
    from PIL import ImageCms

    if image.mode not in ("RGB", "CMYK"):
        return image
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        goal = ImageCms.createProfile("sRGB")
        turned = ImageCms.profileToProfile(image, source, goal, outputMode="RGB")
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        # A broken profile is no reason to refuse a picture; the colours are then as stored.
        return image
    return turned or image
