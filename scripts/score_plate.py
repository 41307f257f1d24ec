"""How well plate and boxes are found in rendered lessons: the marks' errors, and those of the camera solved from them.

    python scripts/score_plate.py LESSON_DIR... [--pictures DIR]

Every lesson needs its truth/ folder. The still is the median of frames of the first clip, with the batter in it.
"""

import argparse
import time
import zlib
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from bench.truth import read_camera

from balltrack.camera.marks import LensPrior, Mark
from balltrack.camera.model import Camera, project_parameters, rays_field, rotation_matrices
from balltrack.camera.plate_finder import Proposal, propose_marks
from balltrack.camera.solve import solve
from balltrack.camera.still import Still
from balltrack.errors import MeasureError
from balltrack.field import named_points
from balltrack.lesson.load import load_lesson
from balltrack.units import Floats
from balltrack.video.clip import probe
from balltrack.video.frames import read_frames

STILL_FRAMES, STILL_S = 9, 1.4
# What the camera is solved with, besides the proposed marks: the lesson's lens as a person states it (wrong by its own
# error, often 1 % and more), none, the true focal length known to 0.3 %, and a lens as `balltrack lens` gives it, with
# the errors that it states: focal length, distortion and the optical axis, which no mark on the ground tells.
WAYS = ("stated lens", "no lens", "lens known", "board's lens")
BOARD_FOCAL_SHARE, BOARD_K1_SD, BOARD_CENTRE_SHARE = 0.003, 0.002, 0.0015
AHEAD_M = np.array([[0.0, 1.0, 1.0], [1.0, 10.0, 3.0]])  # where balls fly: the sight lines that matter
TARGET_CM, TARGET_DEG, TARGET_PCT = 2.0, 0.2, 1.0


@dataclass(frozen=True, slots=True, eq=False)
class PoseError:
    """A solved camera against the true one."""

    place_cm: float
    turn_deg: float
    focal_pct: float
    sight_deg: float  # how far off the sight lines to where balls fly are: a turn may offset a shifted optical axis
    in_sds: Floats  # (4,) errors of place and focal length in stated standard deviations

    @property
    def words(self) -> str:
        """In a line: place, turn, focal length, sight lines."""
        return f"{self.place_cm:.1f} cm {self.turn_deg:.2f} deg {self.focal_pct:+.2f} % sight {self.sight_deg:.2f} deg"

    @property
    def good(self) -> bool:
        """Within the target."""
        return self.place_cm <= TARGET_CM and self.turn_deg <= TARGET_DEG and abs(self.focal_pct) <= TARGET_PCT


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """One lesson's score."""

    errors_px: Floats  # (n,) of the marks
    shaken_px: Floats  # (n,) what remains of them once their common shift is taken off: the phone sways
    in_sds: Floats  # (n,) the former in stated standard deviations of two coordinates
    poses: tuple[PoseError | None, ...]  # in the order of WAYS


def main() -> None:
    """Score every lesson given, then all together."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("lessons", nargs="+", type=Path)
    parser.add_argument("--pictures", type=Path, help="folder for stills with the marks drawn over")
    asked = parser.parse_args()
    rows = [_score(folder, asked.pictures) for folder in asked.lessons]
    found = [row for row in rows if len(row.errors_px)]
    boxed = [row for row in found if len(row.errors_px) > 5]
    print(f"\n{len(rows)} lessons: marks in {len(found)}, with box corners in {len(boxed)}")
    if not boxed:
        return
    for name, errors in (("as they are", "errors_px"), ("without their common shift", "shaken_px")):
        every = np.concatenate([getattr(row, errors) for row in boxed])
        print(
            f"mark errors {name}: median {np.median(every):.2f} px, 90 of 100 under {np.percentile(every, 90):.2f} px, "
            f"largest {np.max(every):.2f} px"
        )
    # Two coordinates of equal sd: 90 of 100 lie within sqrt(2 ln 10) = 2.146 of them.
    scaled = np.concatenate([row.in_sds for row in boxed])
    print(f"share of marks within 2.146 stated sd (0.90 if honest): {np.mean(scaled < 2.146):.2f}")
    for way, name in enumerate(WAYS):
        poses = [pose for row in boxed if (pose := row.poses[way]) is not None]
        table = np.abs([(pose.place_cm, pose.turn_deg, pose.focal_pct) for pose in poses])
        medians = " ".join(f"{value:.2f}" for value in np.median(table, axis=0))
        sight_deg = np.median([pose.sight_deg for pose in poses])
        within = np.mean([np.abs(pose.in_sds) < 1.645 for pose in poses])
        alone = " ".join(str(count) for count in (table <= [TARGET_CM, TARGET_DEG, TARGET_PCT]).sum(axis=0))
        print(
            f"{name}: {sum(pose.good for pose in poses)} of {len(boxed)} within {TARGET_CM} cm, {TARGET_DEG} deg and "
            f"{TARGET_PCT} % (each alone: {alone}); medians {medians}; sight lines {sight_deg:.2f} deg; "
            f"within 1.645 stated sd (0.90 if honest): {within:.2f}"
        )


def _score(folder: Path, pictures: Path | None) -> Row:
    lesson, truth = load_lesson(folder), read_camera(folder).parameters
    still = read_still(lesson.clips[0].path)
    lens = lesson.lens.prior(still.size_px[0])
    start = time.perf_counter()
    proposal = propose_marks(still, lesson.ball.kind, lens)
    took_s = time.perf_counter() - start
    places = named_points(lesson.ball.kind, 20.0)
    points = np.array([places[mark.name] for mark in proposal.marks]).reshape(-1, 3)
    pixels = np.array([mark.pixel_px for mark in proposal.marks]).reshape(-1, 2)
    sds = np.array([mark.sd_px for mark in proposal.marks])
    true_pixels = project_parameters(points, truth)
    off = pixels - true_pixels
    shaken = np.hypot(*(off - np.median(off, axis=0)).T) if len(off) else np.zeros(0)
    known = LensPrior(float(truth[6]), BOARD_FOCAL_SHARE * float(truth[6]))
    lenses = (lens, None, known, _board_lens(truth, still.size_px[0], folder.name))
    poses = tuple(_pose(proposal, places, still.size_px, each, truth) for each in lenses)
    if pictures is not None:
        _draw(still, pixels, true_pixels, pictures / f"{folder.name}.png")
    errors = np.hypot(*off.T)
    line = f"{folder.name}: {len(errors)} marks"
    if len(errors):
        line += f", error median {np.median(errors):.2f} max {np.max(errors):.2f} px"
        line += f", less shift {np.median(shaken):.2f} {np.max(shaken):.2f}"
    for name, pose in zip(WAYS, poses, strict=True):
        line += f"; {name} {pose.words if pose else 'no camera'}"
    print(f"{line}; {took_s:.1f} s", flush=True)
    if not len(errors):
        print(f"    {proposal.words}")
    return Row(errors, shaken, shaken / sds, poses)


def read_still(path: Path) -> Still:
    """Median over time of some frames of a clip's start."""
    info = probe(path)
    frames = list(read_frames(path, 0.0, STILL_S, info=info))
    chosen = [frames[i] for i in np.unique(np.linspace(0, len(frames) - 1, STILL_FRAMES).astype(int))]
    planes = ([frame.luma for frame in chosen], [frame.cb for frame in chosen], [frame.cr for frame in chosen])
    return Still(*(np.median(np.stack(plane), axis=0).astype(np.uint8) for plane in planes))


def _pose(
    proposal: Proposal,
    places: dict[str, tuple[float, float, float]],
    size_px: tuple[int, int],
    lens: LensPrior | None,
    truth: Floats,
) -> PoseError | None:
    marks = [Mark(mark.name, places[mark.name], mark.pixel_px, mark.sd_px) for mark in proposal.marks]
    try:
        camera = solve(marks, size_px, lens).camera
    except MeasureError:
        return None
    turn = camera.field_to_camera @ rotation_matrices(truth[:3]).T
    angle = np.degrees(np.arccos(np.clip((np.trace(turn) - 1) / 2, -1, 1)))
    place_cm = 100 * float(np.linalg.norm(camera.position_field_m - truth[3:6]))
    seen = project_parameters(AHEAD_M, truth)
    rays = rays_field(seen, camera), rays_field(seen, Camera(truth, camera.covariance, size_px))
    apart = np.degrees(np.arccos(np.clip(np.sum(rays[0] * rays[1], axis=1), -1, 1)))
    off = (camera.parameters - truth)[3:7] / np.sqrt(np.diag(camera.covariance))[3:7]
    focal_pct = 100 * (camera.focal_px / float(truth[6]) - 1)
    return PoseError(place_cm, float(angle), focal_pct, float(np.max(apart)), off)


def _board_lens(truth: Floats, width_px: int, name: str) -> LensPrior:
    """The true lens with errors as large as a board leaves them, drawn by the lesson's name."""
    draws = np.random.default_rng(zlib.crc32(name.encode())).normal(size=4)
    focal_sd, centre_sd = BOARD_FOCAL_SHARE * float(truth[6]), BOARD_CENTRE_SHARE * width_px
    centre = truth[8:10] + centre_sd * draws[2:]
    k1 = float(truth[7] + BOARD_K1_SD * draws[1])
    focal = float(truth[6] + focal_sd * draws[0])
    return LensPrior(focal, focal_sd, k1, BOARD_K1_SD, centre_sd, (float(centre[0]), float(centre[1])))


def _draw(still: Still, pixels: Floats, true_pixels: Floats, path: Path) -> None:
    """Marks in red, the truth in green."""
    planes = (still.luma.ravel(), still.cb.ravel(), still.cr.ravel())
    height, width = still.luma.shape
    picture = cv2.cvtColor(np.concatenate(planes).reshape(height * 3 // 2, width), cv2.COLOR_YUV2BGR_I420)
    for places, colour in ((true_pixels, (0, 255, 0)), (pixels, (0, 0, 255))):
        for u, v in places:
            cv2.drawMarker(picture, (round(u), round(v)), colour, cv2.MARKER_CROSS, 11, 1)
    path.parent.mkdir(parents=True, exist_ok=True)
    cv2.imwrite(str(path), picture)


if __name__ == "__main__":
    main()
