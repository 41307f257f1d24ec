"""Render two short clips, a pitch let go and one that the bat only touches: see tests/pitched_files/README.md."""

import json
import os
import sys
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
from render.cast import Cast
from render.film import Studio
from render.lesson import Take, still_scene, write_camera, write_lesson_toml
from render.play import PLATE_M, Play, plan
from render.scene_spec import SceneSpec, draw
from render.standing import camera_of

FOLDER = Path(__file__).resolve().parents[1] / "tests" / "pitched_files"
NEVER_S = 1e3
TAKEN, TIPPED = Take(0, "live", "live", "take.mp4", "miss"), Take(5, "live", "live", "tip.mp4", "foul_tip")


def spec_of() -> SceneSpec:
    """Slow-pitch filmed in 720 lines from the side of first base; little else moves, to keep the files small."""
    return draw(
        31, place="right45", lines=720, fps=60.0, light="sun", exposure_s=1 / 1100, readout_s=0.0115, hfov_deg=66.0,
        distance_m=5.6, camera_height_m=1.45, ground="grass", ball_kind="softball-12", ball_colour="optic",
        bats="right", bat_kind="composite", fastpitch=False, net=False, walkers=0, birds=0, sound="clear",
        wind_mps=(0.4, -0.6), codec="h264", container="mp4", give_readout=True, uneven_s=0.0, dropped=0.0, lead_s=1.1,
        tail_s=0.6, bit_share=0.25, hand_px=0.0, bump_px=0.0, exposure_step=0.0, cloud=0.0, venue="field", veil="none",
        catcher=False, next_ball=False, like_cloth=False, mark_sd_px=0.7, focal_sd=0.003, give_fov=True,
    )  # fmt: skip


def play_of(spec: SceneSpec, take: Take) -> Play:
    """The play; where the batter lets the pitch go, it flies as past a miss, and nobody swings."""
    play = plan(spec, take.delivery, take.index, take.outcome)
    if take is not TAKEN:
        return play
    return replace(play, contact_s=NEVER_S, swing=replace(play.swing, contact_s=NEVER_S))


def truth_of(play: Play) -> dict[str, object]:
    """How the pitch truly flew while it was filmed; the highest point is that of its whole flight."""
    stops_s = play.pieces[1].start_s
    times = np.linspace(0.0, play.length_s, 20001)
    places, over = play.ball(times), int(np.argmax(play.ball(times)[:, 1] < PLATE_M))
    speeds = np.linalg.norm(np.diff(places, axis=0), axis=1) / np.diff(times)
    flying = play.ball(np.linspace(play.release_s, stops_s - 1e-3, 20001))
    return {
        "release_s": play.release_s,
        "speed_at_0_s_mps": float(speeds[0]),
        "speed_at_end_mps": float(speeds[np.searchsorted(times, stops_s) - 2]),
        "apex_m": float(flying[:, 2].max()),
        "met_or_passed_s": stops_s,
        "plate_s": float(times[over]),
        "plate_m": [float(places[over, 0]), float(places[over, 2])],
    }


def main() -> int:
    """Render both."""
    spec = spec_of()
    optics, takes = camera_of(spec), [TAKEN, TIPPED]
    (FOLDER / "clips" / "live").mkdir(parents=True, exist_ok=True)
    (FOLDER / "truth").mkdir(exist_ok=True)
    write_lesson_toml(FOLDER, spec, optics, takes)
    write_camera(FOLDER, spec, optics, takes)
    studio, cast = Studio(spec, optics, still_scene(spec, optics, ("live",))), Cast(spec)
    truth = {take.name: truth_of(play_of(spec, take)) for take in takes}
    (FOLDER / "truth" / "pitches.json").write_text(json.dumps(truth, indent=1) + "\n")
    for take in takes:
        studio.film([play_of(spec, take)], cast, take.index, FOLDER / "clips" / take.block / take.name)
    return 0


if __name__ == "__main__":
    sys.exit(main())
