"""The sample lesson as if it had been measured without error: its clips, with tracks written from its truth."""

import csv
import json
import shutil
from dataclasses import dataclass, replace
from pathlib import Path

from balltrack.records.store import TRACK_COLUMNS, track_path
from balltrack.records.swing import to_json
from tests.records.test_store import swing

SAMPLE = Path(__file__).resolve().parents[2] / "sample_clips"
HITS = tuple(f"01-tee/swing-0{n}" for n in (1, 2, 3)) + tuple(f"02-toss/swing-0{n}" for n in (4, 5, 6))
HITS += ("03-live/swing-08",)


@dataclass(frozen=True, slots=True)
class TrueBall:
    """One frame of a flight, from sample_clips/truth."""

    time_s: float  # as a track tells it: timestamp of the frame, and when the ball's row was begun
    u_px: float
    v_px: float
    diameter_px: float

    @property
    def frame_s(self) -> float:
        """The frame's own timestamp."""
        camera = true_camera()
        return self.time_s - camera["readout_s"] * self.v_px / 1080


def true_camera() -> dict[str, float]:
    """truth/camera.json."""
    found: dict[str, float] = json.loads((SAMPLE / "truth" / "camera.json").read_text())
    return found


def true_flight(name: str) -> list[TrueBall]:
    """The batted ball of a sample clip such as 01-tee/swing-01, where nothing hides it."""
    half_s = true_camera()["exposure_s"] / 2  # the truth tells the middle of the exposure
    with (SAMPLE / "truth" / "tracks" / f"{name}.csv").open() as file:
        rows = [row for row in csv.DictReader(file) if row["phase"] == "flight" and float(row["visible"]) > 0.99]
    return [
        TrueBall(float(row["time_s"]) - half_s, float(row["u_px"]), float(row["v_px"]), float(row["diameter_px"]))
        for row in rows
    ]


def measured_lesson(folder: Path, names: tuple[str, ...] = HITS) -> Path:
    """A lesson folder with the named clips and the results that a measurement without error would have written."""
    folder.mkdir(parents=True)
    shutil.copy(SAMPLE / "lesson.toml", folder)
    results = folder / "results"
    lines = ""
    for name in names:
        clip = f"clips/{name}.mp4"
        (folder / clip).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(SAMPLE / clip, folder / clip)
        track = results / track_path(clip)
        track.parent.mkdir(parents=True, exist_ok=True)
        rows = [
            f"{name}#1,{ball.time_s:.6f},{ball.u_px:.3f},{ball.v_px:.3f},{ball.diameter_px:.3f},1,both,"
            for ball in true_flight(name)
        ]
        track.write_text("\n".join([",".join(TRACK_COLUMNS), *rows]) + "\n")
        lines += to_json(replace(swing(clip), contact_s=true_flight(name)[0].time_s)) + "\n"
    (results / "swings.jsonl").write_text(lines)
    (results / "camera.json").write_text(json.dumps({"parameters": {"readout_s": true_camera()["readout_s"]}}))
    return folder
