"""A lesson in whose one clip no swing is told, though it shows a hit: batter and plate are covered, without sound."""

import csv
import json
import shutil
from pathlib import Path
from typing import Any

from balltrack.batch import Wish, measure_as
from balltrack.contact import zone_box_px
from balltrack.lesson import load_lesson
from balltrack.records.hand import HandRow
from balltrack.setup import prepare
from tests.here import Here
from tests.video.encode import ffmpeg

SAMPLE = Path(__file__).parents[1] / "sample_clips"
CLIP, SWING = "clips/01-tee/covered.mp4", "01-tee/covered#1"


def measure_without_a_swing(folder: Path) -> None:
    """Make a lesson of the sample's third clip, covered, and measure it by motion."""
    (folder / CLIP).parent.mkdir(parents=True)
    shutil.copy(SAMPLE / "lesson.toml", folder)
    whole = SAMPLE / "clips" / "01-tee" / "swing-03.mp4"
    shutil.copy(whole, folder / CLIP)
    left, top, right, bottom = zone_box_px(prepare(load_lesson(folder)).solved.camera)
    cover = f"drawbox=x={left}:y={top}:w={right - left}:h={bottom - top}:color=gray:t=fill"
    codec = ("-c:v", "libx264", "-preset", "veryfast", "-crf", "18")
    ffmpeg("-i", whole, "-an", "-vf", cover, *codec, folder / CLIP)
    measure_as(folder, Wish(run=Here().run))


def truth() -> dict[str, Any]:
    """What the renderer says of the hit."""
    lines = [json.loads(line) for line in (SAMPLE / "truth" / "swings.jsonl").read_text().splitlines()]
    (found,) = [line for line in lines if line["clip"] == "01-tee/swing-03.mp4"]
    return dict(found)


def true_rows(after_s: float, count: int, every: int = 3) -> tuple[HandRow, ...]:
    """The ball in every third frame from a clip time on, to the whole pixel, as a person would set it."""
    camera = json.loads((SAMPLE / "truth" / "camera.json").read_text())
    with (SAMPLE / "truth" / "tracks" / "01-tee" / "swing-03.csv").open() as file:
        rows = [row for row in csv.DictReader(file) if row["phase"] == "flight" and float(row["time_s"]) > after_s]
    found = []
    for row in rows[: every * count : every]:
        u, v, width = (float(row[name]) for name in ("u_px", "v_px", "diameter_px"))
        # The row of the middle of the ball is read so long after the frame's time, and half an exposure is its middle.
        late_s = camera["exposure_s"] / 2 + camera["readout_s"] * v / camera["size_px"][1]
        centre = float(round(u)), float(round(v))
        found.append(HandRow(0, round(float(row["time_s"]) - late_s, 6), centre, float(round(width))))
    return tuple(found)
