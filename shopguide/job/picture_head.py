"""What a picture's own head says of it: its format, its size, and whether it is whole.

Nothing is decoded, or even given to the decoder, before the limits have been applied to these.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from shopguide.errors import Trouble
from shopguide.job.packing import MOST_PICTURE_BYTES

if TYPE_CHECKING:
    import mmap

    Data = bytes | mmap.mmap

MOST_PIXELS = 100_000_000
"""The largest picture, in pixels."""

_KINDS_TAKEN = "JPEG, PNG, WebP, TIFF or BMP"
_ENDINGS = {
    "jpg": "JPEG",
    "jpeg": "JPEG",
    "jpe": "JPEG",
    "jfif": "JPEG",
    "png": "PNG",
    "webp": "WebP",
    "tif": "TIFF",
    "tiff": "TIFF",
    "bmp": "BMP",
    "dib": "BMP",
}
FIRST_ENDING = {"JPEG": "jpg", "PNG": "png", "WebP": "webp", "TIFF": "tif", "BMP": "bmp"}
HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
_AVIF_BRANDS = {b"avif", b"avis"}

PIECE_BYTES = 1 << 19
"""So much is searched at a time, for other threads wait meanwhile."""
_JPEG_FILLING = re.compile(rb"\xff+")
_JPEG_FRAMES = frozenset({*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC})
SOI, EOI, SOS, COM = 0xD8, 0xD9, 0xDA, 0xFE


def probe(data: Data, name: str = "") -> tuple[int, int, str]:
    """Width and height in pixels as stored, and the format, without decoding.

    With a file name, its ending must fit the contents. Raises Trouble for what is no picture, is
    cut off, is mislabelled, or is larger than a picture may be.
    """
    if len(data) > MOST_PICTURE_BYTES:
        raise Trouble(
            f"The picture has more than {MOST_PICTURE_BYTES // 1_000_000} MB.",
            next="Save it smaller: 12 megapixels as JPEG are plenty.",
        )
    kind = find_kind(data)
    if name:
        check_ending(name, kind)
    try:
        width, height = _MEASURES[kind](data)
    except (struct.error, IndexError, ValueError, KeyError):
        raise damaged() from None
    if width < 1 or height < 1:
        raise damaged()
    if width * height > MOST_PIXELS:
        raise Trouble(
            f"The picture has {width:,} × {height:,} pixels; at most "
            f"{MOST_PIXELS // 1_000_000} megapixels are taken.",
            next="Save it smaller: 12 megapixels are plenty.",
        )
    return width, height, kind


def find_kind(data: Data) -> str:
    start = bytes(data[:16])
    if start[:3] == b"\xff\xd8\xff":
        return "JPEG"
    if start[:8] == b"\x89PNG\r\n\x1a\n":
        return "PNG"
    if start[:4] == b"RIFF" and start[8:12] == b"WEBP":
        return "WebP"
    if start[:4] in (b"II*\x00", b"MM\x00*"):
        return "TIFF"
    if start[:2] == b"BM" and len(data) > 26:
        return "BMP"
    if start[4:8] == b"ftyp":
        if start[8:12] in HEIF_BRANDS:
            raise Trouble(
                "The picture is in HEIC format, as some telephones save them; it cannot be read.",
                next="Save or share it as JPEG, and set the camera to the most compatible format.",
            )
        if start[8:12] in _AVIF_BRANDS:
            raise Trouble(
                "The picture is in AVIF format, which is not read here.",
                next="Save it as JPEG.",
            )
        raise Trouble("The file is a film, not a picture.", next="Take a still picture of it.")
    if start[:6] in (b"GIF87a", b"GIF89a"):
        raise Trouble("The picture is in GIF format, which is not read.", next="Save it as PNG.")
    if not start:
        raise Trouble("The file is empty.", next="Copy the picture again.")
    raise Trouble("The file is not a picture.", next=f"Use a picture in {_KINDS_TAKEN}.")


def check_ending(name: str, kind: str) -> None:
    stem, dot, ending = name.rpartition(".")
    ending = ending.casefold() if dot else ""
    right = f"{stem if dot else name}.{FIRST_ENDING[kind]}"
    if ending not in _ENDINGS:
        raise Trouble(
            f"{name} holds a picture in {kind}, but its name does not end so.",
            next=f"Rename it to {right}.",
        )
    if _ENDINGS[ending] != kind:
        raise Trouble(
            f"{name} is named as {_ENDINGS[ending]}, but holds a picture in {kind}.",
            next=f"Rename it to {right}.",
        )


def damaged() -> Trouble:
    return Trouble("The picture is damaged.", next="Copy it again, or take another one.")


def cut_off() -> Trouble:
    return Trouble("The picture is cut off before its end.", next="Copy it again from the camera.")


# --- sizes from the headers ---


def walk_jpeg_head(data: Data) -> Iterator[tuple[int, int, int]]:
    """(marker, start, end) of each segment up to and with the first SOS; start is at its FF."""
    at = 2
    while True:
        if data[at] != 0xFF:
            raise ValueError("no marker where one must be")
        while data[at + 1] == 0xFF:
            filled = _JPEG_FILLING.match(data, at, at + PIECE_BYTES)
            at = filled.end() - 1 if filled is not None else at + 1
        marker = data[at + 1]
        if marker in (SOI, EOI, 0x00):
            raise ValueError("a marker that cannot be here")
        if marker == 0x01 or 0xD0 <= marker <= 0xD7:
            at += 2
            continue
        (length,) = struct.unpack(">H", data[at + 2 : at + 4])
        if length < 2:
            raise ValueError("a segment shorter than its own length")
        yield marker, at, at + 2 + length
        if marker == SOS:
            return
        at += 2 + length


def _measure_jpeg(data: Data) -> tuple[int, int]:
    size = None
    scan = 0
    try:
        for marker, start, end in walk_jpeg_head(data):
            if marker in _JPEG_FRAMES and size is None:
                height, width = struct.unpack(">HH", data[start + 5 : start + 9])
                size = (width, height)
            scan = end
    except (IndexError, struct.error):
        raise cut_off() from None
    if size is None:
        raise ValueError("no frame")
    # Inside packed pixels FF D9 cannot stand, so one behind the first scan ends the picture.
    if data.rfind(b"\xff\xd9", scan) < 0:
        raise cut_off()
    return size


def walk_png(data: Data) -> Iterator[tuple[bytes, int, int]]:
    """(name, start, end) of each chunk up to and with IEND; start is at its length."""
    at = 8
    while True:
        length, name = struct.unpack(">I4s", data[at : at + 8])
        end = at + 12 + length
        if end > len(data):
            raise cut_off()
        yield name, at, end
        if name == b"IEND":
            return
        at = end


def _measure_png(data: Data) -> tuple[int, int]:
    if bytes(data[12:16]) != b"IHDR":
        raise ValueError("no IHDR")
    width, height = struct.unpack(">II", data[16:24])
    try:
        for _ in walk_png(data):
            pass
    except struct.error:
        raise cut_off() from None
    return width, height


def _measure_webp(data: Data) -> tuple[int, int]:
    (length,) = struct.unpack("<I", data[4:8])
    if length + 8 > len(data):
        raise cut_off()
    chunk = bytes(data[12:16])
    if chunk == b"VP8X":
        return (
            int.from_bytes(data[24:27], "little") + 1,
            int.from_bytes(data[27:30], "little") + 1,
        )
    if chunk == b"VP8L":
        (bits,) = struct.unpack("<I", data[21:25])
        return (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
    if chunk == b"VP8 ":
        width, height = struct.unpack("<HH", data[26:30])
        return width & 0x3FFF, height & 0x3FFF
    raise ValueError("no VP8")


def _measure_bmp(data: Data) -> tuple[int, int]:
    (header,) = struct.unpack("<I", data[14:18])
    if header == 12:
        return struct.unpack("<HH", data[18:22])  # type: ignore[return-value]
    width, height = struct.unpack("<ii", data[18:26])
    return width, abs(height)


def _measure_tiff(data: Data) -> tuple[int, int]:
    tags = read_tags(data, 0)
    return tags[256], tags[257]


def read_tags(data: Data, base: int) -> dict[int, int]:
    """The whole numbers in the first directory of a TIFF (or EXIF) that begins at `base`."""
    order = {b"II": "<", b"MM": ">"}[bytes(data[base : base + 2])]
    (at,) = struct.unpack(order + "I", data[base + 4 : base + 8])
    at += base
    (count,) = struct.unpack(order + "H", data[at : at + 2])
    tags: dict[int, int] = {}
    for entry in range(at + 2, at + 2 + 12 * count, 12):
        tag, sort, number = struct.unpack(order + "HHI", data[entry : entry + 8])
        if sort in (3, 4) and number == 1:
            layout, size = (order + "H", 2) if sort == 3 else (order + "I", 4)
            tags.setdefault(tag, struct.unpack(layout, data[entry + 8 : entry + 8 + size])[0])
    return tags


_MEASURES: dict[str, Any] = {
    "JPEG": _measure_jpeg,
    "PNG": _measure_png,
    "WebP": _measure_webp,
    "BMP": _measure_bmp,
    "TIFF": _measure_tiff,
}
