"""Lessons for the tests of the logbook: made of a seed, handed in without a folder of clips."""

import datetime
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from balltrack.records.logbook.entry import BlockEntry, ClipEntry, LessonEntry
from balltrack.records.swing import Swing
from tests.records.swings import HIT, LOST, MISS

TEE = BlockEntry("01-tee", "Tee, middle", "tee")


def entry(
    folder: Path,
    player: str = "Robin Example",
    clips: Sequence[str] = ("a", "b"),
    swings: Sequence[Swing] = (HIT, MISS),
) -> LessonEntry:
    """A lesson whose clips have these fingerprints."""
    (folder / "results").mkdir(parents=True, exist_ok=True)
    return LessonEntry(
        player=player,
        bats="right",
        ball="softball-12",
        held_on=datetime.date(2026, 5, 30),
        date_source="stated",
        folder=folder,
        clips=tuple(ClipEntry(f"clips/01-tee/{name}.mp4", name) for name in clips),
        blocks=(TEE,),
        swings=tuple(swings),
    )


def full_swing() -> Swing:
    """One with every field of the record set."""
    return replace(
        HIT,
        contact_s=1.25,
        contact_sd_m=(0.01, 0.02, 0.03),
        hang_s=3.5,
        apex_m=9.25,
        tail_m=-1.5,
        tail_sd_m=0.5,
        pitch_speed_mps=20.0,
        frames_used=31,
        residual_px=0.37,
        detector="motion",
        warnings=("few frames", "says “caught”; by the fence"),
        by_hand=("contact",),
        excluded="a bunt",
        exposure_s=0.001,
        ended="fair",
        pitch_speed_sd_mps=0.25,
        pitch_apex_m=2.75,
        pitch_apex_sd_m=0.05,
        pitch_descent_deg=31.5,
        pitch_descent_sd_deg=0.75,
        pitch_plate_m=(-0.125, 0.75),
        pitch_plate_sd_m=(0.0625, 0.03125),
        pitch_frames=13,
        early_s=0.0125,
        early_sd_s=0.005,
        contact_off_pitch_m=(0.03125, -0.015625),
        contact_off_pitch_sd_m=(0.0625, 0.125),
        reason="",
    )


def season(folder: Path, gain_mps: float, swings: int = 15, lessons: int = 3) -> list[LessonEntry]:
    """Lessons a month apart of one player, whose exit speed grows by ``gain_mps`` from each to the next."""
    draws = np.random.default_rng(7)
    entries = []
    for number in range(lessons):
        speeds_mps = 28.0 + gain_mps * number + 1.5 * draws.standard_normal(swings)
        hits = [
            replace(HIT, swing=f"01-tee/{at:03}#1", exit_speed_mps=float(speed), launch_deg=float(launch))
            for at, (speed, launch) in enumerate(zip(speeds_mps, draws.normal(15, 8, swings), strict=True))
        ]
        made = entry(folder / f"lesson-{number}", clips=[f"{number}-{at}" for at in range(swings)], swings=hits)
        entries.append(replace(made, held_on=datetime.date(2026, 3 + number, 1)))
    return entries


__all__ = ["HIT", "LOST", "MISS", "TEE", "entry", "full_swing", "season"]
