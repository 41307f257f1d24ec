"""Patches of a rendered lesson: its balls in flight, and what moves there besides."""

import json
from pathlib import Path

import numpy as np
from bench.truth import TruthRows, read_rows
from numpy.typing import NDArray

from balltrack.detect.network import neighbours
from balltrack.detect.triple import SIDE_PX, corner_around, part_of
from balltrack.training.cut import where_much_changes
from balltrack.training.example import streak_box
from balltrack.video.frames import read_frames
from detector.composite import LEAST_MOVE_PX, LEAST_VISIBLE, MOST_CUT, told_apart
from detector.patch import Patch
from detector.stills import Bytes

FLYING = ("flight", "pitch", "bounce", "tip")
SHOWN_A_CLIP, EMPTY_A_CLIP = 40, 30
HARDLY_VISIBLE = 0.05
SMALLEST_PX = 3.0


def lesson_patches(folder: Path, seed: int) -> list[Patch]:
    """Patches of every clip of a lesson of scripts/render."""
    camera = json.loads((folder / "truth" / "camera.json").read_text())
    scene = scene_word(camera["scene"])
    out = []
    for number, track in enumerate(sorted((folder / "truth" / "tracks").rglob("*.csv"))):
        name = track.relative_to(folder / "truth" / "tracks").with_suffix("")
        clip = next((folder / "clips").glob(f"{name}.*"))
        out += _clip_patches(clip, read_rows(track, camera), scene, np.random.default_rng([seed, number]))
    return out


def scene_word(scene: dict[str, object]) -> str:
    """What makes a rendered scene hard for a detector, in a word."""
    if scene["venue"] != "field":
        return str(scene["venue"])
    if scene["veil"] != "none":
        return "behind threads"
    return "dusk" if scene["light"] == "dusk" else "field"


def _clip_patches(clip: Path, truth: TruthRows, scene: str, rng: np.random.Generator) -> list[Patch]:
    frames = [(frame.time_s, frame.luma.copy()) for frame in read_frames(clip)]
    times = np.array([time for time, _ in frames])
    planes = [plane for _, plane in frames]
    if len(planes) < 3:
        return []
    row_of = {int(np.argmin(np.abs(times - pts))): row for row, pts in enumerate(truth.pts_s)}
    shown = [k for k in row_of if _is_shown(truth, row_of[k])]
    rng.shuffle(shown)
    out = []
    for k in shown[:SHOWN_A_CLIP]:
        patch = _with_ball(planes, times, k, truth, row_of[k], scene, rng)
        out += [] if patch is None else [patch]
    for k in rng.permutation(len(planes))[:EMPTY_A_CLIP].tolist():
        patch = _without_ball(planes, times, k, truth, row_of.get(k), scene, rng)
        out += [] if patch is None else [patch]
    return out


def run_px(truth: TruthRows, row: int) -> np.ndarray:
    """(2,) the ball's motion while the shutter was open."""
    low, high = max(row - 1, 0), min(row + 1, len(truth.pts_s) - 1)
    way = truth.centre_px[high] - truth.centre_px[low]
    return np.asarray(way / max(float(np.hypot(*way)), 1e-9) * truth.streak_px[row])


def _is_shown(truth: TruthRows, row: int) -> bool:
    size = float(truth.diameter_px[row])
    flies = truth.phase[row] in FLYING and truth.visible[row] > LEAST_VISIBLE and size > SMALLEST_PX
    low, high = max(row - 1, 0), min(row + 1, len(truth.pts_s) - 1)
    moves = np.hypot(*(truth.centre_px[high] - truth.centre_px[low])) > 2 * LEAST_MOVE_PX
    return bool(flies and moves and told_apart(float(truth.contrast[row]), size))


def _stack(planes: list[Bytes], times: np.ndarray, k: int, corner: NDArray[np.intp]) -> Bytes:
    before, after = neighbours(times, k)
    return part_of((planes[before], planes[k], planes[after]), corner)


def _with_ball(
    planes: list[Bytes], times: np.ndarray, k: int, truth: TruthRows, row: int, scene: str, rng: np.random.Generator
) -> Patch | None:
    corner = corner_around(truth.centre_px[row] + rng.uniform(-0.42, 0.42, 2) * SIDE_PX, planes[0].shape)
    box = streak_box(truth.centre_px[row] - corner, float(truth.diameter_px[row]), run_px(truth, row))
    inside = np.clip(box, 0, SIDE_PX)
    left = np.prod(np.maximum(inside[2:] - inside[:2], 0))
    if left < (1 - MOST_CUT) * np.prod(box[2:] - box[:2]):
        return None
    frames = _stack(planes, times, k, corner)
    size, streak = float(truth.diameter_px[row]), float(truth.streak_px[row])
    return Patch(frames, inside[None], size, streak, float(truth.contrast[row]), scene)


def _without_ball(
    planes: list[Bytes], times: np.ndarray, k: int, truth: TruthRows, row: int | None, scene: str,
    rng: np.random.Generator,
) -> Patch | None:  # fmt: skip
    """A patch where much else moves, or anywhere; a ball at rest may stand in it."""
    height, width = planes[0].shape
    before, _ = neighbours(times, k)
    centre = rng.uniform(0, 1, 2) * [width, height]
    if rng.random() < 0.75:
        centre = where_much_changes(planes[k], planes[before], rng)
    corner = corner_around(centre, (height, width))
    if row is not None and truth.phase[row] != "rest" and truth.visible[row] > HARDLY_VISIBLE:
        box = streak_box(truth.centre_px[row] - corner, float(truth.diameter_px[row]), run_px(truth, row))
        if (box[2:] > 0).all() and (box[:2] < SIDE_PX).all():
            return None
    return Patch(_stack(planes, times, k, corner), np.zeros((0, 4)), 0.0, 0.0, 0.0, scene)
