"""balltrack train: refuses in one line what it cannot learn from, and takes new weights only if they are better."""

import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from balltrack.cli import main
from balltrack.detect.network import Network, own_weights, shipped_weights
from balltrack.training import teach
from balltrack.training.compare import Tally
from balltrack.training.example import Example
from balltrack.training.teach import held_back
from tests.training.lessons import HITS, measured_lesson


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["train", *words])


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return measured_lesson(tmp_path_factory.mktemp("teach") / "my_lesson")


@pytest.fixture
def ready(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if the training set were installed."""
    monkeypatch.setattr(teach, "check_ready", lambda device: None)


def one_line(result: Result) -> str:
    assert result.exit_code == 1, result.output
    assert len(result.stderr.strip().splitlines()) == 1
    return result.stderr


def test_without_the_training_set_one_line_says_how_to_install_it(
    lesson: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "ultralytics", None)  # as where it is not installed
    assert "pip install 'balltrack[train]'" in one_line(run(str(lesson)))


@pytest.mark.usefixtures("ready")
def test_too_few_swings_are_one_line_with_their_number(tmp_path: Path) -> None:
    said = one_line(run(str(measured_lesson(tmp_path / "my_lesson", HITS[:2]))))
    assert said.startswith("2 swings with ")
    assert "at least 5 and 60" in said


@pytest.mark.usefixtures("ready")
def test_a_lesson_named_twice_counts_once(tmp_path: Path) -> None:
    lesson = measured_lesson(tmp_path / "my_lesson", HITS[:3])
    assert one_line(run(str(lesson), f"{lesson}/../my_lesson")).startswith("3 swings with ")


@pytest.mark.usefixtures("ready")
def test_a_folder_that_is_not_there_and_a_wrong_correction_are_one_line(tmp_path: Path) -> None:
    assert "no such folder" in one_line(run(str(tmp_path / "nowhere")))
    lesson = measured_lesson(tmp_path / "my_lesson", HITS[:1])
    (lesson / "results" / "tracks" / "01-tee" / "swing-01.hand.csv").write_text("time_s,u_px,v_px,diameter_px\nx,,,\n")
    assert "swing-01.hand.csv line 2: time_s" in one_line(run(str(lesson)))


def test_about_a_fifth_of_the_swings_is_held_back_whatever_their_order() -> None:
    names = [f"lesson/01-tee/{k:03d}#1" for k in range(200)]
    held = held_back(names)
    # A fifth of 200 is 40; the digest scatters like a coin of 1 in 5, standard deviation sqrt(200 * 0.2 * 0.8) = 5.7.
    assert 40 <= len(held) <= 60
    assert held_back(names[::-1]) == held
    assert [len(held_back(names[:count])) >= least for count, least in ((5, 2), (10, 2), (11, 3), (16, 4))] == [
        True
    ] * 4


def test_a_swing_once_held_back_by_its_name_stays_so_when_others_come() -> None:
    names = [f"lesson/01-tee/{k:03d}#1" for k in range(200)]
    early, late = held_back(names[:150]), held_back(names)
    assert len(early - late) <= 1  # one may have been added to make up a fifth


class Compared:
    """What stands in for training: weights that find so much more, or as much."""

    def __init__(self, finds_now: float, finds_new: float) -> None:
        self.finds = {"own-ball.onnx": finds_new, shipped_weights().name: finds_now}
        self.learnt: list[Example] = []
        self.judged: list[Example] = []

    def train(self, examples: Sequence[Example], spare: Path, wish: teach.Wish) -> Path:
        self.learnt = list(examples)
        made = spare / "own-ball.onnx"
        made.write_bytes(shipped_weights().read_bytes())
        return made

    def tally(self, network: Network, examples: Sequence[Example]) -> Tally:
        self.judged = list(examples)
        balls = np.array([len(example.box_px) for example in examples])
        every = np.arange(len(balls)) % 10 < 10 * self.finds[network.path.name]
        return Tally(balls, balls * every, np.zeros(len(balls), int))


def stand_in(monkeypatch: pytest.MonkeyPatch, finds_now: float, finds_new: float) -> Compared:
    compared = Compared(finds_now, finds_new)
    monkeypatch.setattr(teach, "_train", compared.train)
    monkeypatch.setattr(teach, "tally", compared.tally)
    return compared


@pytest.mark.usefixtures("ready")
def test_better_weights_are_put_where_they_are_asked_for(
    lesson: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    compared = stand_in(monkeypatch, 0.4, 0.9)
    out = tmp_path / "weights.onnx"
    out.write_text("earlier")
    result = run(str(lesson), "--out", str(out))
    assert result.exit_code == 0, result.output
    assert out.read_bytes() == shipped_weights().read_bytes()
    assert (tmp_path / "weights.1.onnx").read_text() == "earlier"
    for words in (" of them held back", "now: ball.onnx", "Better (", "weights.1.onnx", f"--weights {out}"):
        assert words in result.stdout
    assert not own_weights().exists()
    learnt = {example.frames.tobytes() for example in compared.learnt}
    assert compared.judged
    assert not any(example.frames.tobytes() in learnt for example in compared.judged)


@pytest.mark.usefixtures("ready")
def test_weights_that_are_not_better_change_nothing_and_are_status_0(
    lesson: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand_in(monkeypatch, 0.9, 0.9)
    out = tmp_path / "weights.onnx"
    out.write_text("earlier")
    result = run(str(lesson), "--out", str(out))
    assert result.exit_code == 0
    assert "Not surely better" in result.stdout
    assert "the weights in use stay" in result.stdout
    assert out.read_text() == "earlier"
    assert list(tmp_path.iterdir()) == [out]
