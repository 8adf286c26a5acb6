"""The door: decode, upright, sRGB uint8, bounded. Nothing later asks what a pixel means."""

from __future__ import annotations

import hashlib
import io
import os
import warnings
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from curator import systems
from curator.errors import PhotoError
from curator.records import Photo

if TYPE_CHECKING:
    from PIL.Image import Image

FINEST = (
    4000  # pixels, longer side: the whole of a 12-megapixel photo; more would cost memory for parts that nobody frames
)
SHORTEST = (
    24  # pixels, shorter side, of the file and of the working picture: nothing to count could be told apart in less
)
LONGER_SIDE = 1000  # working pixels: what a quarter-size decode of a 12-megapixel photo gives
MOST_BYTES = 80_000_000  # a phone's 48-megapixel JPEG has about 25 MB
MOST_PIXELS = 120_000_000  # phones reach 108 megapixels
SUFFIXES = frozenset({".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif", ".tif", ".tiff", ".gif", ".bmp"})
MOST_SCANS = 60  # of a JPEG and its thumbnail; about ten are usual, thousands keep a decoder busy for minutes
FORMATS = ("JPEG", "PNG", "WEBP", "HEIF", "TIFF", "GIF", "BMP")

Pixels = NDArray[np.uint8]


def _refuse(path: Path, wrong: str, try_this: str) -> PhotoError:
    return PhotoError(f"Reading the photo {path.name}.", wrong, try_this)


def read_bytes(path: Path) -> bytes:
    """The whole file, refused above MOST_BYTES before it is read."""
    try:
        if not path.is_file():
            wrong = "It is not a file." if path.exists() else "There is no such file."
            raise _refuse(path, wrong, "Check the name, or drag the file in again.")
        size = path.stat().st_size
        if size == 0:
            raise _refuse(path, "The file is empty.", "Copy it from the phone or camera again.")
        if size > MOST_BYTES:
            wrong = f"The file has {size / 1e6:.0f} MB, more than the {MOST_BYTES // 1_000_000} MB allowed."
            raise _refuse(path, wrong, "Save a smaller copy of it first.")
        return path.read_bytes()
    except OSError as error:
        raise _refuse(path, f"The file cannot be opened ({error.strerror}).", "Check that you may read it.") from error


@cache
def _register_formats() -> None:
    from PIL import Image
    from pillow_heif import register_heif_opener

    Image.init()
    register_heif_opener(thumbnails=False)


def _open(data: bytes, path: Path) -> Image:
    """A lazily opened picture, its header checked for format and pixel count."""
    from PIL import Image, UnidentifiedImageError

    _register_formats()
    Image.MAX_IMAGE_PIXELS = None  # our own limit is checked below, before any pixel is decoded
    try:
        picture = Image.open(io.BytesIO(data), formats=FORMATS)
    except UnidentifiedImageError as error:
        wrong = "It is not a picture in a format this tool reads."
        raise _refuse(path, wrong, "Save it as JPEG or PNG and try again.") from error
    except Exception as error:  # a hostile header may raise nearly anything
        raise _refuse(path, "The file is damaged.", "Copy it from the phone or camera again.") from error
    width, height = picture.size
    if min(width, height) < SHORTEST:
        raise _refuse(path, f"The picture is only {width} by {height} pixels.", "Use a larger picture.")
    if min(width, height) * LONGER_SIDE < SHORTEST * max(width, height):
        wrong = f"The picture has {width} by {height} pixels, too long and thin to be looked at as a whole."
        raise _refuse(path, wrong, "Cut out the part you mean and save that.")
    if width * height > MOST_PIXELS:
        wrong = (
            f"The picture has {width * height / 1e6:.0f} megapixels, more than the {MOST_PIXELS // 1_000_000} allowed."
        )
        raise _refuse(path, wrong, "Save a smaller copy of it first.")
    if picture.format == "JPEG" and _scans(data) > MOST_SCANS:
        wrong = "The picture is stored in far more steps than a camera uses."
        raise _refuse(path, wrong, "Save it again in another program.")
    return picture


def _scans(data: bytes) -> int:
    """How many scans a JPEG announces, and its thumbnail; `bytes.count` takes ten times as long, for their first byte
    is everywhere.
    """
    pairs = (np.frombuffer(data, "<u2", (len(data) - at) // 2, at) for at in (0, 1))
    return sum(int(np.count_nonzero(every == 0xDAFF)) for every in pairs)


def _to_srgb(picture: Image) -> Image:
    """RGB in sRGB: profile applied, 16 bit and grey stretched to 8 bit RGB, alpha laid on white."""
    from PIL import Image, ImageCms

    if picture.mode in ("I;16", "I;16B", "I;16L", "I", "F"):
        picture = Image.fromarray(_eight_bits(np.asarray(picture)))
    profile = picture.info.get("icc_profile")
    if picture.mode in ("LA", "PA", "RGBA", "La", "RGBa") or "transparency" in picture.info:
        rgba = picture.convert("RGBA")
        ground = Image.new("RGBA", rgba.size, (255, 255, 255, 255))
        picture = Image.alpha_composite(ground, rgba).convert("RGB")
    if profile and picture.mode in ("RGB", "CMYK", "L"):
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            turned = ImageCms.profileToProfile(picture, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
            picture = turned or picture
        except (ImageCms.PyCMSError, OSError, ValueError):
            pass  # a broken profile: the numbers as they are
    return picture if picture.mode == "RGB" else picture.convert("RGB")  # it copies what has that mode


def _eight_bits(values: NDArray[np.generic]) -> Pixels:
    """Whole or real numbers, (H, W), as 8 bits; a few rows at a time, for they take eight times as much meanwhile."""
    parts = [slice(at, at + 256) for at in range(0, values.shape[0], 256)]
    largest = max(float(np.nan_to_num(values[part].astype(np.float64)).max()) for part in parts)
    real = np.issubdtype(values.dtype, np.floating)
    top = 65535.0 if largest > 255 else 255.0 if largest > 1 or not real else 1.0  # real numbers often run from 0 to 1
    out = np.empty(values.shape, np.uint8)
    for part in parts:
        share = np.nan_to_num(values[part].astype(np.float64)) / top
        out[part] = (np.clip(share, 0, 1) * 255).round()
    return out


def _transposed(picture: Image) -> Image:
    from PIL import ImageOps
    from PIL.ExifTags import Base

    try:
        lies = picture.getexif().get(Base.Orientation, 1) != 1
        return ImageOps.exif_transpose(picture) if lies else picture  # it copies what is upright
    except Exception:  # damaged EXIF: the pixels are still good
        return picture


def _decode(data: bytes, path: Path, longer: int) -> tuple[Pixels, float]:
    """Upright sRGB pixels, longer side at most `longer`, and the scale against the upright file."""
    from PIL import Image

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        picture = _open(data, path)
        full = max(picture.size)
        try:
            wanted = (int(picture.width * longer / full), int(picture.height * longer / full))
            picture.draft("RGB" if picture.mode == "RGB" else None, wanted)  # JPEG: decode at 1/2, 1/4, 1/8
            picture.load()
        except Exception as error:
            wrong = "The picture stops halfway or is damaged."
            raise _refuse(path, wrong, "Copy it from the phone or camera again.") from error
        upright = _transposed(picture)
        rough = max(upright.size)
        if rough > longer:  # shrink before the colour work: less to turn
            size = tuple(max(1, round(side * longer / rough)) for side in upright.size)
            if upright.mode in ("RGB", "RGBA", "L", "CMYK"):
                upright = upright.resize((size[0], size[1]), Image.Resampling.BILINEAR, reducing_gap=2.0)
                upright.info.update({k: v for k, v in picture.info.items() if k in ("icc_profile", "transparency")})
        rgb = _to_srgb(upright)
        if max(rgb.size) > longer:
            rgb.thumbnail((longer, longer), Image.Resampling.BILINEAR)
    pixels = np.ascontiguousarray(np.asarray(rgb, dtype=np.uint8))
    return pixels, min(1.0, max(rgb.size) / full)


def load(path: Path) -> Photo:
    """One photo, upright, sRGB, longer side at most LONGER_SIDE. PhotoError for what cannot be read."""
    from curator.seeing.beside import beside

    data = read_bytes(path)
    (name,) = beside([lambda: hashlib.sha256(data).hexdigest()])
    pixels, scale = _decode(data, path, LONGER_SIDE)
    return Photo(path, name(), pixels, scale)


def finer(seen: Photo, grown: float) -> Pixels:
    """The photo up to `grown` times larger, read from its file once more; the pixels at hand where it is gone or
    another by now.
    """
    try:
        data = read_bytes(seen.path)
        if hashlib.sha256(data).hexdigest() != seen.sha256:
            return seen.pixels
        return large_of(data, seen.path.name, longer=min(FINEST, round(grown * max(seen.size))))
    except PhotoError:
        return seen.pixels


def load_large(path: Path, *, longer: int = 2560) -> Pixels:
    """(H, W, 3) sRGB uint8, upright, longer side at most `longer`: for classroom pictures."""
    return _decode(read_bytes(path), path, longer)[0]


def large_of(data: bytes, name: str, *, longer: int = 2560) -> Pixels:
    """As load_large, of a file's bytes; `name` is for the message."""
    return _decode(data, Path(name), longer)[0]


def encode_clean(pixels: Pixels, *, quality: int = 90) -> bytes:
    """A JPEG of the pixels alone: no location, camera data, thumbnail or profile."""
    from PIL import Image

    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "JPEG", quality=quality, optimize=True, subsampling=0 if quality >= 92 else 2)
    return buffer.getvalue()


def save_clean(pixels: Pixels, path: Path, *, quality: int = 90) -> None:
    """Write encode_clean(pixels), to a temporary name first. PhotoError where it cannot be written."""
    save(encode_clean(pixels, quality=quality), path)


def save(picture: bytes, path: Path) -> None:
    """Write a picture's bytes, to a temporary name first. PhotoError where it cannot be written."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(picture)
        systems.replace(part, path)
    except OSError as error:
        part.unlink(missing_ok=True)
        wrong = f"The file cannot be written ({error.strerror})."
        raise PhotoError(f"Saving the picture {path.name}.", wrong, "Check the folder and the free space.") from error


def phash(pixels: Pixels) -> str:
    """64-bit perceptual hash as 16 hex digits: signs of the 8 by 8 lowest DCT terms of a 32 by 32 grey copy.

    The usual construction (low DCT terms against their median); near-twins differ in few of the 64 bits.
    """
    import cv2

    grey = cv2.resize(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), (32, 32), interpolation=cv2.INTER_AREA)
    low = cv2.dct(grey.astype(np.float32))[:8, :8].flatten()
    bits = low > np.median(low[1:])
    return f"{int(''.join('1' if bit else '0' for bit in bits), 2):016x}"


def photos_in(paths: Iterable[Path]) -> list[Path]:
    """The files named, and those with a picture's suffix in the folders named, no hidden ones; sorted by folder."""
    found: list[Path] = []
    for path in paths:
        if path.is_dir():
            inside = (p for p in path.rglob("*") if p.suffix.lower() in SUFFIXES and p.is_file())
            found += sorted(p for p in inside if not any(part.startswith(".") for part in p.relative_to(path).parts))
        else:
            found.append(path)
    return list(dict.fromkeys(found))
