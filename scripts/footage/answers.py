"""What the public commands answer to files that nobody made for them: a lesson is made around each, then measured."""

import json
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from balltrack.errors import MeasureError
from balltrack.video.clip import probe

COMMAND = Path(sys.executable).with_name("balltrack")
STILLS = (".jpg", ".png")
SOUNDS = (".wav",)
# A level pinhole 6 m behind the plate's tip and 1.5 m up looks along y; what it would see of the field is marked.
BEHIND_M, UP_M, FOCAL_SHARE = 6.0, 1.5, 0.8
POINTS_M = ((-1.5, 0.0), (1.5, 0.0), (-1.5, 4.0), (1.5, 4.0), (0.0, 2.0), (-2.0, 8.0), (2.0, 8.0))
LONGEST_S = 600


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of one file."""

    name: str
    status: int
    outcomes: tuple[str, ...]  # of the swings
    words: str  # the line that says why there are no numbers, or the note on the clip
    said: str  # all of it


def lesson_around(file: Path, folder: Path) -> None:
    """A lesson in an empty folder whose one clip is the file, its marks made for the file's own size of picture."""
    clips = folder / "clips" / "01-tee"
    clips.mkdir(parents=True)
    shutil.copy(file, clips)
    try:
        width, height = probe(file).size_px
    except MeasureError:
        width, height = 1280, 720
    (folder / "lesson.toml").write_text(_toml(width, height), encoding="utf-8")


def _toml(width: int, height: int) -> str:
    focal = FOCAL_SHARE * min(width, height)
    lens_deg = float(np.degrees(2 * np.arctan(0.5 * width / focal)))
    lines = ['[player]\nname = "Robin Example"\nbats = "right"', '[ball]\nkind = "softball-12"']
    lines.append(f"[field]\nbase_path_ft = 65\n[camera]\nhorizontal_fov_deg = {lens_deg:.2f}")
    for x, y in POINTS_M:
        u, v = (width - 1) / 2 + focal * x / (y + BEHIND_M), (height - 1) / 2 + focal * UP_M / (y + BEHIND_M)
        lines.append(f"[[camera.marks]]\nat_m = [{x}, {y}, 0.0]\npixel = [{u:.1f}, {v:.1f}]")
    lines.append('[blocks."01-tee"]\ndelivery = "tee"\n')
    return "\n".join(lines)


def answer_to(file: Path, folder: Path) -> Answer:
    """Make the lesson in an empty folder, and measure it by the command that a coach would type."""
    lesson_around(file, folder)
    done = subprocess.run(
        [str(COMMAND), "measure", str(folder)], capture_output=True, text=True, timeout=LONGEST_S, check=False
    )
    records = folder / "results" / "swings.jsonl"
    swings = [json.loads(line) for line in records.read_text().splitlines()] if records.is_file() else []
    said = done.stdout + done.stderr
    about = [line.strip() for line in said.splitlines() if file.name in line and "not_measured" not in line]
    reasons = [swing["reason"] for swing in swings if swing["reason"]]
    words = (reasons or about or said.strip().splitlines() or [""])[0]
    outcomes = tuple(swing["outcome"] for swing in swings)
    return Answer(file.name, done.returncode, outcomes, words, said)
