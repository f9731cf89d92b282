"""A photograph as it comes from a phone, made fit to keep: turned, bounded, and without metadata.

What a phone writes into a picture (where it was taken, when, on which device) never reaches the
disk: the pixels are drawn into a fresh image, and the bytes are checked before they are handed on.
"""

import struct
import zlib
from dataclasses import dataclass, replace
from io import BytesIO
from typing import BinaryIO, Literal

from PIL import Image, ImageFile, ImageOps

from bookings import heif

MAX_MB = 50
MAX_BYTES = MAX_MB * 1024 * 1024
MAX_PIXELS = 64_000_000
# The longer side of each size a photograph is kept in: for paper, for a screen, for a list.
Size = Literal["full", "view", "thumb"]
SIDES_PX: dict[Size, int] = {"full": 2400, "view": 1200, "thumb": 320}
MAX_SIDE_PX = SIDES_PX["full"]
JPEG_QUALITY = 82
FORMATS = ("JPEG", "PNG", "WEBP")  # and HEIC, which heif.py decodes

# Pillow warns from here on and raises at twice as much; both are caught below.
Image.MAX_IMAGE_PIXELS = MAX_PIXELS

# What Pillow raises for bytes that only look like a picture.
_BROKEN = (
    OSError,
    ValueError,
    SyntaxError,
    RuntimeError,
    EOFError,
    KeyError,
    IndexError,
    TypeError,
    MemoryError,
    struct.error,
    zlib.error,
)
# JPEG markers (ITU-T T.81, table B.1): from the scan on there are only pixels.
_SCAN = 0xDA
_METADATA = {0xE0 + number: f"APP{number}" for number in range(1, 16)} | {0xFE: "COM"}
_BOMB = (Image.DecompressionBombError, Image.DecompressionBombWarning)


class PhotoRefused(Exception):
    """The sentence says what is wrong with the file and what to do."""


@dataclass(frozen=True, slots=True)
class Clean:
    """A photograph in three sizes: JPEGs, upright, RGB, without metadata, never blown up.

    `width_px` and `height_px` are those of `jpeg`, the largest.
    """

    jpeg: bytes
    width_px: int
    height_px: int
    view: bytes
    thumb: bytes


def clean(file: BinaryIO) -> Clean:
    """Read a JPEG, PNG, WebP or HEIC file of at most 50 MB and 64 million pixels.

    Raises PhotoRefused for anything else: too large, cut short, no picture at all.
    """
    raw = file.read(MAX_BYTES + 1)
    if len(raw) > MAX_BYTES:
        raise PhotoRefused(
            f"This file is larger than {MAX_MB} MB. Send the photograph in a smaller size."
        )
    return _in_three_sizes(_fresh(_opened(raw)))


def sizes_of(jpeg: bytes) -> Clean:
    """The sizes of a photograph that was cleaned before there were sizes. Raises PhotoRefused."""
    with_sizes = _in_three_sizes(_fresh(_opened(jpeg)))
    return replace(with_sizes, jpeg=jpeg)


def bounded(width_px: int, height_px: int, side_px: int) -> tuple[int, int]:
    """The size of a picture whose longer side is at most `side_px`; each side at least 1."""
    longer = max(width_px, height_px)
    if longer <= side_px:
        return width_px, height_px
    return max(1, round(width_px * side_px / longer)), max(1, round(height_px * side_px / longer))


def _in_three_sizes(image: Image.Image) -> Clean:
    def scaled(source: Image.Image, size: Size) -> Image.Image:
        return source.resize(
            bounded(image.width, image.height, SIDES_PX[size]), Image.Resampling.LANCZOS
        )

    view = scaled(image, "view")
    thumb = scaled(view, "thumb")
    return Clean(_written(image), image.width, image.height, _written(view), _written(thumb))


def _written(image: Image.Image) -> bytes:
    out = BytesIO()
    image.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True)
    jpeg = out.getvalue()
    if segments := metadata_segments(jpeg):
        raise RuntimeError(f"The cleaned photograph still carries metadata: {segments}.")
    return jpeg


def _opened(raw: bytes) -> Image.Image:
    """The picture, decoded, turned upright and bounded."""
    # The printer turns this on for the whole process, for the pictures of its own pages.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        if heif.looks_like_heif(raw):
            return heif.decoded(raw, max_pixels=MAX_PIXELS, max_side_px=MAX_SIDE_PX)
        with Image.open(BytesIO(raw), formats=FORMATS) as image:
            if image.width * image.height > MAX_PIXELS:
                raise heif.TooLarge
            # A JPEG is decoded at a size near the one wanted: a tenth of the memory.
            image.draft("RGB", (MAX_SIDE_PX, MAX_SIDE_PX))
            image.load()
            turned = ImageOps.exif_transpose(image)
            turned.thumbnail((MAX_SIDE_PX, MAX_SIDE_PX))
            return turned
    except (heif.TooLarge, *_BOMB):
        raise PhotoRefused(
            f"This picture has more than {MAX_PIXELS // 1_000_000} million pixels. "
            "Send it in a smaller size."
        ) from None
    except (heif.Undecodable, *_BROKEN):
        raise PhotoRefused(
            "This file could not be read as a photograph: it is cut short, damaged, or no JPEG, "
            "PNG, WebP or HEIC picture. Take it again, or send it once more."
        ) from None


def _fresh(image: Image.Image) -> Image.Image:
    """The same pixels as RGB on white, in an image that knows nothing else."""
    if image.has_transparency_data:
        seen = image.convert("RGBA")
        ground = Image.new("RGB", seen.size, "white")
        ground.paste(seen, mask=seen)
        return ground
    rgb = image.convert("RGB")
    return Image.frombytes("RGB", rgb.size, rgb.tobytes())


def metadata_segments(jpeg: bytes) -> list[str]:
    """The names of the segments of a JPEG that hold more than pixels: APP1 to APP15, and comments."""
    found, place = [], 2
    while jpeg[place : place + 1] == b"\xff" and (marker := jpeg[place + 1]) != _SCAN:
        if marker in _METADATA:
            found.append(_METADATA[marker])
        place += 2 + int.from_bytes(jpeg[place + 2 : place + 4], "big")
    return found
