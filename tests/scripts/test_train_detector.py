"""The training script and `balltrack train` run, small, on a CPU: here with the training set, in .venv-train."""

import csv
import importlib.util
import json
import os
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from balltrack.detect.network import load_network, shipped_weights
from tests.training.lessons import measured_lesson

pytestmark = [
    pytest.mark.training,
    pytest.mark.skipif(
        importlib.util.find_spec("ultralytics") is None,
        reason="needs the training set: pip install -e '.[train]', or scripts/test.py without --no-training",
    ),
]

ROOT = Path(__file__).resolve().parents[2]
LONGEST_S = 600
# Every Python that a program starts reads this first: what would reach beyond the machine is written down and refused.
WATCHMAN = """
import os, sys

def watch(event, given):
    if event not in ("socket.connect", "socket.sendto", "socket.getaddrinfo", "socket.gethostbyname"):
        return
    place = given[1] if event in ("socket.connect", "socket.sendto") else given[0]
    if isinstance(place, (str, bytes)) and event in ("socket.connect", "socket.sendto"):
        return  # a path: processes of one machine talking
    if isinstance(place, tuple) and str(place[0]).startswith("127."):
        return
    with open(os.environ["WATCH_LOG"], "a") as log:
        log.write(f"{event} {place} by {sys.argv}\\n")
    raise PermissionError(f"this test lets no program reach {place}")

with open(os.environ["WATCH_LOG"] + ".began", "a") as log:
    log.write(f"{os.getpid()}\\n")
sys.addaudithook(watch)
"""


@dataclass(frozen=True)
class Watched:
    """An environment in which programs are watched."""

    folder: Path

    @property
    def log(self) -> Path:
        """What reached beyond the machine; not there where nothing did."""
        return self.folder / "reached"

    @property
    def began(self) -> int:
        """How many Pythons have been watched."""
        return len(Path(f"{self.log}.began").read_text().split())

    def environment(self) -> dict[str, str]:
        (self.folder / "sitecustomize.py").write_text(WATCHMAN)
        return os.environ | {
            "PYTHONPATH": os.pathsep.join([str(self.folder), str(ROOT)]),
            "WATCH_LOG": str(self.log),
            "YOLO_CONFIG_DIR": str(self.folder / "settings"),  # as on a machine that never trained
            "XDG_DATA_HOME": str(self.folder / "data"),
            "OMP_NUM_THREADS": "1",
        }

    def run(self, *words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, *words], env=self.environment(), cwd=ROOT, capture_output=True, text=True,
            timeout=LONGEST_S, check=False,
        )  # fmt: skip

    def stop_when_there(self, file: Path, words: Sequence[str]) -> None:
        """Start a program, and kill it and all that it started as soon as ``file`` is there."""
        with (self.folder / "stopped.log").open("w") as log:
            program = subprocess.Popen(
                [sys.executable, *words], env=self.environment(), cwd=ROOT, stdout=log, stderr=log,
                start_new_session=True,
            )  # fmt: skip
            try:
                for _ in range(LONGEST_S * 20):
                    if file.is_file() or program.poll() is not None:
                        break
                    time.sleep(0.05)
            finally:
                ended = program.poll()
                os.killpg(program.pid, signal.SIGKILL) if ended is None else None
                program.wait()
        assert ended is None, (self.folder / "stopped.log").read_text()[-3000:]
        assert file.is_file()


@pytest.fixture(scope="module")
def watched(tmp_path_factory: pytest.TempPathFactory) -> Watched:
    return Watched(tmp_path_factory.mktemp("watched"))


@dataclass(frozen=True)
class Run:
    """A small training that was stopped in the middle and started again."""

    out: Path
    made_before: dict[Path, int]  # examples by the time at which they were written
    epochs_before: list[str]  # lines of the curves when it was stopped
    said: str


@pytest.fixture(scope="module")
def trained(watched: Watched) -> Run:
    out = watched.folder / "run"
    command = [str(ROOT / "scripts" / "train_detector.py"), "--out", str(out), "--small", "--workers", "2"]
    watched.stop_when_there(out / "three" / "weights" / "best.pt", command)  # written once last.pt is whole
    before = {path: path.stat().st_mtime_ns for path in (out / "examples").rglob("*.png")}
    lines = (out / "three" / "results.csv").read_text().splitlines()
    done = watched.run(*command)
    assert done.returncode == 0, done.stderr[-3000:]
    return Run(out, before, lines, done.stdout)


def test_a_small_run_leaves_weights_that_the_package_loads(trained: Run) -> None:
    network = load_network(trained.out / "three" / "ball.onnx")
    assert network.name.startswith("ball.onnx ")
    assert (trained.out / "three" / "ball.pt").stat().st_size < 500_000  # 0.12 million half-precision numbers: 0.25 MB


def test_its_settings_curves_and_scores_are_kept(trained: Run) -> None:
    recipe = json.loads((trained.out / "recipe.json").read_text())
    assert (recipe["epochs"], recipe["composites"]) == (2, 240)
    assert "imgsz: 128" in (trained.out / "three" / "args.yaml").read_text()
    with (trained.out / "three" / "results.csv").open() as file:
        rows = [{name.strip(): value for name, value in row.items()} for row in csv.DictReader(file)]
    assert [int(row["epoch"]) for row in rows] == [1, 2]
    assert float(rows[1]["train/box_loss"]) < float(rows[0]["train/box_loss"])  # it learns
    scores = (trained.out / "three" / "scores.md").read_text()
    assert scores.startswith("| | recall | precision |")
    assert scores in trained.said


def test_a_run_that_was_stopped_goes_on_from_where_it_was(trained: Run) -> None:
    assert trained.made_before
    assert all(path.stat().st_mtime_ns == at for path, at in trained.made_before.items())
    after = (trained.out / "three" / "results.csv").read_text().splitlines()
    assert len(trained.epochs_before) == 2  # the head and one epoch
    assert after[:2] == trained.epochs_before
    assert len(after) == 3


def test_a_run_that_is_done_is_not_done_again(trained: Run, watched: Watched) -> None:
    weights = trained.out / "three" / "ball.onnx"
    before = weights.stat().st_mtime_ns
    again = watched.run(str(ROOT / "scripts" / "train_detector.py"), "--out", str(trained.out), "--small")
    assert again.returncode == 0, again.stderr[-3000:]
    assert weights.stat().st_mtime_ns == before


def test_fine_tuning_takes_better_weights_keeps_the_old_and_stays_when_there_is_no_better(
    trained: Run, watched: Watched
) -> None:
    lesson = measured_lesson(watched.folder / "my_lesson")
    own = watched.folder / "data" / "balltrack" / "own-ball.onnx"
    own.parent.mkdir(parents=True)
    shutil.copy(trained.out / "three" / "ball.onnx", own)  # two epochs from nothing: it finds hardly a ball
    poor = own.read_bytes()
    command = ("-m", "balltrack.cli", "train", str(lesson), "--epochs", "1")

    first = watched.run(*command)
    assert first.returncode == 0, first.stderr[-3000:]
    assert "now: own-ball.onnx" in first.stdout
    assert "Better (" in first.stdout
    assert own.with_name("own-ball.1.onnx").read_bytes() == poor
    assert own.read_bytes() != poor
    load_network(own)

    second = watched.run(*command)  # the same again, so no better
    assert second.returncode == 0, second.stderr[-3000:]
    assert "Not surely better" in second.stdout
    assert not own.with_name("own-ball.2.onnx").exists()


def test_what_is_kept_of_a_run_is_half_way_from_where_it_started_and_names_no_folder(
    trained: Run, watched: Watched
) -> None:
    start, end, kept = shipped_weights().with_suffix(".pt"), trained.out / "three" / "ball.pt", watched.folder / "k.pt"
    code = f"""
from pathlib import Path
import torch
from balltrack.training.yolo import slim
slim(Path({str(end)!r}), Path({str(kept)!r}), half_way_from=Path({str(start)!r}))
first, last, mean = (
    torch.load(path, weights_only=False)["model"].float().state_dict()
    for path in ({str(start)!r}, {str(end)!r}, {str(kept)!r})
)
# Half precision keeps 11 bits.
print(all(torch.allclose(mean[key], 0.5 * (first[key] + last[key]), rtol=2**-10, atol=1e-6) for key in mean
          if not key.endswith("num_batches_tracked")))
print(any(not torch.equal(mean[key], first[key]) for key in mean))
"""
    done = watched.run("-c", code)
    assert done.stdout.split() == ["True", "True"], done.stderr[-3000:]
    with zipfile.ZipFile(kept) as file:
        for name in file.namelist():
            assert not name.endswith(".pkl") or str(watched.folder).encode() not in file.read(name)


def test_a_device_that_is_not_there_is_one_line(watched: Watched) -> None:
    done = watched.run("-m", "balltrack.cli", "train", str(ROOT / "sample_clips"), "--device", "17")
    assert done.returncode == 1
    assert done.stderr.strip() == "there is no device 17 to train on here; take --device cpu"


def test_none_of_this_reached_beyond_the_machine(trained: Run, watched: Watched) -> None:
    # Runs last: all programs above were watched, their worker processes too.
    assert trained.out.is_dir()
    assert watched.began > 5
    assert not watched.log.exists(), watched.log.read_text()


def test_the_watchman_sees_what_would_reach_beyond_the_machine(watched: Watched) -> None:
    # 192.0.2.1 is an address for documentation (RFC 5737); the hook stops the call before anything is sent.
    done = watched.run("-c", "import socket; socket.create_connection(('192.0.2.1', 9), 1)")
    assert done.returncode != 0
    assert "192.0.2.1" in watched.log.read_text()
