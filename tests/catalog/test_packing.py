"""pack: a valid bag, clean and labelled pictures, and nothing in it that may not be handed on.

Read back by others: bags by `bagit`, labels by Debian's exiftool (fields of IPTC Photo Metadata), pixels by Pillow.
"""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import zipfile
from pathlib import Path
from typing import Any

import bagit
import numpy as np
import pytest
from catalog_made import picture_bytes, prompt_of
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageChops, ImageDraw, TiffImagePlugin
from typer.testing import CliRunner

from curator.catalog import bundle
from curator.catalog.bundles import jpeg_metadata
from curator.catalog.prompt import LICENSES
from curator.catalog.store import folder
from curator.cli import app
from curator.errors import BundleError, CuratorError
from curator.records import Prompt
from curator.seeing import photo

EXIFTOOL = shutil.which("exiftool")
needs_exiftool = pytest.mark.skipif(EXIFTOOL is None, reason="needs Debian's libimage-exiftool-perl")


def keep(catalog: Path, slug: str, half: int = 7, picture: bytes | None = None, **more: Any) -> Prompt:
    said = {"things": "eggs", "credit": "Room 4", "license": "CC-BY-4.0", "people": "none", **more}
    made = prompt_of(half, slug, **said)
    return folder.add(catalog, made, picture or photo.encode_clean(pixels(slug)))


def pixels(word: str) -> np.ndarray[Any, np.dtype[np.uint8]]:
    rng = np.random.default_rng(sum(word.encode()))
    return np.kron(rng.integers(0, 255, (6, 8, 3)), np.ones((16, 16, 1))).astype(np.uint8)


def two_rows(half: int) -> bytes:
    """A picture with a ball at each dot of `prompt_of`: what is nowhere to be seen gets no cover."""
    picture = Image.new("RGB", (1120, 320), (222, 214, 200))
    for dot in prompt_of(half).dots:
        x, y = dot.x * 1120, dot.y * 320
        ImageDraw.Draw(picture).ellipse((x - 22, y - 22, x + 22, y + 22), fill=(150, 60, 40))
    return photo.encode_clean(np.asarray(picture))


def unpacked(path: Path) -> Path:
    with zipfile.ZipFile(path) as archive:
        archive.extractall(path.parent / "out")
    return path.parent / "out" / path.stem


def exif(path: Path) -> dict[str, Any]:
    assert EXIFTOOL
    told = subprocess.run([EXIFTOOL, "-json", "-G1", "-a", "-u", "-struct", str(path)], capture_output=True, check=True)
    found: dict[str, Any] = json.loads(told.stdout)[0]
    return found


def test_a_bundle_is_a_valid_bag_whose_data_is_a_catalog(tmp_path: Path) -> None:
    keep(tmp_path / "c", "eggs-hall")
    keep(tmp_path / "c", "spoons", 3)
    keep(tmp_path / "c", "mugs", 0)
    made = bundle.pack(tmp_path / "c", "", tmp_path / "set.zip")
    assert made.packed == ("eggs-hall", "mugs", "spoons")
    assert made.refused == made.warned == ()
    place = unpacked(tmp_path / "set.zip")
    assert bagit.Bag(str(place)).validate()
    assert sorted(p.slug for p in folder.every(place / "data")) == ["eggs-hall", "mugs", "spoons"]
    assert [p for p in folder.check(place / "data") if not p.note] == []
    assert (place / "data" / "credits.txt").read_text().splitlines()[0] == (
        "eggs-hall.jpg; Eggs; Room 4; CC BY 4.0; https://creativecommons.org/licenses/by/4.0/"
    )


def test_words_choose_and_so_do_names(tmp_path: Path) -> None:
    keep(tmp_path / "c", "eggs-hall")
    keep(tmp_path / "c", "spoons", 3)
    assert bundle.pack(tmp_path / "c", "3+3", tmp_path / "a.zip").packed == ("spoons",)
    made = bundle.pack(tmp_path / "c", ["eggs-hall", "nowhere"], tmp_path / "b.zip")
    assert made.packed == ("eggs-hall",)
    assert [(one.slug, one.wrong) for one in made.refused] == [("nowhere", "There is no such prompt in the catalog.")]


def test_pictures_of_the_catalog_go_along_without_loss(tmp_path: Path) -> None:
    kept = keep(tmp_path / "c", "eggs-hall")
    bundle.pack(tmp_path / "c", "", tmp_path / "set.zip")
    sent = Image.open(unpacked(tmp_path / "set.zip") / "data" / "eggs-hall.jpg")
    ours = Image.open(tmp_path / "c" / kept.picture)
    assert ImageChops.difference(sent.convert("RGB"), ours.convert("RGB")).getbbox() is None


@needs_exiftool
def test_each_picture_says_credit_licence_and_a_text_without_the_answer(tmp_path: Path) -> None:
    keep(
        tmp_path / "c",
        "eggs-hall",
        credit='Größe & "Söhne" <Raum 4>, Küche, und noch mehr',
        alt_before="Eggs in a carton.",
    )
    keep(tmp_path / "c", "told", 3, alt_before="Six spoons")
    bundle.pack(tmp_path / "c", "", tmp_path / "set.zip")
    place = unpacked(tmp_path / "set.zip") / "data"
    said = exif(place / "eggs-hall.jpg")
    credit = 'Größe & "Söhne" <Raum 4>, Küche, und noch mehr'
    assert said["XMP-iptcCore:AltTextAccessibility"] == "Eggs in a carton."
    assert said["XMP-photoshop:Credit"] == credit
    assert said["XMP-dc:Creator"] == [credit]
    assert said["XMP-dc:Rights"] == f"{credit}. CC BY 4.0. {LICENSES['CC-BY-4.0'].allows}"
    assert said["XMP-xmpRights:UsageTerms"].startswith("CC BY 4.0.")
    assert said["XMP-xmpRights:WebStatement"] == "https://creativecommons.org/licenses/by/4.0/"
    assert credit.startswith(said["IPTC:Credit"])
    assert said["IPTC:CodedCharacterSet"] == "UTF8"
    assert "ExifTool:Warning" not in said
    assert exif(place / "told.jpg")["XMP-iptcCore:AltTextAccessibility"] == "A photo of eggs."


def dirty_jpeg() -> bytes:
    """A picture that carries all that must not leave: place, serial number, names, thumbnail, maker's notes, XMP, a
    tail.
    """
    image = Image.fromarray(pixels("dirty"))
    tags = Image.Exif()
    tags[0x010F], tags[0x0110], tags[0x013B] = "MAKER-X", "MODEL-X", "OWNER-X"
    tags.get_ifd(0x8769).update({0xA431: "SERIAL-X", 0x927C: b"NOTES-X" * 9, 0x9003: "2026:01:02 03:04:05"})
    tags.get_ifd(0x8825).update({1: "N", 2: tuple(TiffImagePlugin.IFDRational(n) for n in (48, 12, 5))})
    buffer = io.BytesIO()
    xmp = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>PERSON-X</x:xmpmeta>"
    image.save(buffer, "JPEG", exif=tags, xmp=xmp, comment=b"COMMENT-X", icc_profile=b"ICC-X" * 40)
    data = buffer.getvalue()
    small = b"\xff\xe0" + (2 + 14 + 3).to_bytes(2, "big") + b"JFIF\0\x01\x01\0\0\x01\0\x01\x01\x01ABC"
    iptc = b"\xff\xed" + (2 + 20).to_bytes(2, "big") + b"Photoshop 3.0\0IPTC-X"
    return data[:2] + small + iptc + data[2:] + b"TRAILER-X" * 50


@needs_exiftool
@pytest.mark.parametrize("lossless", [True, False])
def test_nothing_else_leaves_with_a_picture(tmp_path: Path, lossless: bool) -> None:
    data = dirty_jpeg()
    if lossless:  # without EXIF and profile the coded data is taken as it is
        keep(tmp_path / "c", "clean")
        start = (tmp_path / "c" / "clean.jpg").read_bytes()
        tail = b"\xff\xfe\0\x0bCOMMENT-X\xff\xed\0\x16Photoshop 3.0\0IPTC-X"
        data = start[:2] + tail + start[2:] + b"TRAILER-X" * 50
        folder.remove(tmp_path / "c", "clean")
    keep(tmp_path / "c", "dirty", picture=data)
    (tmp_path / "c" / "dirty.jpg").write_bytes(data)
    bundle.pack(tmp_path / "c", "", tmp_path / "set.zip")
    path = unpacked(tmp_path / "set.zip") / "data" / "dirty.jpg"
    assert b"-X" not in path.read_bytes()
    groups = {key.partition(":")[0] for key in exif(path)} - {"SourceFile"}
    assert groups <= {
        "ExifTool",
        "System",
        "File",
        "JFIF",
        "IPTC",
        "Photoshop",
        "Composite",
        "XMP-x",
        "XMP-dc",
        "XMP-photoshop",
        "XMP-xmpRights",
        "XMP-iptcCore",
    }
    assert path.read_bytes().endswith(b"\xff\xd9")


def test_names_of_who_checked_and_notes_stay_here(tmp_path: Path) -> None:
    keep(tmp_path / "c", "eggs-hall", checked_by="A. Person", notes="After lunch")
    bundle.pack(tmp_path / "c", "", tmp_path / "set.zip")
    sent = folder.load(unpacked(tmp_path / "set.zip") / "data", "eggs-hall")
    assert (sent.checked_by, sent.notes) == ("", "")
    made = bundle.pack(tmp_path / "c", "", tmp_path / "set.zip", notes=True)
    sent = folder.load(unpacked(tmp_path / "set.zip") / "data", "eggs-hall")
    assert (sent.checked_by, sent.notes) == ("", "After lunch")
    assert made.warned == ("The notes go along; read them once more.",)


@pytest.mark.parametrize(
    ("said", "options", "wrong"),
    [
        ({"license": ""}, {}, "It has no licence."),
        ({"license": "mine"}, {}, 'Its licence "mine" is not one that curator knows.'),
        ({"people": "unknown"}, {}, "Nobody said whether people are in it."),
        ({"credit": ""}, {}, "Its licence asks for a credit, and it has none."),
        ({"license": "", "people": "unknown"}, {}, "It has no licence. Nobody said whether people are in it."),
        ({"license": "school-only"}, {}, "Its licence keeps it in this school."),
        (
            {"license": "CC-BY-ND-4.0"},
            {"marks": lambda *_: {}},
            "Its licence (CC BY-ND 4.0) forbids handing on a picture with marks on it.",
        ),
    ],
)
def test_what_may_not_be_handed_on_is_named_with_its_reason(
    tmp_path: Path, said: Any, options: Any, wrong: str
) -> None:
    keep(tmp_path / "c", "fine")
    keep(tmp_path / "c", "not-fine", 3, **said)
    made = bundle.pack(tmp_path / "c", "", tmp_path / "set.zip", **options)
    assert made.packed == ("fine",)
    assert [(one.slug, one.wrong) for one in made.refused] == [("not-fine", wrong)]
    assert "not-fine" not in str(zipfile.ZipFile(tmp_path / "set.zip").namelist())


def test_some_licences_need_no_credit_and_some_allow_more(tmp_path: Path) -> None:
    keep(tmp_path / "c", "free", license="CC0-1.0", credit="")
    keep(tmp_path / "c", "ours", 3, license="school-only", credit="")
    keep(tmp_path / "c", "plain", 4, license="CC-BY-ND-4.0")
    made = bundle.pack(tmp_path / "c", "", tmp_path / "set.zip", inside=True)
    assert made.packed == ("free", "ours", "plain")
    assert made.warned == (
        "To be shown and handed on only without marks: plain.",
        "For this school only: ours.",
    )


def test_mixed_conditions_are_told(tmp_path: Path) -> None:
    for slug, license in (("a", "CC-BY-4.0"), ("b", "CC-BY-SA-4.0"), ("c", "CC-BY-NC-SA-4.0"), ("d", "CC-BY-NC-4.0")):
        keep(tmp_path / "c", slug, license=license)
    warned = bundle.pack(tmp_path / "c", "", tmp_path / "set.zip").warned
    assert warned == (
        "Two share-alike licences: do not join pictures of both in one picture (b, c).",
        "What is made from these carries their own licence, the others do not: b, c.",
        "Not for money, and so the set as a whole is not: c, d.",
    )
    assert bundle.pack(tmp_path / "c", ["b"], tmp_path / "set.zip").warned == ()


def test_faces_are_pointed_out_before_packing(tmp_path: Path) -> None:
    from skimage.data import astronaut

    keep(tmp_path / "c", "fine")
    keep(tmp_path / "c", "face", 3, picture=photo.encode_clean(astronaut()))
    made = bundle.pack(tmp_path / "c", "", tmp_path / "set.zip")
    assert [(one.slug, one.wrong) for one in made.refused] == [("face", "May show a face.")]
    made = bundle.pack(tmp_path / "c", "", tmp_path / "set.zip", faces_ok=["face"])
    assert made.packed == ("face", "fine")
    assert made.warned == ("face: may show a face.",)


def test_nothing_to_pack_writes_nothing_and_keeps_what_was_there(tmp_path: Path) -> None:
    keep(tmp_path / "c", "a", license="")
    output = tmp_path / "set.zip"
    output.write_bytes(b"before")
    with pytest.raises(BundleError, match=r"Nothing may be packed: a\. It has no licence"):
        bundle.pack(tmp_path / "c", "", output)
    with pytest.raises(BundleError, match='Nothing is found for "9\\+9"'):
        bundle.pack(tmp_path / "c", "9+9", output)
    with pytest.raises(BundleError, match=r"does not end in \.zip"):
        bundle.pack(tmp_path / "c", "", tmp_path / "set.tar")
    with pytest.raises(BundleError, match="cannot be made there"):
        bundle.pack(tmp_path / "c", "", tmp_path / "no" / "set.zip")
    assert output.read_bytes() == b"before"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["c", "set.zip"]


def test_a_missing_or_damaged_picture_is_named(tmp_path: Path) -> None:
    keep(tmp_path / "c", "fine")
    keep(tmp_path / "c", "gone", 3)
    keep(tmp_path / "c", "broken", 4)
    (tmp_path / "c" / "gone.jpg").unlink()
    whole = (tmp_path / "c" / "broken.jpg").read_bytes()
    (tmp_path / "c" / "broken.jpg").write_bytes(whole[: len(whole) * 2 // 3])
    made = bundle.pack(tmp_path / "c", "", tmp_path / "set.zip")
    assert made.packed == ("fine",)
    assert [(one.slug, one.wrong) for one in made.refused] == [
        ("broken", "The picture stops halfway or is damaged."),
        ("gone", "There is no such file."),
    ]


def test_librarians_get_learning_resources(tmp_path: Path) -> None:
    """Property names and what they hold compared by hand with the typings of schema.org in schema-dts 2.1.0 (npm)."""
    keep(tmp_path / "c", "eggs-hall", place="kitchen")
    bundle.pack(tmp_path / "c", "", tmp_path / "set.zip")
    place = unpacked(tmp_path / "set.zip") / "data"
    told = json.loads((place / "learning-resources.jsonld").read_text(encoding="utf-8"))
    assert told["@context"] == "https://schema.org"
    (one,) = told["@graph"]
    assert one["@type"] == "LearningResource"
    assert one["teaches"][:3] == ["7+7=14", "14-7=7", "half of 14 is 7"]
    codes = {term["termCode"]: term for term in one["teaches"][3:]}
    assert codes["1.OA.C.6"]["@type"] == "DefinedTerm"
    assert codes["1.OA.C.6"]["inDefinedTermSet"] == {"@type": "DefinedTermSet", "name": "CCSSM, NGA/CCSSO 2010"}
    assert set(one) <= {
        "@type",
        "@id",
        "name",
        "learningResourceType",
        "educationalUse",
        "typicalAgeRange",
        "teaches",
        "keywords",
        "license",
        "creditText",
        "accessibilityFeature",
        "image",
    }
    assert one["license"] == "https://creativecommons.org/licenses/by/4.0/"
    assert one["creditText"] == "Room 4"
    assert one["image"]["contentUrl"] == "eggs-hall.jpg"
    import hashlib

    assert one["image"]["sha256"] == hashlib.sha256((place / "eggs-hall.jpg").read_bytes()).hexdigest()


@given(st.binary(max_size=400), st.integers(0, 3000), st.integers(0, 3000))
def test_stripping_never_fails_and_never_keeps_a_comment(noise: bytes, start: int, end: int) -> None:
    whole = picture_bytes(3)
    data = whole[:start] + noise + whole[end:]
    found = jpeg_metadata.bare(data)
    assert found is None or (found[:2] == b"\xff\xd8" and found[-2:] == b"\xff\xd9")
    kept = jpeg_metadata.bare(whole[:2] + b"\xff\xfe\0\x0bCOMMENT-X" + whole[2:])
    assert kept is not None
    assert b"COMMENT-X" not in kept


def test_the_command_packs_and_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)  # names as she types them: no line is as long as the folder that tests run in
    keep(Path("c"), "eggs-hall", picture=two_rows(7))
    keep(Path("c"), "not-fine", 3, license="")
    run = CliRunner()
    got = run.invoke(app, ["pack", "-c", "c", "-o", "set.zip", "--marked"])
    assert got.exit_code == 0, got.output
    assert "not-fine\n    It has no licence.\n    > Say what may be done with it.\n" in got.output
    assert "\n    curator edit not-fine --ask -c c\n" in got.output
    assert got.output.endswith("set.zip: 1 prompt.\n")
    assert all(len(line) < 80 for line in got.output.splitlines())
    names = zipfile.ZipFile("set.zip").namelist()
    assert {"set/data/marked/eggs-hall-ringed.jpg", "set/data/marked/eggs-hall-covered.jpg"} <= set(names)
    got = run.invoke(app, ["pack", "9+9", "-c", "c", "-o", "set.zip"])
    assert isinstance(got.exception, CuratorError)


def test_the_first_reason_is_said_of_all_only_where_it_is_theirs(tmp_path: Path) -> None:
    for slug in ("a", "b", "c"):
        keep(tmp_path, slug, license="")
    with pytest.raises(BundleError, match=r"a and 2 more, each for the same reason\. It has no licence"):
        bundle.pack(tmp_path, "", tmp_path / "set.zip")
    keep(tmp_path, "d", license="", people="unknown")
    with pytest.raises(BundleError, match=r"a and 3 more, each with its own reason\. Of a: It has no licence"):
        bundle.pack(tmp_path, "", tmp_path / "set.zip")
