"""Taking pictures in: judged before decoding, upright, stripped, and small for the paper."""

from __future__ import annotations

import hashlib
import io
import struct
import warnings
import zlib
from collections.abc import Callable
from typing import Any

import pytest
from PIL import ExifTags, Image, ImageCms, ImageDraw, JpegImagePlugin, TiffImagePlugin

from shopguide.errors import Trouble
from shopguide.job import picture
from shopguide.job.picture import take_in
from shopguide.job.picture_head import probe

Make = Callable[..., Any]
SECRETS = (b"Exif", b"SERIAL-4711", b"Apple", b"GPS", b"secret", b"http", b"photoshop", b"MPF")


def open_image(data: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


def save(image: Image.Image, kind: str, **options: Any) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def corners(width: int = 40, height: int = 24) -> Image.Image:
    """Four plain quarters: red and green above, blue and white below."""
    image = Image.new("RGB", (width, height), "white")
    draw = ImageDraw.Draw(image)
    draw.rectangle((0, 0, width // 2 - 1, height // 2 - 1), fill="red")
    draw.rectangle((width // 2, 0, width, height // 2 - 1), fill=(0, 200, 0))
    draw.rectangle((0, height // 2, width // 2 - 1, height), fill="blue")
    return image


def name_corners(image: Image.Image) -> str:
    """The colours of the four quarters, from the upper left clockwise: "rgwb"."""
    image = image.convert("RGB")
    w, h = image.size
    spots = [(w // 4, h // 4), (3 * w // 4, h // 4), (3 * w // 4, 3 * h // 4), (w // 4, 3 * h // 4)]
    out = ""
    for spot in spots:
        red, green, blue = image.getpixel(spot)  # type: ignore[misc]
        out += (
            "w"
            if min(red, green, blue) > 150
            else "rgb"[(red, green, blue).index(max(red, green, blue))]
        )
    return out


def exif(orientation: int = 1) -> Image.Exif:
    notes = Image.Exif()
    notes[ExifTags.Base.Orientation] = orientation
    notes[ExifTags.Base.Make] = "Apple"
    notes[ExifTags.Base.BodySerialNumber] = "SERIAL-4711"
    notes.get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSLatitude] = (
        TiffImagePlugin.IFDRational(47),
        TiffImagePlugin.IFDRational(11),
        TiffImagePlugin.IFDRational(0),
    )
    return notes


def add_segment(jpeg: bytes, marker: int, body: bytes) -> bytes:
    return jpeg[:2] + struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body + jpeg[2:]


def add_chunk(png: bytes, name: bytes, body: bytes) -> bytes:
    chunk = struct.pack(">I", len(body)) + name + body
    return png[:33] + chunk + struct.pack(">I", zlib.crc32(name + body)) + png[33:]


def assert_clean(data: bytes) -> None:
    assert not [secret for secret in SECRETS if secret in data]
    assert not open_image(data).getexif()


def told(data: bytes, name: str = "") -> str:
    """Why the picture is refused, by probe or at the latest when it is taken in."""
    with pytest.raises(Trouble) as caught:
        take_in(data, name)
    assert caught.value.what.endswith(".") and caught.value.next.endswith(".")
    return caught.value.what


# --- what is kept ---


def test_upright_jpeg_keeps_its_pixels_bit_for_bit_and_loses_its_notes(make_jpeg: Make) -> None:
    plain = make_jpeg(300, 200)
    jpeg = make_jpeg(300, 200, exif=exif(), comment=b"secret note")
    jpeg = add_segment(jpeg, 0xE1, b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta secret>")
    jpeg = add_segment(jpeg, 0xED, b"Photoshop 3.0\0secret")
    jpeg = add_segment(jpeg, 0xE2, b"MPF\0secret")
    assert b"SERIAL-4711" in jpeg
    taken = take_in(jpeg + b"film behind the picture: secret GPS")
    assert_clean(taken.original)
    assert_clean(taken.paper)
    assert taken.original.endswith(b"\xff\xd9")
    assert open_image(taken.original).tobytes() == open_image(plain).tobytes()
    # The packed pixels themselves are the same bytes.
    assert taken.original[taken.original.index(b"\xff\xda") :] == plain[plain.index(b"\xff\xda") :]
    assert (taken.width, taken.height, taken.ending, taken.note) == (300, 200, "jpg", "")
    assert taken.sha256 == hashlib.sha256(taken.original).hexdigest()
    assert taken.paper_sha256 == hashlib.sha256(taken.paper).hexdigest()


def test_progressive_jpeg_with_restarts_keeps_its_pixels() -> None:
    image = Image.effect_noise((320, 240), 80).convert("RGB")
    jpeg = save(image, "JPEG", progressive=True, restart_marker_blocks=4, exif=exif(), quality=95)
    taken = take_in(jpeg)
    assert_clean(taken.original)
    assert open_image(taken.original).tobytes() == open_image(jpeg).tobytes()


def test_what_is_put_between_the_scans_goes() -> None:
    jpeg = save(Image.effect_noise((64, 48), 80).convert("RGB"), "JPEG", progressive=True)
    second = jpeg.index(b"\xff\xda", jpeg.index(b"\xff\xda") + 2)
    tables = jpeg.rindex(b"\xff\xc4", 0, second)
    body = b"ICC_PROFILE\0\1\1secret"
    hidden = struct.pack(">BBH", 0xFF, 0xE2, len(body) + 2) + body
    taken = take_in(jpeg[:tables] + hidden + jpeg[tables:])
    assert taken.original == take_in(jpeg).original and b"secret" not in taken.original


@pytest.mark.parametrize("piece_bytes", range(1, 9))
def test_a_marker_is_found_wherever_the_pieces_part(
    piece_bytes: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    image = Image.effect_noise((48, 32), 80).convert("RGB")
    jpeg = save(image, "JPEG", progressive=True, restart_marker_blocks=2)
    wanted = take_in(jpeg).original
    monkeypatch.setattr(picture, "PIECE_BYTES", piece_bytes)
    assert take_in(jpeg).original == wanted


def test_colour_profile_and_adobe_mark_stay() -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    taken = take_in(save(corners(), "JPEG", icc_profile=profile, exif=exif()))
    assert open_image(taken.original).info["icc_profile"] == profile
    assert "icc_profile" not in open_image(taken.paper).info
    cmyk = save(corners(200, 100).convert("CMYK"), "JPEG", quality=95)
    taken = take_in(cmyk)
    assert open_image(taken.original).tobytes() == open_image(cmyk).tobytes()
    assert open_image(taken.paper).mode == "RGB"
    assert name_corners(open_image(taken.paper)) == "rgwb"


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WebP", "TIFF"])
@pytest.mark.parametrize(
    "profile",
    [b"no profile", b"\xff" * 200, struct.pack(">I", 900) + bytes(32) + b"acsp" + bytes(92)],
    ids=["words", "noise", "cut"],
)
def test_broken_colour_profile_is_left_out_and_no_reason_to_refuse(
    kind: str, profile: bytes
) -> None:
    for keep_notes in (False, True):
        taken = take_in(save(corners(), kind, icc_profile=profile), keep_notes=keep_notes)
        assert name_corners(open_image(taken.paper)) == "rgwb"
        assert "icc_profile" not in open_image(taken.original).info
        if kind in ("JPEG", "PNG"):
            assert "Its colour profile is damaged" in taken.note


# What EXIF's orientation says about the stored rows and columns, from memory of the standard;
# for each, the picture is stored so that it stands upright once the orientation is applied.
STORED = {
    1: lambda image: image,
    2: lambda image: image.transpose(Image.Transpose.FLIP_LEFT_RIGHT),
    3: lambda image: image.transpose(Image.Transpose.ROTATE_180),
    4: lambda image: image.transpose(Image.Transpose.FLIP_TOP_BOTTOM),
    5: lambda image: image.transpose(Image.Transpose.TRANSPOSE),
    6: lambda image: image.transpose(Image.Transpose.ROTATE_90),
    7: lambda image: image.transpose(Image.Transpose.TRANSVERSE),
    8: lambda image: image.transpose(Image.Transpose.ROTATE_270),
}


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WebP", "TIFF"])
def test_picture_is_set_upright(orientation: int, kind: str) -> None:
    stored = STORED[orientation](corners(80, 48))
    options: dict[str, Any] = {"exif": exif(orientation)}
    if kind in ("JPEG", "WebP"):
        options["quality"] = 95
    taken = take_in(save(stored, kind.upper(), **options))
    for data in (taken.original, taken.paper):
        assert name_corners(open_image(data)) == "rgwb"
        assert open_image(data).size == (80, 48)
        assert_clean(data)
    assert (taken.width, taken.height) == (80, 48)


def test_turned_jpeg_keeps_fine_colours_and_quality() -> None:
    fine = save(corners(), "JPEG", subsampling=0, quality=95, exif=exif(6))
    coarse = save(corners(), "JPEG", subsampling=2, quality=95, exif=exif(6))
    assert JpegImagePlugin.get_sampling(open_image_lazily(take_in(fine).original)) == 0
    assert JpegImagePlugin.get_sampling(open_image_lazily(take_in(coarse).original)) == 2
    wanted = open_image_lazily(save(corners(), "JPEG", quality=92)).quantization
    assert open_image_lazily(take_in(fine).original).quantization == wanted


def open_image_lazily(data: bytes) -> Any:
    return Image.open(io.BytesIO(data))


def test_nonsense_in_the_orientation_is_taken_as_upright(make_jpeg: Make) -> None:
    for body in (b"Exif\0\0", b"Exif\0\0XX*\0", b"Exif\0\0II*\0\xff\xff\xff\xff", b"Exif\0\0II*\0"):
        assert take_in(add_segment(make_jpeg(), 0xE1, body)).width == 64
    assert take_in(make_jpeg(exif=exif(9))).width == 64


def test_notes_of_a_tiff_that_stay_say_nothing_of_how_its_pixels_lay() -> None:
    tiff = save(corners(), "TIFF", exif=exif())
    assert {273, 256} <= set(open_image(tiff).getexif())
    notes = open_image(take_in(tiff, keep_notes=True).original).getexif()
    assert notes[ExifTags.Base.Make] == "Apple"
    assert not set(notes) & {256, 257, 258, 262, 273, 278, 279}


def test_png_keeps_its_pixels_and_loses_its_notes() -> None:
    plain = save(corners(), "PNG")
    png = add_chunk(plain, b"tEXt", b"Comment\0secret")
    png = add_chunk(png, b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0secret")
    png = add_chunk(png, b"tIME", b"\x07\xe8\1\1\1\1\1")
    png = add_chunk(png, b"prVt", b"secret")
    taken = take_in(png + b"secret behind the end")
    assert taken.original == plain
    assert taken.ending == "png"
    assert_clean(taken.paper)


@pytest.mark.parametrize(
    ("mode", "kind"),
    [
        ("P", "PNG"),
        ("1", "PNG"),
        ("L", "PNG"),
        ("LA", "PNG"),
        ("RGBA", "PNG"),
        ("I;16", "PNG"),
        ("CMYK", "TIFF"),
        ("1", "TIFF"),
        ("I;16", "TIFF"),
        ("RGBA", "TIFF"),
        ("P", "BMP"),
        ("L", "JPEG"),
        ("RGBA", "WEBP"),
        ("YCbCr", "TIFF"),
        ("LAB", "TIFF"),
    ],
)
def test_every_sort_of_pixels_comes_out_right_on_the_paper(mode: str, kind: str) -> None:
    if mode == "I;16":
        image = Image.new(mode, (40, 24), 65535)
        image.paste(0, (0, 0, 20, 24))
    elif mode == "LAB":
        srgb, lab = ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB")
        grey = corners().convert("L").convert("RGB")
        image = ImageCms.profileToProfile(grey, srgb, lab, outputMode="LAB")
    else:
        image = corners().convert(mode)
    taken = take_in(save(image, kind))
    paper = open_image(taken.paper)
    assert paper.mode == "RGB"
    assert paper.size == (40, 24)
    if mode == "I;16":
        assert paper.getpixel((5, 12))[0] < 20  # type: ignore[index]
        assert paper.getpixel((35, 12))[0] > 235  # type: ignore[index]
    elif mode in ("P", "RGBA", "CMYK", "YCbCr"):
        assert name_corners(paper) == "rgwb"
    else:
        # In grey, green is lighter than red and red lighter than blue.
        at = [paper.getpixel(spot)[0] for spot in ((10, 6), (30, 6), (10, 18), (30, 18))]  # type: ignore[index]
        assert at[3] > 245
        assert mode == "1" or at[1] > at[0] > at[2]


def test_clear_places_are_white_on_the_paper() -> None:
    clear = Image.new("RGBA", (30, 20), (0, 0, 0, 0))
    assert open_image(take_in(save(clear, "PNG")).paper).getpixel((5, 5)) == (255, 255, 255)
    palette = Image.new("P", (30, 20), 0)
    palette.putpalette([255, 0, 0, 0, 0, 255])
    taken = take_in(save(palette, "PNG", transparency=0))
    assert open_image(taken.paper).getpixel((5, 5)) == (255, 255, 255)


def test_paper_is_at_most_1000_pixels_long() -> None:
    for size, small in [((3000, 1500), (1000, 500)), ((500, 2000), (250, 1000)), ((90, 60),) * 2]:
        for kind in ("JPEG", "PNG"):
            taken = take_in(save(corners(*size), kind))
            assert open_image(taken.paper).size == small
            assert open_image(taken.paper).format == "JPEG"
            assert (taken.width, taken.height) == size
            assert name_corners(open_image(taken.paper)) == "rgwb"
    wanted = open_image_lazily(save(corners(), "JPEG", quality=82)).quantization
    assert open_image_lazily(taken.paper).quantization == wanted


def test_the_same_picture_gives_the_same_hashes(make_jpeg: Make) -> None:
    first, second = take_in(make_jpeg(exif=exif(6))), take_in(make_jpeg(exif=exif(6)))
    assert first == second
    assert take_in(first.original).original == first.original


def test_wide_gamut_is_turned_to_srgb_for_the_paper() -> None:
    # A made-up profile whose red and green are exchanged shows that profiles are followed at all.
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    at = {name: profile.index(name, 128) for name in (b"rXYZ", b"gXYZ")}
    swapped = bytearray(profile)
    swapped[at[b"rXYZ"] : at[b"rXYZ"] + 4] = b"gXYZ"
    swapped[at[b"gXYZ"] : at[b"gXYZ"] + 4] = b"rXYZ"
    taken = take_in(save(corners(), "JPEG", icc_profile=bytes(swapped), quality=95))
    assert name_corners(open_image(taken.paper)) == "grwb"


# --- several pictures in one file ---


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "TIFF"])
def test_first_of_several_pictures_is_kept_and_said(kind: str) -> None:
    others = [Image.new("RGB", (40, 24), colour) for colour in ("black", "red")]
    options = {"lossless": True} if kind == "WEBP" else {}
    several = save(corners(), kind, save_all=True, append_images=others, **options)
    taken = take_in(several)
    assert "first" in taken.note
    assert name_corners(open_image(taken.original)) == "rgwb"
    assert getattr(open_image(taken.original), "n_frames", 1) == 1


def test_jpeg_with_a_second_picture_behind_it(make_jpeg: Make) -> None:
    both = save(corners(), "MPO", save_all=True, append_images=[corners(80, 80)], quality=95)
    taken = take_in(both)
    assert open_image(taken.original).format == "JPEG"
    assert b"MPF" not in taken.original
    assert taken.original.count(b"\xff\xd8\xff") == 1


@pytest.mark.parametrize(
    ("kind", "options", "ending"),
    [
        ("WEBP", {"quality": 90}, "jpg"),
        ("WEBP", {"lossless": True}, "png"),
        ("TIFF", {"compression": "tiff_lzw"}, "png"),
        ("BMP", {}, "png"),
    ],
)
def test_other_formats_become_png_or_where_they_were_lossy_jpeg(
    kind: str, options: dict[str, Any], ending: str
) -> None:
    data = save(corners(), kind, **options)
    taken = take_in(data)
    assert taken.ending == ending
    assert open_image(taken.original).format == {"jpg": "JPEG", "png": "PNG"}[ending]
    if ending == "png":
        assert open_image(taken.original).tobytes() == corners().tobytes()


# --- what is refused ---


def test_sizes_are_read_without_decoding() -> None:
    for kind in ("JPEG", "PNG", "WEBP", "TIFF", "BMP"):
        for options in ({}, {"lossless": True}, {"exif": exif()}):
            if options and kind not in ("WEBP",):
                continue
            width, height, found = probe(save(corners(123, 45), kind, **options))
            assert (width, height, found.upper()) == (123, 45, kind)
    big_endian = save(corners(123, 45), "TIFF", tiffinfo={270: "x"})
    assert probe(big_endian)[:2] == (123, 45)
    core = b"BM" + struct.pack("<IHHIIHHHH", 0, 0, 0, 26, 12, 30, 20, 1, 24) + bytes(92 * 20)
    assert probe(core) == (30, 20, "BMP")
    assert take_in(core).width == 30


def test_an_end_within_the_notes_is_not_that_of_the_picture(make_jpeg: Make) -> None:
    jpeg = add_segment(make_jpeg(), 0xE1, b"a small copy: \xff\xd8\xff\xd9")
    assert probe(jpeg)[2] == "JPEG"
    with pytest.raises(Trouble, match="cut off before its end"):
        probe(jpeg[:-2])


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "The file is empty."),
        (b"GIF89a" + bytes(40), "The picture is in GIF format, which is not read."),
        (b"\0\0\0\x18ftypheic" + bytes(20), "The picture is in HEIC format, as some telephones "
         "save them; it cannot be read."),
        (b"\0\0\0\x18ftypavif" + bytes(20), "The picture is in AVIF format, which is not read "
         "here."),
        (b"\0\0\0\x18ftypmp42" + bytes(20), "The file is a film, not a picture."),
        (b"%PDF-1.7 " + bytes(40), "The file is not a picture."),
        (b"<svg xmlns=''/>" + bytes(40), "The file is not a picture."),
        (b"MZ" + bytes(60), "The file is not a picture."),
        (b"\xff\xd8\xff", "The picture is cut off before its end."),
        (b"\xff\xd8\xff\xd9", "The picture is damaged."),
        (b"\x89PNG\r\n\x1a\n", "The picture is damaged."),
        (b"BM" + bytes(60), "The picture is damaged."),
        (b"II*\0" + bytes(60), "The picture is damaged."),
        (b"RIFF\x10\0\0\0WEBPVP9 " + bytes(20), "The picture is damaged."),
    ],
)  # fmt: skip
def test_what_is_no_picture(data: bytes, what: str) -> None:
    assert told(data) == what
    with pytest.raises(Trouble):
        probe(data)


def test_heic_says_plainly_what_to_do() -> None:
    with pytest.raises(Trouble, match="share it as JPEG"):
        probe(b"\0\0\0\x18ftypheic" + bytes(20))


def test_mislabelled_files() -> None:
    jpeg = save(corners(), "JPEG")
    assert told(jpeg, "cover.png") == "cover.png is named as PNG, but holds a picture in JPEG."
    with pytest.raises(Trouble, match=r"Rename it to cover\.jpg\."):
        probe(jpeg, "cover.png")
    assert told(jpeg, "cover") == "cover holds a picture in JPEG, but its name does not end so."
    for name in ("a.jpg", "a.JPEG", "a.b.Jpg"):
        assert probe(jpeg, name)[2] == "JPEG"


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF", "BMP"])
def test_every_cut_is_told(kind: str) -> None:
    data = save(Image.effect_noise((60, 40), 90).convert("RGB"), kind)
    for end in range(1, len(data) - 2, max(1, len(data) // 60)):
        assert told(data[:end]) in {
            "The picture is cut off before its end.",
            "The picture is damaged.",
            "The file is not a picture.",
        }
    if kind in ("JPEG", "PNG", "WEBP"):
        assert told(data[: len(data) // 2]) == "The picture is cut off before its end."


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF", "BMP"])
def test_flipped_bits_are_told_or_taken_and_nothing_else(kind: str) -> None:
    data = save(corners(), kind, **({"exif": exif(6)} if kind != "BMP" else {}))
    taken = refused = 0
    for at in range(0, len(data), max(1, len(data) // 250)):
        for flip in (0x01, 0x80):
            spoilt = data[:at] + bytes([data[at] ^ flip]) + data[at + 1 :]
            try:
                with warnings.catch_warnings():
                    # Pillow speaks up about odd TIFF tags; that is for the log.
                    warnings.simplefilter("ignore")
                    take_in(spoilt)
                taken += 1
            except Trouble:
                refused += 1
    assert taken and refused


def test_checksum_of_the_pixels_is_looked_at_though_the_decoder_does_not() -> None:
    png = bytearray(save(corners(), "PNG"))
    (length,) = struct.unpack(">I", png[(at := png.index(b"IDAT")) - 4 : at])
    png[at + 4 + length] ^= 1
    assert open_image(bytes(png)).size == (40, 24)
    assert told(bytes(png)) == "The picture is damaged."


def test_checksum_of_a_png_is_looked_at() -> None:
    png = bytearray(save(corners(), "PNG"))
    png[29] ^= 1
    assert told(bytes(png)) == "The picture is damaged."


def test_over_50_mb() -> None:
    assert told(save(corners(), "JPEG").ljust(50_000_001)) == "The picture has more than 50 MB."


def claim_size(kind: str, width: int, height: int) -> bytes:
    """A small file whose head claims another size."""
    data = bytearray(save(corners(), kind, **({"lossless": True} if kind == "WEBP" else {})))
    if kind == "JPEG":
        at = data.index(b"\xff\xc0")
        data[at + 5 : at + 9] = struct.pack(">HH", height, width)
    elif kind == "PNG":
        data[16:24] = struct.pack(">II", width, height)
    elif kind == "BMP":
        data[18:26] = struct.pack("<ii", width, -height)
    elif kind == "TIFF":
        # The two entries of the directory: tag, LONG, one, value.
        for tag, size in ((256, width), (257, height)):
            at = (
                data.index(struct.pack("<H", tag) + b"\x03\0\1\0\0\0")
                if (struct.pack("<H", tag) + b"\x03\0\1\0\0\0" in data)
                else data.index(struct.pack("<H", tag) + b"\x04\0\1\0\0\0")
            )
            data[at : at + 12] = struct.pack("<HHII", tag, 4, 1, size)
    else:
        data[21:25] = struct.pack("<I", (width - 1) | (height - 1) << 14)
    return bytes(data)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "BMP", "TIFF", "WEBP"])
def test_over_100_megapixels_is_refused_before_decoding(
    kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise AssertionError("the decoder was asked")

    monkeypatch.setattr(picture, "_open_image", fail)
    assert probe(claim_size(kind, 10_000, 10_000))[:2] == (10_000, 10_000)
    assert told(claim_size(kind, 10_001, 10_000)).startswith(
        "The picture has 10,001 × 10,000 pixels; at most 100 megapixels"
    )


def test_pillow_does_not_warn_of_large_pictures_that_are_allowed() -> None:
    # 95 megapixels: above Pillow's own line, below ours. A warning would fail this test.
    image = Image.new("1", (10_000, 9_500))
    taken = take_in(save(image, "PNG"))
    assert (taken.width, taken.height) == (10_000, 9_500)


def test_size_by_another_head_than_the_one_read_here_is_caught() -> None:
    png = save(corners(), "PNG")
    head = png[8:33]
    grown = bytearray(head)
    grown[8:16] = struct.pack(">II", 60_000, 60_000)
    grown[21:25] = struct.pack(">I", zlib.crc32(grown[4:21]))
    assert told(png[:33] + bytes(grown) + png[33:]) == "The picture is damaged."


def test_decoder_out_of_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise MemoryError

    monkeypatch.setattr(picture, "_open_image", fail)
    assert told(save(corners(), "JPEG")) == "The picture needs more memory than there is."
