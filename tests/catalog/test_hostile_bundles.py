"""A zoo of hostile bundles, made here: each is refused with its reason, and nothing of it comes in."""

from __future__ import annotations

import bz2
import io
import struct
import tarfile
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bundles_made import DECLARED, bag, bundle_of, drawn, manifest, payload, shared, zipped
from catalog_made import sha_of
from PIL import Image

from curator.catalog import bundle
from curator.catalog.bundles import safe_zip
from curator.catalog.store import folder
from curator.catalog.yamls import to_yaml
from curator.errors import BundleError, CatalogError

EGGS = payload(shared("eggs"))


def refused(tmp_path: Path, file: Path) -> str:
    """What is said of a file that as a whole is refused; the catalog must be as it was, and nothing lie beside it."""
    if not (tmp_path / "catalog").exists():
        folder.add(tmp_path / "catalog", shared("mugs", 3), drawn("mugs"))
    before = snapshot(tmp_path)
    with pytest.raises(BundleError) as told:
        bundle.receive(tmp_path / "catalog", file)
    assert snapshot(tmp_path) == before
    return f"{told.value.wrong} {told.value.try_this}"


def snapshot(place: Path) -> dict[str, bytes]:
    return {
        str(p.relative_to(place)): p.read_bytes() for p in place.rglob("*") if p.is_file() and ".index" not in p.parts
    }


def with_payload(path: Path, **files: bytes) -> Path:
    return zipped(path, bag(EGGS | files))


# ---- names


@pytest.mark.parametrize(
    ("name", "wrong"),
    [
        ("../eggs.yaml", "does not lie inside"),
        ("set/data/../../../eggs.yaml", "does not lie inside"),
        ("/etc/eggs.yaml", "does not lie inside"),
        ("set//eggs.yaml", "does not lie inside"),
        ("set/./eggs.yaml", "does not lie inside"),
        ("C:/eggs.yaml", "signs in its name"),
        ("set/data/eggs.yaml:stream", "signs in its name"),
        ("set\\data\\eggs.yaml", "signs in its name"),
        ("set/data/eggs\x00.jpg", "signs in its name"),
        ("set/data/eggs\n.yaml", "signs in its name"),
        ("set/data/eggs\x1b[2J.yaml", "signs in its name"),
        ("set/data/eggs\u202egpj.yaml", "signs in its name"),
        ("set/data/eggs?.yaml", "signs in its name"),
        ("set/data/a/b/eggs.yaml", "too deep"),
        ("set/data/" + "e" * 250, "too deep"),
        ("set/data/con.yaml", "some computers cannot hold"),
        ("set/data/NUL", "some computers cannot hold"),
        ("set/Com1.d/eggs.yaml", "some computers cannot hold"),
        ("set/data/lpt³.jpg", "some computers cannot hold"),
        ("set/data/eggs.yaml.", "some computers cannot hold"),
        ("set/data/eggs ", "some computers cannot hold"),
        ("set/data/ eggs", "some computers cannot hold"),
        ("set/data/Eggs.yaml", "are one name on some computers"),
        ("set/DATA/other.yaml", "are one name on some computers"),
        ("set/data/ｅggs.yaml", "are one name on some computers"),
        ("set/data/eggs.yaml/more", "a file and a folder of one name"),
        ("beside.txt", "lies beside the bundle"),
        ("__MACOSX/set/._eggs", "lies beside the bundle"),
        ("other/bagit.txt", "It is a zip, and no bundle"),
    ],
)
def test_names(tmp_path: Path, name: str, wrong: str) -> None:
    file = zipped(tmp_path / "set.zip", bag(EGGS))
    with zipfile.ZipFile(file, "a") as archive:
        entry = zipfile.ZipInfo("x")
        entry.filename = name  # past ZipInfo's own tidying
        archive.writestr(entry, b"x")
    assert wrong in refused(tmp_path, file)


@pytest.mark.parametrize(
    ("one", "other"), [("caf\u00e9", "cafe\u0301"), ("stra\u00dfe", "strasse"), ("\ufb01g", "fig"), ("K", "\u212a")]
)
def test_names_that_are_one_in_another_unicode_form(tmp_path: Path, one: str, other: str) -> None:
    file = with_payload(tmp_path / "set.zip", **{f"{one}.txt": b"1", f"{other}.txt": b"2"})
    assert "are one name on some computers" in refused(tmp_path, file)


def test_the_same_name_twice(tmp_path: Path) -> None:
    file = zipped(tmp_path / "set.zip", bag(EGGS))
    with zipfile.ZipFile(file, "a") as archive, pytest.warns(UserWarning, match="Duplicate name"):
        archive.writestr("set/data/eggs.yaml", b"another")
    assert "are one name on some computers" in refused(tmp_path, file)


# ---- what is no plain file


@pytest.mark.parametrize("mode", [0o120777, 0o020666, 0o060666, 0o010666, 0o140777, 0o040755])
def test_links_devices_pipes_sockets(tmp_path: Path, mode: int) -> None:
    file = zipped(tmp_path / "set.zip", bag(EGGS))
    with zipfile.ZipFile(file, "a") as archive:
        entry = zipfile.ZipInfo("set/data/spoons.jpg")
        entry.external_attr = mode << 16
        archive.writestr(entry, "/etc/passwd")
    assert "is a link or a device" in refused(tmp_path, file)


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_other_ways_of_packing(tmp_path: Path, method: int) -> None:
    assert "packed in a way that bundles are not" in refused(tmp_path, zipped(tmp_path / "set.zip", bag(EGGS), method))


def patched(path: Path, change: Callable[[bytearray, int], None], name: bytes = b"set/data/eggs.yaml") -> Path:
    """A good bundle with one entry of its list changed; `change` gets the bytes and where the entry starts."""
    data = bytearray(bundle_of(path, shared("eggs")).read_bytes())
    change(data, data.rindex(b"PK\1\2", 0, data.rindex(name)))
    path.write_bytes(data)
    return path


def put(form: str, offset: int, value: int) -> Callable[[bytearray, int], None]:
    return lambda data, at: struct.pack_into(form, data, at + offset, value)


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        (put("<H", 8, 1), "locked with a password"),
        (put("<H", 8, 0x40), "locked with a password"),
        (put("<H", 10, 99), "packed in a way"),
        (put("<I", 16, 1234), "is damaged"),  # CRC
        (put("<I", 20, 40), "is damaged"),  # packed size
        (put("<I", 20, 500_000), "share the same bytes"),
        (put("<I", 24, 100), "is damaged"),  # a size too small: its CRC cannot be right
        (put("<I", 24, 4_000_000), "swells far too much"),
        (put("<I", 24, 90_000_000), "90 MB, more than the 5 MB"),
        (put("<I", 42, 0), "share the same bytes"),  # where it starts
        (put("<I", 42, 0xFFFFFFF), ""),
    ],
)
def test_a_list_that_lies(tmp_path: Path, change: Callable[[bytearray, int], None], wrong: str) -> None:
    assert wrong in refused(tmp_path, patched(tmp_path / "set.zip", change))


def test_many_names_for_the_same_bytes(tmp_path: Path) -> None:
    """Overlapping files: a small zip that unpacks to a great deal without any one file swelling much."""
    kernel_text = "".join(sha_of(str(n)) for n in range(1250)).encode()
    file = zipped(tmp_path / "set.zip", bag(EGGS | {f"{n}.txt": b"" for n in range(20)} | {"kernel.txt": kernel_text}))
    data = bytearray(file.read_bytes())
    with zipfile.ZipFile(file) as archive:
        kernel = archive.getinfo("set/data/kernel.txt")
    for n in range(20):
        at = data.rindex(b"PK\1\2", 0, data.rindex(b"set/data/%d.txt" % n))
        struct.pack_into("<III", data, at + 16, kernel.CRC, kernel.compress_size, 8000)
        struct.pack_into("<I", data, at + 42, kernel.header_offset)
    file.write_bytes(data)
    assert "Two files in it share the same bytes" in refused(tmp_path, file)


# ---- how much


def test_bombs(tmp_path: Path) -> None:
    with_payload(tmp_path / "a.zip", **{"zeros.txt": bytes(4_000_000)})
    assert "swells far too much" in refused(tmp_path, tmp_path / "a.zip")
    with_payload(tmp_path / "b.zip", **{"zeros.txt": bytes(6_000_000)})
    assert "6 MB, more than the 5 MB" in refused(tmp_path, tmp_path / "b.zip")
    with_payload(tmp_path / "c.zip", **{"zeros.jpg": bytes(21_000_000)})
    assert "21 MB, more than the 20 MB" in refused(tmp_path, tmp_path / "c.zip")


def test_too_many_files(tmp_path: Path) -> None:
    zipped(tmp_path / "a.zip", bag(EGGS | {f"{n}.txt": b"" for n in range(5001)}))
    assert "more than 5000 files" in refused(tmp_path, tmp_path / "a.zip")
    data = bytearray(bundle_of(tmp_path / "b.zip", shared("eggs")).read_bytes())
    struct.pack_into("<I", data, data.rindex(b"PK\5\6") + 12, 900_000_000)  # a list that claims to be long
    (tmp_path / "b.zip").write_bytes(data)
    assert "more than 5000 files" in refused(tmp_path, tmp_path / "b.zip")


def test_zip64_is_never_needed(tmp_path: Path) -> None:
    data = bundle_of(tmp_path / "a.zip", shared("eggs")).read_bytes()
    at = data.rindex(b"PK\5\6")
    (tmp_path / "a.zip").write_bytes(data[:at] + b"PK\6\7" + bytes(16) + data[at:])
    assert "more than 5000 files" in refused(tmp_path, tmp_path / "a.zip")


def test_too_large_in_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = bundle_of(tmp_path / "set.zip", shared("eggs"))
    monkeypatch.setattr(safe_zip, "MOST_UNPACKED", 1000)
    assert "more than 2 GB when it is unpacked" in refused(tmp_path, file)
    monkeypatch.setattr(safe_zip, "MOST_BYTES", 1000)
    assert "MB allowed" in refused(tmp_path, file)


# ---- what is no bag


def nothing_listed(path: Path) -> Path:
    return zipped(path, bag(EGGS, manifest_sha256=b""))


@pytest.mark.parametrize(
    ("tags", "wrong"),
    [
        ({"bagit": None}, "It is a zip, and no bundle"),
        ({"bagit": b"BagIt-Version: 2.0\nTag-File-Character-Encoding: UTF-8\n"}, "no bag that this version reads"),
        ({"bagit": b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-16\n"}, "no bag that this version reads"),
        ({"bagit": b"\xff\xfe"}, "Its bagit.txt is no text"),
        ({"manifest_sha256": None}, "Its manifest-sha256.txt is missing"),
        ({"manifest_sha256": b""}, "is there and not in its list"),
        ({"manifest_sha256": manifest(EGGS | {"more.txt": b""})}, "is in its list and not there"),
        ({"manifest_sha256": manifest(EGGS | {"eggs.jpg": b"other"})}, '"data/eggs.jpg" is not what was packed'),
        ({"manifest_sha256": manifest(EGGS) * 2}, "Line 3 of its list of checksums"),
        ({"manifest_sha256": b"abc  data/eggs.yaml\n"}, "Line 1 of its list of checksums"),
        ({"manifest_sha256": manifest(EGGS).replace(b"eggs.jpg", b"eg%67s.jpg")}, "of its list of checksums"),
        ({"manifest_sha256": b"\xff"}, "Its manifest-sha256.txt is no text"),
        ({"tagmanifest_sha256": b"0" * 64 + b"  bagit.txt\n"}, '"bagit.txt" is not what was packed'),
        ({"tagmanifest_sha256": b"0" * 64 + b"  ../../etc/passwd\n"}, "is not what was packed"),
        (
            {"fetch": b"https://example.org/eggs.jpg 10 data/eggs.jpg\n"},
            "Parts of it lie elsewhere; nothing is fetched",
        ),
    ],
)
def test_bags_that_are_not_valid(tmp_path: Path, tags: dict[str, bytes | None], wrong: str) -> None:
    assert wrong in refused(tmp_path, zipped(tmp_path / "set.zip", bag(EGGS, **tags)))


def other_files() -> dict[str, bytes]:
    good = io.BytesIO()
    with tarfile.open(fileobj=good, mode="w:gz") as tar:
        tar.addfile(tarfile.TarInfo("set/bagit.txt"), io.BytesIO(b""))
    return {
        "empty.zip": b"",
        "text.zip": b"PK",
        "end.zip": b"PK\5\6" + bytes(18),
        "half.zip": b"PK\5\6" + bytes(8),
        "page.zip": b"<html>",
        "tar.zip": good.getvalue(),
        "bz.zip": bz2.compress(b"x" * 99),
        "picture.zip": drawn("x"),
    }


@pytest.mark.parametrize("name", sorted(other_files()))
def test_other_files(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(other_files()[name])
    assert "zip" in refused(tmp_path, tmp_path / name)


def test_a_bundle_cut_off_anywhere(tmp_path: Path) -> None:
    whole = bundle_of(tmp_path / "set.zip", shared("eggs")).read_bytes()
    for at in range(0, len(whole) - 1, max(1, len(whole) // 60)):
        (tmp_path / "set.zip").write_bytes(whole[:at])
        with pytest.raises(BundleError):
            bundle.receive(tmp_path / "catalog", tmp_path / "set.zip")
    assert not (tmp_path / "catalog").exists()


def test_a_bag_at_the_top_of_the_zip_and_one_with_folders_named_are_fine(tmp_path: Path) -> None:
    flat = {name.removeprefix("set/"): data for name, data in bag(EGGS).items()}
    assert len(bundle.receive(tmp_path / "a", zipped(tmp_path / "flat.zip", flat)).added) == 1
    named = {"set/": b"", "set/data/": b"", **bag(EGGS)}
    assert len(bundle.receive(tmp_path / "b", zipped(tmp_path / "named.zip", named)).added) == 1


# ---- a prompt that lies: the bag is good, the prompt does not come in


def only_refusal(tmp_path: Path, yaml: bytes | None = None, picture: bytes | None = None) -> str:
    """Why the one prompt of a bundle was not taken; nothing else may have changed."""
    files = dict(EGGS)
    files |= {"eggs.yaml": yaml} if yaml is not None else {}
    files |= {"eggs.jpg": picture} if picture is not None else {}
    folder.add(tmp_path / "catalog", shared("mugs", 3), drawn("mugs"))
    before = snapshot(tmp_path / "catalog")
    got = bundle.receive(tmp_path / "catalog", zipped(tmp_path / "set.zip", bag(files), zipfile.ZIP_STORED))
    assert snapshot(tmp_path / "catalog") == before
    assert [one.slug for one in got.refused] == ["eggs"]
    return got.refused[0].wrong


GOOD = to_yaml(shared("eggs")).encode()


def laughs() -> bytes:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 12)]
    return "\n".join(lines).encode()


YAMLS = [
    b"",
    b"\0",
    b"- a",
    b"just words",
    b"{",
    b"[" * 5000,
    b"slug: &a [*a]",
    laughs(),
    b"%TAG ! x\n" * 50,
    b"!!python/object/apply:os.system ['touch /tmp/x']",
    GOOD * 2,
    b"---\n" + GOOD + b"---\n" + GOOD,
    GOOD.replace(b"slug: eggs", b"slug: spoons"),
    GOOD.replace(b"slug: eggs", b"slug: ../eggs"),
    GOOD.replace(b"eggs.jpg", b"../../../etc/passwd"),
    GOOD.replace(b"eggs.jpg", b".hidden"),
    GOOD.replace(b"eggs.jpg", b"spoons.jpg"),
    GOOD.replace(b"format: 1", b"format: 2"),
    GOOD.replace(b"7+7=14", b"7+7=15"),
    GOOD.replace(b"7+7=14", b"6+6=12"),
    GOOD.replace(b"7+7=14", b"99999999999999999999"),
    GOOD.replace(b"side: 1", b"side: 2", 1),
    GOOD.replace(b"x: ", b"x: .nan #", 1),
    GOOD.replace(b"x: ", b"x: -1 #", 1),
    GOOD.replace(b"title: Eggs", b"title: no"),
    GOOD.replace(b"title: Eggs", b"title: !!binary aGk="),
    GOOD.replace(b"title: Eggs", b"title: " + b"e" * 390_000),
    GOOD.replace(b"tags: []", b"tags: [" + b",".join(b"t%d" % n for n in range(90)) + b"]"),
    GOOD.replace(b"confidence: 0.9", b"confidence: 0x" + b"f" * 5000),
    GOOD.replace(b"people: none", b"people: everybody"),
    GOOD.replace(b"source_sha256: ", b"source_sha256: 1"),
    GOOD.decode().encode("utf-16"),
    b"\xc3\x28" + GOOD,
    GOOD.replace(b"dots:", b"dots:\n" + b"  - {x: 0.5, y: 0.5, side: 0}\n" * 4000),
]


@pytest.mark.parametrize("number", range(len(YAMLS)))
def test_yaml_that_lies(tmp_path: Path, number: int) -> None:
    assert only_refusal(tmp_path, yaml=YAMLS[number])


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width: int, height: int, data: bytes = b"", more: bytes = b"") -> bytes:
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + more + chunk(b"IDAT", zlib.compress(data)) + chunk(b"IEND", b"")


def many_scans() -> bytes:
    buffer = io.BytesIO()
    Image.new("L", (64, 64), 90).save(buffer, "JPEG", progressive=True)
    data = buffer.getvalue()
    at = data.rindex(b"\xff\xda")
    return data[:at] + data[at:-2] * 500 + b"\xff\xd9"


def saved(kind: str, **options: Any) -> bytes:
    buffer = io.BytesIO()
    Image.new("RGB", (64, 48), (90, 120, 40)).save(buffer, kind, **options)
    return buffer.getvalue()


PICTURES = [
    b"",
    b"\xff\xd8\xff",
    drawn("eggs")[:300],
    b"\xff\xd8\xff" + b"\xff" * 5000,
    b"<svg xmlns='http://www.w3.org/2000/svg'/>",
    b"%PDF-1.7",
    b"MZ" + bytes(500),
    saved("TIFF"),
    saved("GIF"),
    saved("BMP"),
    saved("ICO"),
    png(100_000, 100_000),
    png(6000, 6000, bytes(6000 * 18001)),
    png(1_000_000_000, 1),
    png(64, 64, b""),
    png(4, 4, bytes(52)),
    png(64, 64, bytes(64 * 193), chunk(b"zTXt", b"a\0\0" + zlib.compress(bytes(80_000_000), 9))),
    b"RIFF\xff\xff\xff\xffWEBPVP8 " + bytes(40),
    saved("WEBP")[:60],
    many_scans(),
    drawn("eggs").replace(b"\xff\xc0\0\x11\x08", b"\xff\xc0\0\x11\x08\xff\xff\xff\xff", 1),
]


@pytest.mark.parametrize("number", range(len(PICTURES)))
def test_pictures_that_are_none(tmp_path: Path, number: int) -> None:
    assert only_refusal(tmp_path, picture=PICTURES[number]).startswith("Its picture: ")


def test_a_picture_that_is_also_something_else_comes_in_as_a_picture_alone(tmp_path: Path) -> None:
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as archive:
        archive.writestr("x.html", "<script>")
    files = EGGS | {"eggs.jpg": drawn("eggs") + b"<script>alert(1)</script>" + inner.getvalue()}
    (kept,) = bundle.receive(tmp_path / "c", zipped(tmp_path / "set.zip", bag(files))).added
    data = (tmp_path / "c" / kept.picture).read_bytes()
    assert b"script" not in data
    assert b"PK" not in data[-200:]


def test_a_zip_within_is_not_opened(tmp_path: Path) -> None:
    inner = bundle_of(tmp_path / "inner.zip", shared("spoons", 3)).read_bytes()
    got = bundle.receive(tmp_path / "c", with_payload(tmp_path / "set.zip", **{"inner.zip": inner}))
    assert [p.slug for p in got.added] == ["eggs"]
    assert [one.slug for one in got.refused] == ["inner.zip"]


def test_a_catalog_behind_a_link_or_a_file_that_is_a_pipe(tmp_path: Path) -> None:
    import os

    os.mkfifo(tmp_path / "pipe.zip")
    with pytest.raises(BundleError, match="There is no such file"):
        bundle.receive(tmp_path / "c", tmp_path / "pipe.zip")
    (tmp_path / "c").symlink_to(tmp_path / "nowhere")
    with pytest.raises(CatalogError):
        bundle.receive(tmp_path / "c", bundle_of(tmp_path / "set.zip", shared("eggs")))


def test_a_declaration_as_other_programs_write_it_is_fine(tmp_path: Path) -> None:
    said = DECLARED.replace("\n", "\r\n").replace("1.0", "0.97").encode()
    assert len(bundle.receive(tmp_path / "c", zipped(tmp_path / "set.zip", bag(EGGS, bagit=said))).added) == 1


def test_a_picture_counts_each_time_it_is_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    files = payload(shared("eggs")) | {"eggs.jpg": drawn("eggs", 90)}
    for number in range(2, 9):
        same = shared(f"eggs-{number}", picture="eggs.jpg")
        files[f"eggs-{number}.yaml"] = to_yaml(same).encode()
    zipped(tmp_path / "set.zip", bag(files))
    monkeypatch.setattr(safe_zip, "MOST_UNPACKED", sum(map(len, files.values())) + 3 * len(files["eggs.jpg"]))
    with pytest.raises(BundleError, match="each counted as often"):
        bundle.receive(tmp_path / "c", tmp_path / "set.zip")
    assert not any((tmp_path / "c").glob("*.jpg"))


def test_keys_of_a_stranger_come_in_nowhere(tmp_path: Path) -> None:
    files = EGGS | {"eggs.yaml": b"# theirs\n" + GOOD + b"extra: 1\n"}
    got = bundle.receive(tmp_path / "c", zipped(tmp_path / "set.zip", bag(files)))
    assert len(got.added) == 1
    text = (tmp_path / "c" / "eggs.yaml").read_text(encoding="utf-8")
    assert "extra" not in text
    assert "theirs" not in text
