"""Processing of uploaded photographs: upright, limited in size, in three sizes, without metadata.

Metadata of a phone (place, time, device) never reaches the disk: the pixels are copied into a new image, and the bytes
are checked before they are returned.
"""

import struct
import zlib
from dataclasses import dataclass, replace
from io import BytesIO
from typing import BinaryIO, Literal

from PIL import Image, ImageFile, ImageOps

from bookings.photos import heif

MAX_MB = 50

MAX_BYTES = MAX_MB * 1024 * 1024

MAX_PIXELS = 64_000_000

# Longer side of each stored size: for paper, for a screen, for a list.
Size = Literal["full", "view", "thumb"]

SIDES_PX: dict[Size, int] = {"full": 2400, "view": 1200, "thumb": 320}

MAX_SIDE_PX = SIDES_PX["full"]

JPEG_QUALITY = 82

FORMATS = ("JPEG", "PNG", "WEBP")  # and HEIC, which heif.py decodes

# Pillow warns above this and raises above twice as much; both are caught below.
Image.MAX_IMAGE_PIXELS = MAX_PIXELS

# What Pillow may raise for damaged files.
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

# JPEG markers (ITU-T T.81, table B.1): after the start of scan there are only pixels.
_SCAN = 0xDA

_METADATA = {0xE0 + number: f"APP{number}" for number in range(1, 16)} | {0xFE: "COM"}

_BOMB = (Image.DecompressionBombError, Image.DecompressionBombWarning)


class PhotoRefused(Exception):
    """The file cannot be used; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class CleanPhoto:
    """A photograph in three sizes: JPEG, upright, RGB, without metadata, never enlarged.

    `width_px` and `height_px` are those of `jpeg`, the largest.
    """

    jpeg: bytes
    width_px: int
    height_px: int
    view: bytes
    thumb: bytes


def clean(file: BinaryIO) -> CleanPhoto:
    """Clean a JPEG, PNG, WebP or HEIC file of at most 50 MB and 64 million pixels.

    Raises PhotoRefused for anything else: too large, truncated, not a picture.
    """
    raw = file.read(MAX_BYTES + 1)
    if len(raw) > MAX_BYTES:
        raise PhotoRefused(
            f"This file is larger than {MAX_MB} MB. Send the photograph in a smaller size."
        )
    return _to_three_sizes(_without_metadata(_decode(raw)))


def resize(jpeg: bytes) -> CleanPhoto:
    """Make the three sizes of a photograph stored before there were sizes. Raises PhotoRefused."""
    with_sizes = _to_three_sizes(_without_metadata(_decode(jpeg)))
    return replace(with_sizes, jpeg=jpeg)


def bounded(width_px: int, height_px: int, side_px: int) -> tuple[int, int]:
    """Scale a size down so that the longer side is at most `side_px`; each side stays at least 1."""
    longer = max(width_px, height_px)
    if longer <= side_px:
        return width_px, height_px
    return max(1, round(width_px * side_px / longer)), max(1, round(height_px * side_px / longer))


def _to_three_sizes(image: Image.Image) -> CleanPhoto:
    def scaled(source: Image.Image, size: Size) -> Image.Image:
        return source.resize(
            bounded(image.width, image.height, SIDES_PX[size]), Image.Resampling.LANCZOS
        )

    view = scaled(image, "view")
    thumb = scaled(view, "thumb")
    return CleanPhoto(_to_jpeg(image), image.width, image.height, _to_jpeg(view), _to_jpeg(thumb))


def _to_jpeg(image: Image.Image) -> bytes:
    out = BytesIO()
    image.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True)
    jpeg = out.getvalue()
    if segments := metadata_segments(jpeg):
        raise RuntimeError(f"The cleaned photograph still carries metadata: {segments}.")
    return jpeg


def _decode(raw: bytes) -> Image.Image:
    """Decode a picture, turn it upright and limit its size. Raises PhotoRefused."""
    # WeasyPrint turns this on for the whole process.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        if heif.looks_like_heif(raw):
            return heif.decode(raw, max_pixels=MAX_PIXELS, max_side_px=MAX_SIDE_PX)
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


def _without_metadata(image: Image.Image) -> Image.Image:
    """Copy the pixels as RGB on white into a new image without metadata."""
    if image.has_transparency_data:
        seen = image.convert("RGBA")
        ground = Image.new("RGB", seen.size, "white")
        ground.paste(seen, mask=seen)
        return ground
    rgb = image.convert("RGB")
    return Image.frombytes("RGB", rgb.size, rgb.tobytes())


def metadata_segments(jpeg: bytes) -> list[str]:
    """List the metadata segments of a JPEG: APP1 to APP15, and comments."""
    found, place = [], 2
    while jpeg[place : place + 1] == b"\xff" and (marker := jpeg[place + 1]) != _SCAN:
        if marker in _METADATA:
            found.append(_METADATA[marker])
        place += 2 + int.from_bytes(jpeg[place + 2 : place + 4], "big")
    return found
