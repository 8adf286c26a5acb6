"""The door: every format comes in upright, sRGB, bounded; what cannot be read gets three sentences."""

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from curator.errors import PhotoError
from curator.records import Area
from curator.seeing import look, photo


def picture(width: int = 96, height: int = 64) -> Image.Image:
    """Left half red, right half blue."""
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[:, : width // 2, 0] = 200
    pixels[:, width // 2 :, 2] = 200
    return Image.fromarray(pixels)


@pytest.mark.parametrize(
    ("suffix", "options"),
    [("jpg", {}), ("jpg", {"progressive": True}), ("png", {}), ("webp", {}), ("tif", {}), ("gif", {}), ("bmp", {})],
)
def test_formats(tmp_path: Path, suffix: str, options: dict[str, bool]) -> None:
    path = tmp_path / f"a.{suffix}"
    picture().save(path, **options)
    seen = photo.load(path)
    assert seen.size == (64, 96)
    assert seen.pixels[32, 10, 0] > 150
    assert seen.pixels[32, 80, 2] > 150


def test_heic(tmp_path: Path) -> None:
    pillow_heif = pytest.importorskip("pillow_heif")
    path = tmp_path / "a.heic"
    pillow_heif.from_pillow(picture()).save(path)
    assert photo.load(path).size == (64, 96)


@pytest.mark.parametrize("mode", ["L", "LA", "P", "RGBA", "I;16", "1"])
def test_modes_become_rgb(tmp_path: Path, mode: str) -> None:
    path = tmp_path / "a.png"
    if mode == "I;16":
        Image.fromarray((np.arange(64 * 96).reshape(64, 96) * 10).astype(np.uint16)).save(path)
    else:
        picture().convert(mode).save(path)
    seen = photo.load(path)
    assert seen.pixels.shape == (64, 96, 3)
    assert seen.pixels.std() > 5


def test_orientation_is_applied(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # the camera was turned: rows are columns
    path = tmp_path / "a.jpg"
    picture().save(path, exif=exif)
    seen = photo.load(path)
    assert seen.size == (96, 64)
    assert seen.pixels[10, 32, 0] > 150


def test_large_is_bounded_and_scale_remembered(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    picture(4000, 3000).save(path)
    seen = photo.load(path)
    assert max(seen.size) == photo.LONGER_SIDE
    assert seen.scale == pytest.approx(0.25)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"hello, no picture here",
        b"\xff\xd8\xff\xe0" + b"\x00" * 40,
        b"\x89PNG\r\n\x1a\n" + b"\x00" * 30,
        b"GIF89a\x00\x00\x00\x00",
    ],
)
def test_not_pictures(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(data)
    with pytest.raises(PhotoError) as caught:
        photo.load(path)
    assert all(part.endswith(".") for part in (caught.value.doing, caught.value.wrong, caught.value.try_this))


def test_truncated(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    Image.fromarray(np.random.default_rng(0).integers(0, 255, (300, 300, 3), dtype=np.uint8)).save(buffer, "JPEG")
    path = tmp_path / "a.jpg"
    path.write_bytes(buffer.getvalue()[: len(buffer.getvalue()) // 2])
    with pytest.raises(PhotoError, match="halfway"):
        photo.load(path)


def test_too_many_pixels(tmp_path: Path) -> None:
    path = tmp_path / "bomb.png"
    Image.new("1", (20000, 12000)).save(path)
    with pytest.raises(PhotoError, match="megapixels"):
        photo.load(path)


def test_clean_copy_carries_nothing(tmp_path: Path) -> None:
    photo.save_clean(np.asarray(picture()), tmp_path / "b.jpg")
    with Image.open(tmp_path / "b.jpg") as saved:
        assert not saved.getexif()
        assert "icc_profile" not in saved.info


def test_hash_of_near_twins_is_near() -> None:
    pixels = np.asarray(picture(200, 150)).copy()
    pixels[40:80, 30:90] = 90
    brighter = np.clip(pixels.astype(int) + 12, 0, 255).astype(np.uint8)
    apart = (int(photo.phash(pixels), 16) ^ int(photo.phash(brighter), 16)).bit_count()
    other = (int(photo.phash(pixels), 16) ^ int(photo.phash(pixels[::-1].copy()), 16)).bit_count()
    assert apart <= 6 < other


def test_folders_are_walked_and_hidden_left_out(tmp_path: Path) -> None:
    for name in ("b/2.jpg", "b/1.PNG", "b/notes.txt", ".bin/3.jpg"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"x")
    assert [p.name for p in photo.photos_in([tmp_path])] == ["1.PNG", "2.jpg"]


@pytest.mark.parametrize(
    ("size", "wrong"),
    [((40, 20), "only 40 by 20"), ((20000, 150), "too long and thin"), ((150, 20000), "too long and thin")],
)
def test_too_small_or_thin_to_count_in(tmp_path: Path, size: tuple[int, int], wrong: str) -> None:
    path = tmp_path / "a.png"
    picture(*size).save(path)
    with pytest.raises(PhotoError, match=wrong):
        photo.load(path)


@pytest.mark.parametrize("top", [1.0, 255.0, 65535.0])
def test_real_numbers_are_read_whatever_their_white(tmp_path: Path, top: float) -> None:
    path = tmp_path / "a.tif"
    values = np.full((64, 96), np.nan, np.float32)
    values[8:] = np.linspace(0, top, 96, dtype=np.float32)
    Image.fromarray(values).save(path)
    row = photo.load(path).pixels[32, :, 0].astype(int)
    assert row[0] == 0
    assert 126 <= row[48] <= 130
    assert row[95] == 255


def test_a_part_of_a_strip_is_where_it_was_framed(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    pixels = np.zeros((333, 6000, 3), np.uint8)  # 1,000 by 55.5 when shrunk: rows and columns are scaled differently
    pixels[:] = (np.arange(6000) / 6000 * 255).astype(np.uint8)[None, :, None]
    Image.fromarray(pixels).save(path)
    seen, _ = look.framed(photo.load(path), Area(0.8, 0.0, 0.9, 1.0))
    assert seen[:, 0].mean() == pytest.approx(0.8 * 255, abs=1.5)
    assert seen[:, -1].mean() == pytest.approx(0.9 * 255, abs=1.5)
