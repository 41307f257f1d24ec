"""Render a lesson with known truth: python scripts/make_lesson.py OUT_DIR --seed 7 --place behind"""

import argparse
import os
import sys
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

from render.lesson import make_lesson, takes_of
from render.scene_spec import BALLS, LIGHTS, PLACES, draw


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
    parser.add_argument("--bats", choices=("right", "left"))
    parser.add_argument("--codec", choices=("h264", "hevc", "hevc10"))
    parser.add_argument("--sound", choices=("clear", "windy", "busy", "none"))
    parser.add_argument("--clips", type=int, default=6, help="how many clips (default 6)")
    parser.add_argument("--deliveries", default="tee,toss,live", help="blocks in order (default tee,toss,live)")
    parser.add_argument("--misses", default="", help="clip numbers, from 1, where the bat misses, e.g. 3,5")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--set", action="append", default=[], metavar="NAME=NUMBER", help="set any other choice that is a number")
    said = parser.parse_args(arguments)
    if said.folder is None:
        parser.error("name a folder to write the lesson to")
    names = {"ball": "ball_kind"}
    chosen = {names.get(k, k): getattr(said, k) for k in ("place", "fps", "lines", "ball", "light", "bats", "codec", "sound")}
    overrides = {k: v for k, v in chosen.items() if v is not None}
    for pair in said.set:
        name, _, value = pair.partition("=")
        overrides[name] = int(value) if name in ("walkers", "birds") else float(value)
    try:
        spec = draw(said.seed, **overrides)
        misses = tuple(int(n) - 1 for n in said.misses.split(",") if n)
        takes = takes_of(spec, said.clips, tuple(said.deliveries.split(",")), misses)
    except ValueError as error:
        parser.error(str(error))
    make_lesson(said.folder, spec, takes, said.workers)
    return 0


if __name__ == "__main__":
    sys.exit(main())
