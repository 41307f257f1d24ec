"""What a lesson looks like: every choice that the renderer varies, drawn from a seed, each open to an override."""

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from .air_path import Ball
from .arrays import FT, IN, OZ
from .diamond import Diamond

PLACES = ("behind", "left45", "right45", "side", "high", "low")
LIGHTS = ("sun", "overcast", "dusk")
GROUNDS = ("skin", "grass", "turf")
BALLS = {  # circumference in, weight oz: middle of the rule-book ranges
    "softball-12": (12.0, 6.6),
    "softball-11": (11.0, 6.0),
    "baseball": (9.125, 5.125),
}
SIZES = {720: (1280, 720), 1080: (1920, 1080), 2160: (3840, 2160)}


@dataclass(frozen=True, slots=True)
class SceneSpec:
    """One lesson's choices."""

    seed: int
    place: str
    lines: int  # 720, 1080 or 2160
    fps: float
    exposure_s: float
    readout_s: float
    hfov_deg: float
    k1: float
    principal_px: tuple[float, float]  # offset of the principal point from the middle
    distance_m: float
    camera_height_m: float
    camera_aside_m: float
    roll_deg: float
    light: str
    sun_azimuth_deg: float
    sun_elevation_deg: float
    ground: str
    infield_shade: float
    ball_kind: str
    ball_colour: str  # optic | white | worn
    bats: str
    batter_height_m: float
    batter_build: float
    cloth_hue: float
    skin_tone: float
    bat_kind: str  # composite | metal | wood
    fastpitch: bool
    net: bool
    walkers: int
    birds: int
    sway_px: float
    noise: float  # 1 = a good phone in daylight
    codec: str  # h264 | hevc | hevc10
    container: str  # mp4 | mov
    sound: str  # clear | windy | busy | none
    wind_mps: tuple[float, float]
    air_density: float
    drag: str
    drag_level: float
    lift: str
    tee_forward_m: float
    fence_m: float
    mark_sd_px: float
    focal_sd: float  # relative error of the stated lens; 0 is exact
    give_fov: bool
    give_readout: bool
    mark_tee: bool
    player: str
    lead_s: float  # contact comes 0.7 to 1 of it after a clip's start
    tail_s: float  # a clip ends 0.8 to 1 of it after contact
    bit_share: float  # of a phone's usual bit rate
    uneven_s: float  # spread of the frames' times about a steady rate
    dropped: float  # share of frames that the phone did not keep
    stretched: bool  # slow motion stored at 30 frames/s, its capture rate in the metadata, without sound


def draw(seed: int, **overrides: Any) -> SceneSpec:
    """A lesson's choices from a seed; ``overrides`` replaces any field by name.

    Raises
    ------
    ValueError
        If an override names no field, or a choice that does not exist.
    """
    known = {field.name for field in fields(SceneSpec)}
    unknown = sorted(set(overrides) - known)
    if unknown:
        raise ValueError(f"no such choice: {', '.join(unknown)}; there are {', '.join(sorted(known))}")
    rng = np.random.default_rng([seed, 1])
    place = str(overrides.get("place", rng.choice(PLACES)))
    light = str(overrides.get("light", rng.choice(LIGHTS, p=[0.5, 0.35, 0.15])))
    kind = str(overrides.get("ball_kind", rng.choice(list(BALLS), p=[0.6, 0.2, 0.2])))
    fps = float(overrides.get("fps", rng.choice([30.0, 60.0, 120.0, 240.0], p=[0.2, 0.5, 0.15, 0.15])))
    lines = int(overrides.get("lines", 1080 if fps > 60 else rng.choice([720, 1080, 2160], p=[0.2, 0.7, 0.1])))
    _check(place, light, kind, lines)
    spec = _draw_rest(rng, seed, place, light, kind, fps, lines)
    return replace(spec, **overrides)


def _check(place: str, light: str, kind: str, lines: int) -> None:
    for value, choices in ((place, PLACES), (light, LIGHTS), (kind, tuple(BALLS)), (lines, tuple(SIZES))):
        if value not in choices:
            raise ValueError(f"{value!r} is none of {', '.join(map(str, choices))}")


def _draw_rest(
    rng: np.random.Generator, seed: int, place: str, light: str, kind: str, fps: float, lines: int
) -> SceneSpec:
    parts = _draw_camera(rng, place, light, fps, lines) | _draw_field(rng, light, kind) | _draw_file(rng, light, fps)
    return SceneSpec(
        seed=seed, place=place, light=light, ball_kind=kind, fps=fps, lines=lines, mark_sd_px=0.7, focal_sd=0.003,
        give_fov=True, mark_tee=True, player="Robin Example", lead_s=1.0, tail_s=1.4, bit_share=1.0, **parts,
    )  # fmt: skip


def _draw_camera(rng: np.random.Generator, place: str, light: str, fps: float, lines: int) -> dict[str, Any]:
    bright = {"sun": (1 / 4000, 1 / 800), "overcast": (1 / 1600, 1 / 350), "dusk": (1 / 500, 1 / 120)}[light]
    reach = {"behind": (4.0, 8.0), "side": (5.0, 9.0), "high": (8.0, 14.0), "low": (4.0, 7.0)}.get(place, (4.5, 7.5))
    rise = {"behind": (1.0, 2.5), "high": (3.0, 5.0), "low": (0.5, 0.9)}.get(place, (1.0, 1.9))
    return {
        "exposure_s": min(float(np.exp(rng.uniform(*np.log(bright)))), 0.9 / fps),
        "readout_s": float(rng.uniform(min(0.004, 0.6 / fps), min(0.025, 0.95 / fps))),
        "hfov_deg": float(rng.uniform(55, 80)),
        "k1": float(rng.normal(0.0, 0.02)),
        "principal_px": (float(rng.normal(0, 2e-3 * lines)), float(rng.normal(0, 2e-3 * lines))),
        "distance_m": float(rng.uniform(*reach)),
        "camera_height_m": float(rng.uniform(*rise)),
        "camera_aside_m": float(rng.normal(0, 0.35)),
        "roll_deg": float(rng.normal(0, 0.7)),
        "give_readout": bool(rng.random() < 0.7),
    }


def _draw_field(rng: np.random.Generator, light: str, kind: str) -> dict[str, Any]:
    colours = ["white", "worn"] if kind == "baseball" else ["optic", "optic", "optic", "white", "worn"]
    return {
        "sun_azimuth_deg": float(rng.uniform(0, 360)),
        "sun_elevation_deg": float(rng.uniform(4, 12) if light == "dusk" else rng.uniform(25, 65)),
        "ground": str(rng.choice(GROUNDS, p=[0.5, 0.3, 0.2])),
        "infield_shade": float(rng.uniform(0.75, 1.15)),
        "ball_colour": str(rng.choice(colours)),
        "bats": str(rng.choice(["right", "left"], p=[0.65, 0.35])),
        "batter_height_m": float(rng.normal(1.74, 0.08)),
        "batter_build": float(rng.uniform(0.9, 1.25)),
        "cloth_hue": float(rng.uniform(0, 1)),
        "skin_tone": float(rng.uniform(0, 1)),
        "bat_kind": str(rng.choice(["composite", "metal", "wood"])),
        "fastpitch": bool(rng.random() < 0.2),
        "net": bool(rng.random() < 0.15),
        "walkers": int(rng.integers(0, 3)),
        "birds": int(rng.integers(0, 3)),
        "sway_px": float(rng.uniform(0.0, 1.2)),
        "wind_mps": (float(rng.normal(0, 0.8)), float(rng.normal(0, 0.8))),
        "air_density": float(rng.uniform(1.1, 1.24)),
        "drag": str(rng.choice(["constant", "spin", "crisis"], p=[0.5, 0.3, 0.2])),
        "drag_level": float(rng.uniform(0.27, 0.40)),
        "lift": str(rng.choice(["sawicki", "cross", "nathan"])),
        "tee_forward_m": float(rng.normal(0.1, 0.08)),
        "fence_m": float(rng.uniform(240, 315) * FT),
    }


def _draw_file(rng: np.random.Generator, light: str, fps: float) -> dict[str, Any]:
    return {
        "noise": float(rng.uniform(0.6, 1.4) * (2.0 if light == "dusk" else 1.0)),
        "codec": str(rng.choice(["h264", "hevc", "hevc10"], p=[0.65, 0.25, 0.1])),
        "container": str(rng.choice(["mp4", "mov"], p=[0.7, 0.3])),
        "sound": str(rng.choice(["clear", "windy", "busy", "none"], p=[0.45, 0.25, 0.2, 0.1])),
        "uneven_s": float(rng.choice([0.0, 0.0003], p=[0.7, 0.3])),
        "dropped": float(rng.choice([0.0, 0.02], p=[0.8, 0.2])),
        "stretched": bool(rng.random() < 0.3 and fps >= 120),
    }


def ball_of(spec: SceneSpec) -> Ball:
    """The lesson's ball."""
    round_in, weight_oz = BALLS[spec.ball_kind]
    return Ball(round_in * IN / 2.0 / np.pi, weight_oz * OZ)


def diamond_of(spec: SceneSpec) -> Diamond:
    """The lesson's field: 65 ft softball paths, 60 ft fast pitch, 90 ft baseball."""
    if spec.ball_kind == "baseball":
        return Diamond(False, 90 * FT, 60.5 * FT, spec.fence_m, 6 * FT)
    if spec.fastpitch:
        return Diamond(True, 60 * FT, 43 * FT, spec.fence_m, 6 * FT)
    return Diamond(True, 65 * FT, 50 * FT, spec.fence_m, 6 * FT)
