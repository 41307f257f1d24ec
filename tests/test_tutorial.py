"""Every block of docs/tutorial.md runs, in order, as a reader would run it."""

import contextlib
import io
import json
import re
import shutil
from pathlib import Path

import pandas
import pytest

ROOT = Path(__file__).parents[1]
TUTORIAL = ROOT / "docs" / "tutorial.md"
BLOCK = re.compile(r"^```python\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@pytest.fixture
def folder(measured_sample: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the tutorial is read: a measured lesson, and one with a single clip that was not measured yet."""
    shutil.copytree(measured_sample, tmp_path / "my_lesson")
    clip = tmp_path / "new_lesson" / "clips" / "01-tee" / "swing-03.mp4"
    clip.parent.mkdir(parents=True)
    shutil.copy(measured_sample / "clips" / "01-tee" / "swing-03.mp4", clip)
    shutil.copy(measured_sample / "lesson.toml", tmp_path / "new_lesson")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_every_block_of_the_tutorial_runs_in_order(folder: Path) -> None:
    text = TUTORIAL.read_text(encoding="utf-8")
    names: dict[str, object] = {"__name__": "__main__"}
    said = io.StringIO()
    for found in BLOCK.finditer(text):
        line = text.count("\n", 0, found.start(1))  # so that a traceback names the line in the tutorial
        code = compile("\n" * line + found[1], str(TUTORIAL), "exec")
        with contextlib.redirect_stdout(said):
            exec(code, names)
    records = [json.loads(line) for line in (folder / "my_lesson/results/swings.jsonl").read_text().splitlines()]
    for number, record in enumerate(records, start=1):
        speed, sd = record["exit_speed_mps"] / 0.44704, record["exit_speed_sd_mps"] / 0.44704
        assert f"swing {number}: {speed:.0f} mph ± {1.645 * sd:.0f}" in said.getvalue()
    assert "no_such_folder" in said.getvalue()
    assert pandas.read_csv(folder / "swings_si.csv")["exit_speed_mps"].tolist() == pytest.approx(
        [record["exit_speed_mps"] for record in records]
    )
    for picture in ("spray.png", "speed_and_launch.png"):
        assert (folder / picture).read_bytes().startswith(b"\x89PNG")


def test_all_code_of_the_tutorial_is_run() -> None:
    """A block fenced in another way would be shown and never run."""
    text = TUTORIAL.read_text(encoding="utf-8")
    assert text.count("```") == 2 * len(BLOCK.findall(text))
