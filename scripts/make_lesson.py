"""Render a lesson with known truth: python scripts/make_lesson.py OUT_DIR --seed 7 --place behind"""

import argparse
import os
import sys
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

from render.lesson import make_lesson, takes_of
from render.scene_spec import BALLS, LIGHTS, PLACES, VEILS, VENUES, draw

WHOLE = ("walkers", "birds", "spare_balls", "catcher", "next_ball", "like_cloth", "net")  # set as 0 or 1, or counts
SAMPLE = Path(__file__).resolve().parents[1] / "sample_clips"


def make_sample(workers: int) -> None:
    """Eight short clips of an invented lesson, one of them a miss; small enough to travel with the package."""
    spec = draw(
        8,
        place="right45",
        lines=1080,
        fps=60.0,
        light="sun",
        sun_azimuth_deg=235.0,
        sun_elevation_deg=48.0,
        exposure_s=1 / 1100,
        readout_s=0.0115,
        hfov_deg=66.0,
        distance_m=5.6,
        camera_height_m=1.45,
        ground="grass",
        ball_kind="softball-12",
        ball_colour="optic",
        bats="right",
        bat_kind="composite",
        fastpitch=False,
        net=False,
        walkers=2,
        birds=1,
        sound="clear",
        wind_mps=(0.4, -0.6),
        codec="h264",
        container="mp4",
        give_readout=True,
        uneven_s=0.0,
        dropped=0.0,
        lead_s=0.55,
        tail_s=0.95,
        bit_share=0.53,
        hand_px=0.0,
        bump_px=0.0,
        exposure_step=0.0,
        cloud=0.0,
        venue="field",
        veil="none",
        catcher=False,
        next_ball=False,
        like_cloth=False,
        mark_sd_px=0.7,
        focal_sd=0.003,
        give_fov=True,
    )
    takes = takes_of(spec, 8, ("tee", "toss", "live"), (6,))
    make_lesson(SAMPLE, spec, takes, workers)


def _numbers(said: str) -> tuple[int, ...]:
    """Clip numbers as people count, from 1, to numbers from 0."""
    return tuple(int(n) - 1 for n in said.split(",") if n)


def main(arguments: list[str] | None = None) -> int:
    """Parse, render."""
    parser = argparse.ArgumentParser(description="Render a lesson: clips, lesson.toml, and the truth beside them.")
    parser.add_argument("folder", type=Path, nargs="?", help="where to write the lesson")
    parser.add_argument("--seed", type=int, default=1, help="every choice follows from it (default 1)")
    parser.add_argument("--place", choices=PLACES, help="where the phone stands")
    parser.add_argument("--fps", type=float, help="frames a second, e.g. 60")
    parser.add_argument("--lines", type=int, choices=(720, 1080, 2160), help="picture height")
    parser.add_argument("--ball", choices=tuple(BALLS), help="kind of ball")
    parser.add_argument("--light", choices=LIGHTS)
    parser.add_argument("--venue", choices=VENUES)
    parser.add_argument("--veil", choices=VEILS, help="what the phone looks through")
    parser.add_argument("--bats", choices=("right", "left"))
    parser.add_argument("--codec", choices=("h264", "hevc", "hevc10"))
    parser.add_argument("--sound", choices=("clear", "windy", "busy", "music", "none"))
    parser.add_argument("--clips", type=int, default=6, help="how many clips (default 6)")
    parser.add_argument("--deliveries", default="tee,toss,live", help="blocks in order (default tee,toss,live)")
    parser.add_argument("--misses", default="", help="clip numbers, from 1, where the bat misses, e.g. 3,5")
    parser.add_argument("--tips", default="", help="clip numbers where the bat grazes the ball")
    parser.add_argument("--checks", default="", help="clip numbers where the batter stops the swing")
    parser.add_argument("--swings", type=int, default=1, help="swings in each clip; 0: nobody swings (default 1)")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument(
        "--set", action="append", default=[], metavar="NAME=NUMBER", help="set any other choice that is a number"
    )
    parser.add_argument("--sample", action="store_true", help="write the sample lesson that comes with the package")
    said = parser.parse_args(arguments)
    if said.sample:
        make_sample(said.workers)
        return 0
    if said.folder is None:
        parser.error("name a folder to write the lesson to")
    names = {"ball": "ball_kind"}
    chosen = {
        names.get(k, k): getattr(said, k)
        for k in ("place", "fps", "lines", "ball", "light", "venue", "veil", "bats", "codec", "sound")
    }
    overrides = {k: v for k, v in chosen.items() if v is not None}
    for pair in said.set:
        name, _, value = pair.partition("=")
        overrides[name] = int(value) if name in WHOLE else float(value)
    try:
        spec = draw(said.seed, **overrides)
        others = dict.fromkeys(_numbers(said.tips), "foul_tip") | dict.fromkeys(_numbers(said.checks), "checked")
        takes = takes_of(
            spec, said.clips, tuple(said.deliveries.split(",")), _numbers(said.misses), said.swings, others
        )
    except ValueError as error:
        parser.error(str(error))
    make_lesson(said.folder, spec, takes, said.workers)
    return 0


if __name__ == "__main__":
    sys.exit(main())
