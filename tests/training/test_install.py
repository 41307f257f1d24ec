"""New weights come in place whole, what stood there is kept, and measuring takes them by itself."""

import shutil
from pathlib import Path

import pytest

from balltrack.detect import network
from balltrack.detect.network import load_network, own_weights, shipped_weights
from balltrack.errors import DetectorError
from balltrack.training.install import install


def test_every_earlier_file_is_kept_under_a_number(tmp_path: Path) -> None:
    target = tmp_path / "new folder" / "own-ball.onnx"
    backups = []
    for content in ("first", "second", "third"):
        (tmp_path / "made.onnx").write_text(content)
        backups.append(install(tmp_path / "made.onnx", target))
    assert target.read_text() == "third"
    assert backups == [None, target.with_name("own-ball.1.onnx"), target.with_name("own-ball.2.onnx")]
    assert [path.read_text() for path in backups if path] == ["first", "second"]


def test_a_place_that_cannot_be_written_is_one_line_and_loses_nothing(tmp_path: Path) -> None:
    (tmp_path / "made.onnx").write_text("new")
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(DetectorError, match=r"cannot be put in place .*; give another --out") as caught:
        install(tmp_path / "made.onnx", tmp_path / "file" / "own-ball.onnx")
    assert "\n" not in str(caught.value)
    assert (tmp_path / "file").read_text() == "in the way"


def test_a_persons_own_weights_go_before_those_of_the_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own = tmp_path / "own-ball.onnx"
    monkeypatch.setattr(network, "own_weights", lambda: own)
    assert load_network().name.startswith("ball.onnx ")
    shutil.copy(shipped_weights(), own)
    assert load_network().name.startswith("own-ball.onnx ")
    assert load_network(shipped_weights()).name.startswith("ball.onnx ")


def test_own_weights_that_are_spoilt_are_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own = tmp_path / "own-ball.onnx"
    own.write_text("no network")
    monkeypatch.setattr(network, "own_weights", lambda: own)
    with pytest.raises(DetectorError, match=r"own-ball\.onnx cannot be read"):
        load_network()


def test_own_weights_lie_in_the_persons_data_folder() -> None:
    assert own_weights().name == "own-ball.onnx"
    assert own_weights().parent.name == "balltrack"
    assert not own_weights().exists()  # tests run with an empty one
