"""People and things as items to lay over the frame: limbs projected, and blurred where they are fast."""

from dataclasses import dataclass

import numpy as np

from .arrays import Floats, Image
from .brush import Limb, Patch, average, lay, limb_patch
from .cast import Actor, LimbsAt
from .optics import Optics, depths, project, row_time
from .scene_spec import SceneSpec
from .sun import Sun
from .textures import tile

BLUR_STEP_PX = 2.5  # between a fast limb's samples
MOST_SAMPLES = 24


@dataclass(frozen=True, slots=True, eq=False)
class Item:
    """Something to lay over the frame, at a distance."""

    depth_m: float
    patch: Patch
    ball: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class LimbPaint:
    """What limbs need of the scene in one frame."""

    optics: Optics
    light: tuple[Floats, Floats, Floats]  # sun's direction in camera axes, direct, ambient
    cloth: Image


def limb_paint_of(spec: SceneSpec, optics: Optics, sun: Sun) -> LimbPaint:
    """How a lesson's limbs look."""
    return LimbPaint(optics, (optics.rotation @ sun.toward, sun.direct, sun.ambient), tile(spec.seed + 8, 1.6))


def lay_limbs(light: Image, limbs: list[Limb], paint: LimbPaint) -> None:
    """Lay still things into a picture in linear light, far ones first."""
    for item in sorted(paint_limbs(limbs, paint), key=lambda item: -item.depth_m):
        lay(light, item.patch)


def paint_actor(actor: Actor, pts_s: float, paint: LimbPaint) -> list[Item]:
    """An actor's limbs in the frame at ``pts_s``."""
    optics = paint.optics
    if actor.fast:
        return _blurred(actor.limbs, pts_s, paint)
    height = optics.size_px[1]
    rough = project(actor.centre_m(pts_s)[None], optics)[0]
    row = float(np.clip(np.nan_to_num(rough[1], nan=height / 2), 0, height))
    moment = float(row_time(pts_s, np.array([row]), 0.5, optics)[0])
    return paint_limbs(actor.limbs(moment), paint)


def paint_limbs(limbs: list[Limb], paint: LimbPaint) -> list[Item]:
    """Those limbs that are in the picture."""
    optics = paint.optics
    points = np.array([point for limb in limbs for point in (limb.start_m, limb.end_m)])
    pixels, far = project(points, optics).reshape(-1, 2, 2), depths(points, optics).reshape(-1, 2)
    items = (_item(limb, pixels[k], far[k], paint) for k, limb in enumerate(limbs))
    return [item for item in items if item is not None]


def _item(limb: Limb, pixels: Floats, far: Floats, paint: LimbPaint) -> Item | None:
    if far.min() < 0.3:
        return None
    facing = float(np.dot(limb.thin_axis, paint.optics.rotation[0]))
    side_on = np.sqrt(1.0 - (1.0 - limb.thin**2) * facing**2)
    radii = paint.optics.focal_px * side_on * np.array([limb.start_radius_m, limb.end_radius_m]) / far
    patch = limb_patch(pixels, (float(radii[0]), float(radii[1])), limb, paint.light, paint.cloth, paint.optics.size_px)
    return None if patch is None else Item(float(far.mean()), patch)


def _blurred(limbs_at: LimbsAt, pts_s: float, paint: LimbPaint) -> list[Item]:
    """A fast thing: each limb averaged over the exposure, each end at its own row's time."""
    optics = paint.optics
    still = limbs_at(pts_s + 0.5 * optics.readout_s)
    moved = limbs_at(pts_s + 0.5 * optics.readout_s + optics.exposure_s)
    ends = project(np.array([limb.end_m for limb in still]), optics)
    later = project(np.array([limb.end_m for limb in moved]), optics)
    travel = np.nan_to_num(np.hypot(*(later - ends).T), nan=0.0).max()
    count = int(np.clip(np.ceil(travel / BLUR_STEP_PX), 1, MOST_SAMPLES))
    samples: list[list[Patch]] = [[] for _ in still]
    far = depths(0.5 * np.array([limb.start_m + limb.end_m for limb in still]), optics)
    for share in (np.arange(count) + 0.5) / count:
        for index, limb in enumerate(_rolled(limbs_at, pts_s, float(share), ends, optics)):
            samples[index] += [item.patch for item in paint_limbs([limb], paint)]
    out = []
    for index, patches in enumerate(samples):
        merged = average(patches)
        if merged is not None:
            scale = np.float32(len(patches) / count)
            out.append(Item(float(far[index]), Patch(merged.window, merged.colour * scale, merged.cover * scale)))
    return out


def _rolled(limbs_at: LimbsAt, pts_s: float, share: float, ends: Floats, optics: Optics) -> list[Limb]:
    """The limbs with each end where it is when its own row is exposed."""
    rows = np.clip(np.nan_to_num(ends[:, 1]), 0, optics.size_px[1])
    times = row_time(pts_s, np.concatenate([rows[:1], rows]), share, optics)
    poses = [limbs_at(float(time)) for time in times]
    out = []
    for index in range(len(rows)):
        a, b = poses[index][index], poses[index + 1][index]
        out.append(Limb(a.start_m, b.end_m, a.start_radius_m, a.end_radius_m, a.colour, a.texture, a.gloss, a.seed))
    return out
