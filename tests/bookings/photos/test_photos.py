"""Photographs as phones and strangers send them: cleaned, bounded, or refused in a sentence.

The pictures are made here: with a place in their EXIF, a comment, text chunks, turned, cut short.
"""

import io
import struct
import zlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import ExifTags, Image, PngImagePlugin

from bookings.photos import cleaning, heif
from studio.web import paper

# See data/README.md.
PHONE = (Path(__file__).parent / "data" / "phone.heic").read_bytes()

SECRET = b"51.4816N-3.1791W"


def picture(width=64, height=48):
    """Red on the left, blue on the right: turning it shows."""
    made = Image.new("RGB", (width, height), (200, 30, 30))
    made.paste((30, 30, 200), (width // 2, 0, width, height))
    return made


def saved(image, form, **options):
    out = io.BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


def exif_with_place(orientation=1):
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = "Phone"
    exif[ExifTags.Base.Orientation] = orientation
    exif[ExifTags.Base.ImageDescription] = SECRET.decode()
    place = exif.get_ifd(ExifTags.IFD.GPSInfo)
    place[ExifTags.GPS.GPSLatitudeRef] = "N"
    place[ExifTags.GPS.GPSLatitude] = (51.0, 28.0, 53.8)
    return exif


def cleaned(raw):
    return cleaning.clean(io.BytesIO(raw))


def opened(clean):
    image = Image.open(io.BytesIO(clean.jpeg))
    image.load()
    return image


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_picture_comes_out_as_a_jpeg_of_its_size(form):
    clean = cleaned(saved(picture(), form))
    image = opened(clean)
    assert image.format == "JPEG"
    assert (clean.width_px, clean.height_px) == image.size == (64, 48)
    assert image.mode == "RGB"


def test_nothing_of_place_comment_or_device_is_left_in_a_jpeg():
    raw = saved(picture(), "JPEG", exif=exif_with_place(), comment=SECRET, icc_profile=SECRET * 9)
    assert SECRET in raw
    assert {"APP1", "APP2", "COM"} <= set(cleaning.metadata_segments(raw))
    clean = cleaned(raw)
    assert cleaning.metadata_segments(clean.jpeg) == []
    for trace in (SECRET, b"Exif", b"GPS", b"Phone", b"ICC_PROFILE"):
        assert trace not in clean.jpeg
    image = opened(clean)
    assert not image.getexif()
    assert "comment" not in image.info


def test_nothing_of_the_text_of_a_png_or_webp_is_left():
    text = PngImagePlugin.PngInfo()
    text.add_text("Comment", SECRET.decode())
    text.add_itxt("XML:com.adobe.xmp", SECRET.decode())
    png = saved(picture(), "PNG", pnginfo=text, exif=exif_with_place())
    webp = saved(picture(), "WEBP", exif=exif_with_place(), xmp=SECRET)
    for raw in (png, webp):
        assert SECRET in raw
        assert SECRET not in cleaned(raw).jpeg


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_picture_stands_upright(form, orientation):
    """Against Pillow's own turning, by the corners: EXIF 2.32, tag 0x0112."""
    turn = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }.get(orientation)
    source = picture()
    upright = source.transpose(turn) if turn is not None else source
    image = opened(cleaned(saved(source, form, exif=exif_with_place(orientation))))
    assert image.size == upright.size
    for x, y in ((6, 6), (upright.width - 7, 6), (6, upright.height - 7)):
        want, got = upright.getpixel((x, y)), image.getpixel((x, y))
        assert all(abs(a - b) < 40 for a, b in zip(want, got, strict=True))


def test_a_picture_of_a_phone_stands_upright_and_has_lost_its_place():
    assert SECRET in PHONE
    image = opened(clean := cleaned(PHONE))
    assert image.size == (48, 64)
    top, bottom = image.getpixel((24, 6)), image.getpixel((24, 57))
    assert top[0] > 150 > bottom[0], "red above blue: turned once"
    assert SECRET not in clean.jpeg
    assert cleaning.metadata_segments(clean.jpeg) == []


@pytest.mark.parametrize(("place", "byte"), [(231, 215), (238, 217)])
def test_a_picture_that_kills_the_decoder_is_refused_like_another(place, byte):
    """Each of these ends libheif 1.23.0 with a segmentation fault: here only its own process."""
    hostile = bytearray(PHONE)
    hostile[place] = byte
    with pytest.raises(cleaning.PhotoRefused, match="damaged"):
        cleaned(bytes(hostile))


def test_a_heic_of_too_many_pixels_is_refused(monkeypatch):
    monkeypatch.setattr(cleaning, "MAX_PIXELS", 64 * 48 - 1)
    with pytest.raises(cleaning.PhotoRefused, match="million pixels"):
        cleaned(PHONE)


def test_a_heic_is_bounded_too(monkeypatch):
    monkeypatch.setattr(cleaning, "MAX_SIDE_PX", 32)
    assert (cleaned(PHONE).width_px, cleaned(PHONE).height_px) == (24, 32)


def test_a_decoder_that_never_ends_is_given_up(monkeypatch):
    monkeypatch.setattr(heif, "SECONDS", 0)
    with pytest.raises(cleaning.PhotoRefused, match="damaged"):
        cleaned(PHONE)


def test_a_clear_ground_becomes_white():
    source = Image.new("RGBA", (32, 32), (0, 0, 0, 0))
    assert min(opened(cleaned(saved(source, "PNG"))).getpixel((16, 16))) > 245
    paletted = Image.new("P", (32, 32), 0)
    assert min(opened(cleaned(saved(paletted, "PNG", transparency=0))).getpixel((16, 16))) > 245


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "CMYK", "I;16"])
def test_other_kinds_of_colour_are_read(mode):
    form = "JPEG" if mode == "CMYK" else "PNG"
    assert opened(cleaned(saved(Image.new(mode, (20, 10)), form))).mode == "RGB"


def test_forty_megapixels_are_taken_and_scaled():
    clean = cleaned(saved(Image.new("RGB", (7728, 5152), (90, 120, 90)), "JPEG", quality=40))
    assert (clean.width_px, clean.height_px) == (2400, 1600)


def test_a_small_picture_is_not_blown_up():
    assert cleaned(saved(picture(30, 2401), "PNG")).height_px == 2400
    assert cleaned(saved(picture(30, 20), "PNG")).width_px == 30


def png_header(width, height):
    """A PNG that says how large it is and holds next to nothing: a bomb costs its maker nothing."""

    def chunk(kind, data):
        check = zlib.crc32(kind + data)
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", check)

    size = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", size)
        + chunk(b"IDAT", zlib.compress(b""))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("width", "height"), [(8001, 8000), (16000, 4001), (11000, 11000), (60000, 60000)]
)
@pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
def test_more_than_64_million_pixels_are_refused(width, height):
    """As in production, where Pillow only warns of the smaller ones."""
    with pytest.raises(cleaning.PhotoRefused, match="more than 64 million pixels"):
        cleaned(png_header(width, height))


def test_64_million_pixels_are_not_too_many():
    """The header passes; what is missing behind it is another matter."""
    with pytest.raises(cleaning.PhotoRefused, match="cut short"):
        cleaned(png_header(8000, 8000))


def test_50_megabytes_are_taken_and_a_byte_more_is_refused():
    raw = saved(picture(), "JPEG")
    ballast = b"\0" * (50 * 1024 * 1024 - len(raw))
    assert cleaned(raw + ballast).width_px == 64
    with pytest.raises(cleaning.PhotoRefused, match="larger than 50 MB"):
        cleaned(raw + ballast + b"\0")


@pytest.mark.parametrize(
    ("size", "view", "thumb"),
    [
        ((3000, 2000), (1200, 800), (320, 213)),
        ((2000, 3000), (800, 1200), (213, 320)),
        ((640, 480), (640, 480), (320, 240)),
        ((64, 48), (64, 48), (64, 48)),
        ((5, 2400), (2, 1200), (1, 320)),
    ],
)
def test_a_picture_is_kept_in_three_sizes_none_blown_up(size, view, thumb):
    clean = cleaned(saved(picture(*size), "JPEG", exif=exif_with_place(), comment=SECRET))
    for jpeg, want in ((clean.view, view), (clean.thumb, thumb)):
        image = Image.open(io.BytesIO(jpeg))
        assert (image.format, image.size) == ("JPEG", want)
        assert cleaning.metadata_segments(jpeg) == []
        assert SECRET not in jpeg
    assert len(clean.thumb) <= len(clean.view) <= len(clean.jpeg)


@given(st.integers(1, 9000), st.integers(1, 9000), st.integers(1, 3000))
def test_a_bounded_size_keeps_its_bound_its_shape_and_at_least_a_pixel(width, height, side):
    size = cleaning.bounded(width, height, side)
    assert max(size) == min(side, max(width, height))
    assert min(size) >= 1
    assert cleaning.bounded(*size, side) == size
    assert cleaning.bounded(height, width, side) == size[::-1]
    exact = min(width, height) * max(size) / max(width, height)
    assert abs(min(size) - exact) <= 0.5 or min(size) == 1


def test_what_was_cleaned_before_there_were_sizes_keeps_its_bytes():
    old = cleaned(saved(picture(2000, 1000), "JPEG")).jpeg
    again = cleaning.resize(old)
    assert again.jpeg == old
    assert Image.open(io.BytesIO(again.view)).size == (1200, 600)


def test_a_picture_cut_short_is_refused_after_something_was_printed():
    """Paper loads a printer that lets every picture of the process be cut short."""
    paper.pdf("paper/base_paper.html", {})
    with pytest.raises(cleaning.PhotoRefused, match="cut short"):
        cleaned(saved(picture(200, 150), "PNG")[:300])


WHOLE = {form: saved(picture(200, 150), form) for form in ("JPEG", "PNG", "WEBP")}


@pytest.mark.parametrize("raw", [*WHOLE.values(), PHONE], ids=[*WHOLE, "HEIC"])
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_picture_cut_short_is_refused(raw, share):
    with pytest.raises(cleaning.PhotoRefused, match="cut short"):
        cleaned(raw[: int(len(raw) * share)])


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"not a picture",
        b"%PDF-1.7\n",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"\0\0\0\x18ftypheic\0\0\0\0mif1heic",
        saved(picture(), "GIF"),
        saved(picture(), "TIFF"),
        saved(picture(), "BMP"),
    ],
    ids=["nothing", "words", "pdf", "svg", "heic-head", "gif", "tiff", "bmp"],
)
def test_what_is_no_photograph_is_refused(raw):
    with pytest.raises(cleaning.PhotoRefused, match="JPEG, PNG, WebP or HEIC"):
        cleaned(raw)


@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(st.sampled_from(sorted(WHOLE)), st.data())
def test_a_damaged_picture_is_cleaned_or_refused_but_never_a_crash(form, data):
    raw = bytearray(WHOLE[form])
    for _ in range(data.draw(st.integers(1, 6))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    try:
        clean = cleaned(bytes(raw))
    except cleaning.PhotoRefused:
        return
    assert cleaning.metadata_segments(clean.jpeg) == []
    assert opened(clean).size == (clean.width_px, clean.height_px)
