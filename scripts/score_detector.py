"""How often motion, the network, and both together find the ball in single frames of rendered lessons.

    python scripts/score_detector.py LESSON_DIR ... [--weights FILE] [--one-frame FILE] [--frames N]

LESSON_DIRs are lessons of scripts/make_lesson.py, of seeds that no training saw. Of every hit N frames are drawn in
which the ball flies in the clear, soon after contact. ``motion`` gives every compact region that moves; ``network``
looks at the whole frame; ``both`` is what measuring starts from: what motion offers where a batted ball may be, and the
network agrees to or adds. Nothing links the frames here: a flight makes the false finds fewer still. ``--one-frame``
names weights trained on single frames.
"""

import argparse
import itertools
import json
import os
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import cv2
import numpy as np
from bench.detection import SMALLEST_SOUGHT_PX
from bench.result_file import cores
from bench.truth import TruthSwing, read_truth
from detector.lesson_patches import scene_word
from numpy.typing import NDArray

from balltrack.contact import Cue
from balltrack.detect.background import median_background
from balltrack.detect.motion import Movers
from balltrack.detect.network import Network, load_network
from balltrack.detect.triple import Triple, triples
from balltrack.errors import MeasureError
from balltrack.lesson import load_lesson
from balltrack.setup import prepare
from balltrack.track.search import (
    EMPTY_FIELD_FRAMES,
    EMPTY_FIELD_S,
    LOOK_S,
    Lookout,
    confirmed,
    contact_prior,
    size_limits,
)
from balltrack.video.clip import probe
from balltrack.video.frames import read_frames

WAYS = ("motion", "network", "network, one frame", "both")
NEAR_PX, NEAR_SHARE = 2.0, 0.5  # of the ball and its streak: a find as near as that leads to the ball
SIZES_PX = (4.0, 8.0, 12.0, 20.0, 1000.0)
FLIGHT_S = LOOK_S[1]  # from contact: later frames are left to the flight
HEARD_SD_S, CLEAR = 0.005, 30.0  # contact is taken as heard clearly


@dataclass(frozen=True, slots=True)
class Weights:
    """What looks."""

    three: Path | None
    one: Path | None


@dataclass(frozen=True, slots=True)
class Look:
    """One way's finds in one frame."""

    way: str
    scene: str
    diameter_px: float
    blur: float  # streak over diameter
    found: bool
    finds: int
    off_px: float  # of the nearest find


def looks_of(folder: Path, weights: Weights, frames: int) -> list[Look]:
    """All ways, in frames drawn from every hit of a lesson."""
    cv2.setNumThreads(1)
    three, one = load_network(weights.three), load_network(weights.one) if weights.one else None
    setup = prepare(load_lesson(folder))
    out: list[Look] = []
    for number, swing in enumerate(read_truth(folder)):
        clear = np.flatnonzero(swing.rows.clear_flight & (swing.rows.diameter_px >= SMALLEST_SOUGHT_PX))
        clear = clear[swing.rows.time_s[clear] - swing.contact_s < FLIGHT_S]
        if not swing.hit or not len(clear):
            continue
        rows = np.random.default_rng([7, number]).permutation(clear)[:frames]
        info = probe(folder / swing.clip)
        start_s, stop_s = (swing.contact_s + since for since in EMPTY_FIELD_S)
        seen = list(read_frames(folder / swing.clip, start_s, stop_s, info=info))
        empty = median_background(seen[:: max(len(seen) // EMPTY_FIELD_FRAMES, 1)])
        prior = contact_prior(Cue(swing.contact_s, HEARD_SD_S, True, CLEAR, CLEAR), None)
        limits = size_limits(setup.view, 1 / (info.nominal_fps or 30.0))
        near = [frame for frame in seen if frame.time_s < swing.contact_s + 2 * FLIGHT_S]
        lookout = Lookout(Movers(empty, limits), setup.view, prior, three)
        scene = scene_word(_scene_of(folder))
        for triple, row in _drawn(triples(near), swing, rows):
            moving = lookout.movers.of(triple.now)
            joint = confirmed(moving, triple, lookout)
            found = {
                "motion": moving.centre_px,
                "network": _whole(three, triple),
                "both": joint.centre_px[np.nan_to_num(joint.likeness) > 0],
            }
            if one is not None:
                found["network, one frame"] = _whole(one, Triple(triple.now, triple.now, triple.now))
            out += [_look(way, scene, centres, swing, row) for way, centres in found.items()]
    return out


def _scene_of(folder: Path) -> dict[str, object]:
    return dict(json.loads((folder / "truth" / "camera.json").read_text())["scene"])


def _drawn(stream: Iterator[Triple], swing: TruthSwing, rows: NDArray[np.intp]) -> Iterator[tuple[Triple, int]]:
    for triple in stream:
        off = np.abs(swing.rows.pts_s[rows] - triple.now.time_s)
        if off.min() < 0.001:
            yield triple, int(rows[off.argmin()])


def _whole(network: Network, triple: Triple) -> NDArray[np.float64]:
    return network.find(triple.before.luma, triple.now.luma, triple.after.luma).centre_px


def _look(way: str, scene: str, centres: NDArray[np.float64], swing: TruthSwing, row: int) -> Look:
    size, streak = float(swing.rows.diameter_px[row]), float(swing.rows.streak_px[row])
    off = np.linalg.norm(centres - swing.rows.centre_px[row], axis=1)
    nearest = float(off.min(initial=np.inf))
    return Look(
        way, scene, size, streak / size, nearest < NEAR_PX + NEAR_SHARE * (size + streak), len(centres), nearest
    )


def row_of(title: str, looks: list[Look]) -> str:
    """A line of the table: frames, and for each way recall, precision and other finds a frame."""
    cells = []
    for way in WAYS:
        mine = [look for look in looks if look.way == way]
        if not mine:
            cells.append("–")
            continue
        right, finds = sum(look.found for look in mine), sum(look.finds for look in mine)
        cells.append(
            f"{right / len(mine):.3f} / {right / max(finds, right, 1):.3f} / {(finds - right) / len(mine):.2f}"
        )
    return f"| {title} | {sum(look.way == WAYS[0] for look in looks)} | {' | '.join(cells)} |"


def table(looks: list[Look]) -> str:
    """Markdown."""
    lines = [f"| | frames | {' | '.join(WAYS)} |", "|---|---:|" + "---|" * len(WAYS), row_of("all", looks)]
    for low, high in itertools.pairwise(SIZES_PX):
        title = f"ball of {low:g} to {high:g} px" if high < SIZES_PX[-1] else f"ball of {low:g} px and more"
        lines.append(row_of(title, [look for look in looks if low <= look.diameter_px < high]))
    lines.append(row_of("streak over half a diameter", [look for look in looks if look.blur >= 0.5]))
    lines += [
        row_of(scene, [look for look in looks if look.scene == scene])
        for scene in sorted({each.scene for each in looks})
    ]
    return "\n".join(lines) + "\n"


def main(arguments: list[str] | None = None) -> int:
    """Look, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("lessons", type=Path, nargs="+", metavar="LESSON_DIR")
    parser.add_argument("--weights", type=Path, metavar="FILE", help="default: the package's own")
    parser.add_argument("--one-frame", type=Path, metavar="FILE", help="weights trained on single frames")
    parser.add_argument("--frames", type=int, default=4, metavar="N", help="of every hit (default 4)")
    parser.add_argument("--workers", type=int, default=cores())
    said = parser.parse_args(arguments)
    work = partial(looks_of, weights=Weights(said.weights, said.one_frame), frames=said.frames)
    with ProcessPoolExecutor(said.workers, mp_context=get_context("spawn")) as pool:
        looks = [look for part in pool.map(work, said.lessons) for look in part]
    print("recall / precision / false finds a frame\n")
    print(table(looks), end="")
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except MeasureError as error:
        sys.exit(str(error))
