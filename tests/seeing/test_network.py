"""The trained file: its hash, its stored answers, and what it must see in drawn pictures."""

from __future__ import annotations

import dataclasses
import hashlib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import cv2
import numpy as np
import pytest

from curator.records import Fact
from curator.seeing.features import net_agreement
from curator.seeing.finders import find_all, learned
from curator.seeing.judging import readings
from curator.seeing.net import outlines, runtime, session
from curator.seeing.view import view_of

MODELS = runtime.MODEL.parent


def discs(n: int, *, width: int = 512, radius: int = 28) -> np.ndarray:
    picture = np.full((384, width, 3), (94, 118, 140), np.uint8)
    for k in range(n):
        at = (70 + (k % 4) * 115, 90 + (k // 4) * 110)
        cv2.circle(picture, at, radius, (225, 190, 80), -1, cv2.LINE_AA)
        cv2.circle(picture, (at[0] - 8, at[1] - 8), radius // 3, (240, 220, 150), -1, cv2.LINE_AA)
    return picture


def test_the_file_is_the_one_of_the_card_and_small_enough() -> None:
    stored = (MODELS / "finder.onnx.sha256").read_text().split()[0]
    assert hashlib.sha256(runtime.MODEL.read_bytes()).hexdigest() == stored
    assert runtime.MODEL.stat().st_size < 25e6


def test_it_answers_as_the_training_library_did_but_for_what_bytes_take() -> None:
    probe = np.load(MODELS / "probe.npz")
    sight = runtime.see(probe["image"], 160, taps=[(24, 24)])
    dense = sight.dense[:, ::4, ::4]
    assert np.abs(dense - probe["dense"]).mean() < 0.03
    for heat, wanted in zip(dense[:4], probe["dense"][:4], strict=True):
        assert np.abs(1 / (1 + np.exp(-heat)) - 1 / (1 + np.exp(-wanted))).max() < 0.02
    whole = np.exp(probe["whole"] - probe["whole"].max())[runtime.SCALE_BINS :]
    assert np.allclose(sight.count, whole / whole.sum(), atol=0.01)


@pytest.mark.parametrize("n", [4, 6, 8, 12])
def test_discs_are_found_where_they_are(n: int) -> None:
    sets = [s for s in learned.find(view_of(discs(n))) if len(s) == n]
    assert sets, "no set of that number"
    wanted = np.array([(90 + (k // 4) * 110, 70 + (k % 4) * 115) for k in range(n)])
    apart = np.hypot(*(sets[0].centers[:, None] - wanted[None]).transpose(2, 0, 1))
    assert apart.min(axis=0).max() < 10
    assert 35 < np.median(sets[0].widths) < 90


def test_any_shape_of_picture_and_the_same_answer_twice() -> None:
    for height, width in ((40, 512), (512, 33), (8, 8)):
        sets = learned.find(view_of(np.full((height, width, 3), 128, np.uint8)))
        assert all(0 <= t.center[0] < height and 0 <= t.center[1] < width for s in sets for t in s.things)
    once = [(len(s), s.support) for s in learned.find(view_of(discs(6)))]
    learned.find(view_of(discs(4)))  # nothing of another picture is left over
    assert [(len(s), s.support) for s in learned.find(view_of(discs(6)))] == once


def test_a_set_that_leaves_one_out_is_told_apart_from_the_whole() -> None:
    picture = discs(8)
    whole = next(s for s in learned.find(view_of(picture)) if len(s) == 8)
    short = type(whole)(whole.things[:7], whole.size, "blobs")
    full, less = net_agreement.attested(view_of(picture), [whole, short])
    assert full.clues.seen is not None
    assert less.clues.seen is not None
    assert full.clues.seen.left_out < 0.05 < less.clues.seen.left_out


def test_with_one_core_the_net_looks_when_it_is_asked_and_once(monkeypatch: pytest.MonkeyPatch) -> None:
    beside, looked, see = view_of(discs(4)).sights, list[int](), runtime.see

    def noted(pixels: np.ndarray, longer: int, *, model: Path) -> runtime.Sight:
        looked.append(longer)
        return see(pixels, longer, model=model)

    monkeypatch.setattr(runtime, "see", noted)
    threads = cv2.getNumThreads()
    cv2.setNumThreads(1)
    try:
        view = view_of(discs(4))
        assert not looked
        sights = view.sights
        assert view.sights == sights
    finally:
        cv2.setNumThreads(threads)
    assert looked == list(runtime.SIZES)
    assert [s.dense for s in sights] == [pytest.approx(s.dense, abs=1e-4) for s in beside]


def test_without_the_file_the_other_finders_go_on(tmp_path: Path) -> None:
    view = view_of(discs(8), tmp_path / "none.onnx")
    assert view.sights == ()
    assert learned.find(view) == []
    assert net_agreement.attested(view, []) == []
    read = readings.readings(discs(8), find_all(view))[0]
    assert read.fact == Fact(4)
    assert read.grade == "check"
    assert read.reasons[0].name == "untrained"


@pytest.mark.parametrize("longer", [384, 512])
def test_outlines_are_those_of_the_discs(longer: int) -> None:
    picture = discs(8)
    centers = np.array([(90 + (k // 4) * 110, 70 + (k % 4) * 115) for k in range(8)], float)
    found = outlines.outlines(runtime.see(picture, longer), centers, picture.shape[:2])
    rows, cols = np.mgrid[0:384, 0:512]
    true = (rows - centers[:, :1, None]) ** 2 + (cols - centers[:, 1:, None]) ** 2 <= 28**2
    overlap = (found & true).sum((1, 2)) / (found | true).sum((1, 2))
    assert found.shape == (8, 384, 512)
    assert overlap.min() > 0.75
    assert not (found.sum(0) > 1).any(), "two discs share a pixel"


def test_a_file_without_outlines_says_so() -> None:
    sight = runtime.see(discs(4), 256)
    earlier = dataclasses.replace(sight, dense=sight.dense[: outlines.FIRST])
    assert outlines.available(sight)
    assert not outlines.available(earlier)
    with pytest.raises(ValueError, match="no outlines"):
        outlines.outlines(earlier, np.zeros((1, 2)), (384, 512))


def test_outlines_on_pictures_with_true_masks() -> None:
    """Masks of three samples (`learning.samples.masks`): what the graph cut would start from is mostly the thing."""
    root = Path(__file__).parents[2]
    for name, least in (("porch-boots", 0.85), ("four-buns", 0.85), ("eggs-ten", 0.8)):
        mask = cv2.imread(str(root / "tests" / "things" / f"{name}.png"), cv2.IMREAD_GRAYSCALE)
        picture = cv2.imread(str(root / "sample_images" / f"{name}.jpg"))
        assert mask is not None
        assert picture is not None
        picture = cv2.resize(picture[..., ::-1], mask.shape[::-1], interpolation=cv2.INTER_AREA)
        true = np.stack([mask == grey for grey in np.unique(mask) if grey])
        middles = np.array([[(v.min() + v.max()) / 2 for v in np.nonzero(one)] for one in true])
        found = outlines.outlines(runtime.see(np.asarray(picture, np.uint8), 512), middles, mask.shape[:2])
        assert ((found & true).sum((1, 2)) / (found | true).sum((1, 2))).mean() > least, name


def test_two_that_ask_at_a_time_are_given_one_session() -> None:
    with ThreadPoolExecutor(2) as threads:
        one, other = threads.map(lambda _: session.opened(runtime.MODEL, 3), range(2))
    assert one is other
