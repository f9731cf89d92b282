"""Decoding of HEIC pictures in a process of its own.

One damaged byte can crash libheif 1.23 with a segmentation fault, and the site with it. So the decoder runs in a
subprocess with limited memory and time, and its crash is an error of the picture. Run as a program, this file reads a
picture from standard input and writes its pixels: "W H\\n", then RGB.
"""

import resource
import subprocess
import sys

import pi_heif
from PIL import Image

MEMORY_BYTES = 2 * 1024**3

SECONDS = 20

TOO_LARGE = 3  # exit code for a picture with too many pixels


class Undecodable(Exception):
    """The decoder refused the picture or crashed."""


class TooLarge(Exception):
    """The picture has more pixels than the caller allows."""


def looks_like_heif(raw: bytes) -> bool:
    """Whether the bytes begin like a HEIF file, with an ftyp box (ISO/IEC 14496-12)."""
    return raw[4:8] == b"ftyp"


def decode(raw: bytes, *, max_pixels: int, max_side_px: int) -> Image.Image:
    """Decode a picture, upright, as RGB on white, with sides of at most `max_side_px`.

    Raises Undecodable or TooLarge.
    """
    try:
        # Our own interpreter and file; the untrusted picture is passed as bytes.
        done = subprocess.run(  # noqa: S603
            [sys.executable, "-I", __file__, str(max_pixels), str(max_side_px)],
            input=raw,
            capture_output=True,
            timeout=SECONDS * 2,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise Undecodable from None
    if done.returncode == TOO_LARGE:
        raise TooLarge
    size, _, pixels = done.stdout.partition(b"\n")
    width, _, height = size.partition(b" ")
    if done.returncode or not (width.isdigit() and height.isdigit()):
        raise Undecodable
    return Image.frombytes("RGB", (int(width), int(height)), pixels)


def _main(max_pixels: int, max_side_px: int) -> int:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    Image.MAX_IMAGE_PIXELS = None  # checked below, with an exit code of its own
    pi_heif.register_heif_opener()
    # The decoder turns the picture itself and resets the EXIF orientation.
    with Image.open(sys.stdin.buffer, formats=("HEIF",)) as image:
        if image.width * image.height > max_pixels:
            return TOO_LARGE
        image.thumbnail((max_side_px, max_side_px))
        seen = image.convert("RGBA")
    ground = Image.new("RGB", seen.size, "white")
    ground.paste(seen, mask=seen)
    sys.stdout.buffer.write(f"{ground.width} {ground.height}\n".encode() + ground.tobytes())
    return 0


if __name__ == "__main__":
    sys.exit(_main(*map(int, sys.argv[1:])))
