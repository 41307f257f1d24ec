"""Netting: how much of the light a mesh of twine or wire takes, and the cage that hangs round the plate."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from .arrays import Floats, Image
from .scene_spec import SceneSpec
from .textures import sample, tile

TWINE_M, GAP_M = 0.0026, 0.045  # knotted twine, mesh of 1 3/4 in: common practice for cages, no source
ROPE_M = 0.012  # along the cage's edges


@dataclass(frozen=True, slots=True)
class Mesh:
    """Two families of parallel threads that cross at right angles."""

    gap_m: float
    thread_m: float
    slant: bool  # diamonds instead of squares


@dataclass(frozen=True, slots=True)
class Cage:
    """A box of netting over the plate, open to the floor."""

    low_m: tuple[float, float, float]
    high_m: tuple[float, float, float]
    mesh: Mesh
    bright: bool


@dataclass(frozen=True, slots=True, eq=False)
class Crossing:
    """Where rays (n,) pass a box: distance along the ray, and the axis of the side that they cross."""

    reach_m: Floats  # (n,) inf where they do not
    axis: "np.ndarray[tuple[int, ...], np.dtype[np.int64]]"
    upper: "np.ndarray[tuple[int, ...], np.dtype[np.bool_]]"  # the side at the box's high end of that axis


def cage_of(spec: SceneSpec) -> Cage | None:
    """The lesson's cage, if it has one."""
    if spec.venue != "cage":
        return None
    half, rng = spec.cage_half_m, np.random.default_rng([spec.seed, 50])
    mesh = Mesh(
        GAP_M * float(rng.uniform(0.85, 1.15)), TWINE_M * float(rng.uniform(0.8, 1.2)), bool(rng.random() < 0.5)
    )
    return Cage((-half, -spec.cage_back_m, 0.0), (half, spec.stop_m, spec.cage_high_m), mesh, bool(rng.random() < 0.25))


def through_box(eye: Floats, ray: Floats, low: Floats, high: Floats) -> tuple[Crossing, Crossing]:
    """Where rays (n, 3) from ``eye`` enter and leave a box."""
    safe = np.where(np.abs(ray) < 1e-9, 1e-9, ray)
    ends = np.stack([(low - eye) / safe, (high - eye) / safe])
    first, last = ends.min(axis=0), ends.max(axis=0)
    into, out = first.max(axis=1), last.min(axis=1)
    meets = (out > into) & (out > 0)
    axis_in, axis_out = first.argmax(axis=1), last.argmin(axis=1)
    rows = np.arange(len(ray))
    return (
        Crossing(np.where(meets & (into > 0), into, np.inf), axis_in, safe[rows, axis_in] < 0),
        Crossing(np.where(meets, out, np.inf), axis_out, safe[rows, axis_out] > 0),
    )


def threads(along: Image, foot: Image, gap: float, broad: float) -> Image:
    """Cover by lines every ``gap`` of width ``broad``, seen by pixels (or a blur) of width ``foot``; all in metres."""
    away = np.abs(np.mod(along + 0.5 * gap, gap) - 0.5 * gap)
    half = 0.5 * np.maximum(foot, 1e-6)
    sharp = (np.clip(0.5 * broad - away, -half, half) - np.clip(-0.5 * broad - away, -half, half)) / (2.0 * half)
    fade = np.clip(2.0 * foot / gap - 1.0, 0.0, 1.0)
    return np.asarray(sharp * (1.0 - fade) + min(broad / gap, 1.0) * fade, np.float32)


def mesh_cover(p: Image, q: Image, sight: tuple[Floats, Floats, Floats], foot: Image, mesh: Mesh) -> Image:
    """Cover by a mesh at places (p, q) of its plane. [m]

    ``sight``: the rays' parts along p, q and the plane's normal; ``foot``: a pixel's width, square to the ray. [m]
    """
    dp, dq, dn = sight
    steep = np.maximum(np.abs(dn), 1e-3)
    if mesh.slant:
        root = np.float32(np.sqrt(0.5))
        p, q, dp, dq = (p + q) * root, (p - q) * root, (dp + dq) * root, (dp - dq) * root
    one = threads(p, foot * np.sqrt(1.0 + (dp / steep) ** 2), mesh.gap_m, mesh.thread_m)
    two = threads(q, foot * np.sqrt(1.0 + (dq / steep) ** 2), mesh.gap_m, mesh.thread_m)
    return np.asarray(1.0 - (1.0 - one) * (1.0 - two), np.float32)


@lru_cache(maxsize=1)
def _slack(seed: int) -> Image:
    return tile(seed + 21, 4.0)


def cage_cover(cage: Cage, eye: Floats, ray: Floats, crossing: Crossing, foot_rad: Image | float, seed: int) -> Image:
    """Cover (n,) by the cage's side that each ray crosses; ``foot_rad``: a pixel's width, or a blur. [rad]"""
    cover = np.zeros(len(ray), np.float32)
    slack = _slack(seed)
    low, high = np.array(cage.low_m), np.array(cage.high_m)
    for axis in range(3):
        mine = np.isfinite(crossing.reach_m) & (crossing.axis == axis)
        if axis == 2:
            mine &= crossing.upper  # no netting on the floor
        if not mine.any():
            continue
        reach, way = crossing.reach_m[mine], ray[mine]
        place = eye + reach[:, None] * way
        one, two = [other for other in range(3) if other != axis]
        p, q = place[:, one].astype(np.float32), place[:, two].astype(np.float32)
        sag = np.float32(0.4 * cage.mesh.gap_m)
        foot = reach * (foot_rad if isinstance(foot_rad, float) else foot_rad[mine])
        sight = (way[:, one], way[:, two], way[:, axis])
        found = mesh_cover(
            p + sag * sample(slack, p * 9, q * 9), q + sag * sample(slack, q * 9 + 50, p * 9), sight, foot, cage.mesh
        )
        rim = np.minimum(
            np.minimum(p - low[one], high[one] - p), np.minimum(high[two] - q, q - low[two] if two != 2 else np.inf)
        )
        rope = np.clip((ROPE_M - rim) / np.maximum(foot, 1e-6) + 0.5, 0, 1) * np.clip(2 * ROPE_M / foot, 0, 1)
        cover[mine] = np.maximum(found, rope)
    return cover
