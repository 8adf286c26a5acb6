"""A run that learns new kinds by their labels, and from a teacher what to say of everything else."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest

torch = pytest.importorskip("torch", reason="torch is not installed")

from curator.learning.drawn import scenes  # noqa: E402
from curator.learning.network import batches, feeding, losses, train  # noqa: E402
from curator.learning.network.net import Finder, folded  # noqa: E402
from curator.learning.rendered import solids  # noqa: E402

SIDE = 96
LIKE = {"like heat", "like size", "like kind", "like maps", "like mixes", "like whole"}


def _batch(seeds: list[int]) -> dict[str, torch.Tensor]:
    store = batches.empty(len(seeds), SIDE)
    for slot, seed in enumerate(seeds):
        batches.put(store, slot, scenes.make(seed, SIDE))
    torch.manual_seed(0)
    return batches.make(store, torch.device("cpu"))


def _run(net: Finder, taught: object) -> train.Run:
    return train.Run(net, net, torch.optim.SGD(net.parameters()), {}, taught, torch.device("cpu"), 0, 1)


def _chosen(told: str, labels: float = 1.0, teaching: float = 1.0) -> argparse.Namespace:
    return argparse.Namespace(told=told, labels=labels, teaching=teaching)


@pytest.fixture(scope="module")
def net() -> Finder:
    torch.manual_seed(1)
    return Finder().eval()


def test_told_rows_learn_from_the_teacher_alone_and_the_others_by_their_labels(net: Finder) -> None:
    batch, told = _batch([3, 5, 8]), torch.tensor([True, False, True])
    torch.manual_seed(2)
    taught = Finder().eval()
    with torch.no_grad():
        answers = net(batch["image"], batch["tap"])
    parts = train.lessons(_run(net, taught), answers, batch, told, _chosen("drawn", teaching=2.0))
    labels = set(losses.total(*answers, batch))
    assert set(parts) == labels | LIKE
    assert float(parts["like heat"]) > 0

    moved = dict(batch, heat=torch.where(told[:, None, None], 1 - batch["heat"], batch["heat"]))
    again = train.lessons(_run(net, taught), answers, moved, told, _chosen("drawn", teaching=2.0))
    assert float(again["main"]) == pytest.approx(float(parts["main"]))
    moved = dict(batch, heat=torch.where(told[:, None, None], batch["heat"], 1 - batch["heat"]))
    again = train.lessons(_run(net, taught), answers, moved, told, _chosen("drawn", teaching=2.0))
    assert float(again["main"]) != pytest.approx(float(parts["main"]))
    half = train.lessons(_run(net, taught), answers, batch, told, _chosen("drawn", teaching=1.0))
    assert float(parts["like heat"]) == pytest.approx(2 * float(half["like heat"]))


def test_a_net_told_what_it_says_itself_has_nothing_to_learn(net: Finder) -> None:
    batch = _batch([3, 5])
    with torch.no_grad(), torch.autocast("cpu", torch.bfloat16):
        answers = net(batch["image"], batch["tap"])
    parts = train.lessons(_run(net, net), answers, batch, torch.tensor([True, True]), _chosen("drawn"))
    assert set(parts) == LIKE
    assert all(abs(float(loss)) < 1e-2 for loss in parts.values())


def test_without_the_choice_every_row_learns_both_ways(net: Finder) -> None:
    batch = _batch([3, 5])
    with torch.no_grad():
        answers = net(batch["image"], batch["tap"])
    parts = train.lessons(_run(net, net), answers, batch, torch.tensor([False, False]), _chosen(""))
    assert set(parts) > LIKE
    given = losses.total(*answers, batch)
    assert float(parts["main"]) == pytest.approx(float(given["main"]))


def test_norms_that_are_still_answer_as_they_did() -> None:
    torch.manual_seed(4)
    kept = Finder().eval()
    for _, norm in folded(kept):
        norm.running_var.uniform_(0.5, 2.0)
    image = torch.rand(2, 3, 64, 64) * 255
    before = kept(image, image[:, :1] * 0)[0]
    train._set_training(kept, 1.0, (), still=True)
    assert torch.allclose(kept(image, image[:, :1] * 0)[0], before)
    train._set_training(kept, 1.0, ())
    assert not torch.allclose(kept(image, image[:, :1] * 0)[0], before, atol=1e-3)
    assert all(value.requires_grad for value in kept.trunk.parameters())


def test_a_batch_says_which_of_its_rows_are_told() -> None:
    store = {"image": torch.arange(8)}
    fixed = {"drawn": [], "real": [0, 1, 2, 3], "solid": [4, 5, 6, 7]}
    torch.manual_seed(0)
    picked, told = feeding._picked(fixed, {"drawn": 0.2, "real": 0.5, "solid": 0.5}, 40, ("drawn", "real"))
    assert ((store["image"][picked] < 4) == told).all()
    assert 0 < int(told.sum()) < 40


def test_new_kinds_are_a_pool_of_their_own(tmp_path: Path) -> None:
    for pool, number in (("solids", 2), ("new", 3)):
        solids.pack([scenes.make(seed, SIDE) for seed in range(number)], tmp_path / pool / "one.npz")
    store = batches.empty(8, SIDE)
    fixed = feeding.fixed_scenes(store, tmp_path, SIDE, 0, ())
    assert fixed == {"solid": [0, 1], "new": [2, 3, 4], "real": []}
    torch.manual_seed(0)
    shares = {"drawn": 0.3, "real": 0.3, "solid": 0.2, "new": 0.2}
    picked, told = feeding._picked(fixed | {"drawn": [6]}, shares, 60, ("drawn", "real", "solid"))
    assert set(picked.tolist()) == {0, 1, 2, 3, 4, 6}
    assert (((picked >= 2) & (picked <= 4)) != told).all()


def test_more_scenes_than_there_is_room_for_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    solids.pack([scenes.make(seed, SIDE) for seed in range(3)], tmp_path / "new" / "one.npz")
    monkeypatch.setattr(feeding, "MOST_FIXED", 2)
    with pytest.raises(SystemExit, match="There are 3, more than the 2"):
        feeding.fixed_scenes(batches.empty(6, SIDE), tmp_path, SIDE, 0, ())


@pytest.mark.parametrize(("families", "ring", "other"), [("", "solid", "new"), ("sofa,dining", "new", "solid")])
def test_what_is_rendered_on_the_way_goes_to_new_kinds_where_they_are_named(
    families: str, ring: str, other: str
) -> None:
    chosen = argparse.Namespace(slots=60, renderers=2, families=families)
    rings = feeding.rings_of(chosen, 3)
    assert len(rings["drawn"]) == 20
    assert len(rings[ring]) == 40
    assert len(rings[other]) == 0
    assert set(rings["drawn"]).isdisjoint(rings[ring])


@pytest.mark.parametrize(
    "told", [["drawn,real", "--shares", "0.1,0.4,0.1,0.4"], ["drawn,real,solid"], ["drawn,reel"], ["new"]]
)
def test_a_run_told_without_a_teacher_or_of_all_that_it_sees_is_refused(
    told: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without --shares no new kinds are seen: then drawn, real and solid are all there is."""
    teacher = [] if "--shares" in told else ["--teacher", "a.ts"]
    monkeypatch.setattr("sys.argv", ["train", "-o", "out", "--told", *told, *teacher])
    monkeypatch.setattr(train, "run", lambda _: pytest.fail("it began"))
    with pytest.raises(SystemExit):
        train.main()
    assert "--told goes with --teacher" in capsys.readouterr().err
