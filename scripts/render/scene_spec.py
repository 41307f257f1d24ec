"""What a lesson looks like: every choice that the renderer varies, drawn from a seed, each open to an override."""

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from .air_path import Ball
from .arrays import FT, IN, OZ
from .diamond import Diamond

PLACES = ("behind", "left45", "right45", "side", "high", "low", "screen")
OLDER_PLACES = PLACES[:6]  # drawn first, so that a seed keeps what it gave before "screen" was added
LIGHTS = ("sun", "overcast", "dusk", "lamps")  # lamps: indoors, and only there
GROUNDS = ("skin", "grass", "turf", "wood", "rubber")  # the last two in a gym
VENUES = ("field", "cage", "gym")
VEILS = ("none", "netting", "chain_link")
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
    sound: str  # clear | windy | busy | music | none
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
    hand_px: float = 0.0  # rms of the wander of a phone held in the hand, at 1080 lines; 0: a tripod
    bump_px: float = 0.0  # how far the picture moves, at 1080 lines, when someone knocks the tripod; 0: never
    bump_from: int = 0  # number (from 0) of the first clip after the knock
    exposure_step: float = 0.0  # relative change of brightness as the phone meters anew within a clip; 0: none
    cloud: float = 0.0  # slow drift of daylight over a clip, as a share of it: 0..0.4
    sharpen: float = 0.0  # halo that a phone draws round edges: 0 none, 1 strong
    still_denoise: float = 0.0  # share of the noise that the phone takes out where nothing moves
    venue: str = "field"  # field | cage | gym
    stop_m: float = 5.0  # indoors: the cage's end netting, or the gym's far wall, from the plate's tip
    cage_half_m: float = 2.2  # from the plate to a side netting
    cage_high_m: float = 3.2
    cage_back_m: float = 2.8  # from the plate's tip back to the cage's rear netting
    flicker: float = 0.0  # share by which lamps brighten and dim
    flicker_hz: float = 120.0  # twice the mains' frequency
    veil: str = "none"  # none | netting | chain_link, close before the camera
    veil_m: float = 1.0
    veil_bright: bool = False
    catcher: bool = False  # behind the plate, in live pitching
    spare_balls: int = 4  # lie about
    next_ball: bool = False  # tossed in from the side soon after contact
    like_cloth: bool = False  # the batter's shirt has the ball's colour


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
    scene = np.random.default_rng([seed, 2])  # what came later is drawn apart: a seed keeps its earlier choices
    place = str(overrides.get("place", _place(rng, scene)))
    light, venue = _light_and_venue(rng, scene, overrides)
    kind = str(overrides.get("ball_kind", rng.choice(list(BALLS), p=[0.6, 0.2, 0.2])))
    fps = float(overrides.get("fps", rng.choice([30.0, 60.0, 120.0, 240.0], p=[0.2, 0.5, 0.15, 0.15])))
    lines = int(overrides.get("lines", 1080 if fps > 60 else rng.choice([720, 1080, 2160], p=[0.2, 0.7, 0.1])))
    _check(place, light, kind, lines)
    spec = replace(_draw_rest(rng, seed, place, light, kind, fps, lines), **_draw_scene(scene, place, venue, kind))
    spec = replace(spec, **overrides)
    _check_scene(spec)
    return spec


def _check(place: str, light: str, kind: str, lines: int) -> None:
    for value, choices in ((place, PLACES), (light, LIGHTS), (kind, tuple(BALLS)), (lines, tuple(SIZES))):
        if value not in choices:
            raise ValueError(f"{value!r} is none of {', '.join(map(str, choices))}")


def _check_scene(spec: SceneSpec) -> None:
    for value, choices in ((spec.venue, VENUES), (spec.veil, VEILS), (spec.ground, GROUNDS)):
        if value not in choices:
            raise ValueError(f"{value!r} is none of {', '.join(choices)}")
    if (spec.venue == "field") != (spec.light != "lamps"):
        raise ValueError(f"lamps light a cage or a gym, and nothing else does; not {spec.light!r} on a {spec.venue!r}")


def _place(rng: np.random.Generator, scene: np.random.Generator) -> str:
    older = str(rng.choice(OLDER_PLACES))
    return "screen" if scene.random() < 1 / len(PLACES) else older


def _light_and_venue(
    rng: np.random.Generator, scene: np.random.Generator, overrides: dict[str, Any]
) -> tuple[str, str]:
    """Each follows the other where only one is chosen: indoors there are lamps, outdoors there are none."""
    light = str(rng.choice(["sun", "overcast", "dusk"], p=[0.5, 0.35, 0.15]))
    venue = str(scene.choice(VENUES, p=[0.75, 0.13, 0.12]))
    if "venue" in overrides:
        venue = str(overrides["venue"])
    elif "light" in overrides:
        inside = venue if venue != "field" else "cage"
        venue = inside if overrides["light"] == "lamps" else "field"
    return str(overrides.get("light", light if venue == "field" else "lamps")), venue


def _draw_scene(rng: np.random.Generator, place: str, venue: str, kind: str) -> dict[str, Any]:
    """Where it is, what stands in the way, who else is there, and how well the coach knows the lens."""
    veiled = rng.random() < 0.15 or place == "screen"
    wire = str(rng.choice(["netting", "chain_link"]))
    aside = place not in ("behind", "low", "screen")
    made: dict[str, Any] = {
        "venue": venue,
        "veil": ("chain_link" if place == "screen" else wire) if veiled else "none",
        "veil_m": float(rng.uniform(0.5, 1.5)),
        "veil_bright": bool(rng.random() < 0.5),
        "catcher": bool(rng.random() < 0.5) and aside,
        "spare_balls": int(rng.integers(0, 9)),
        "next_ball": bool(rng.random() < 0.25),
        "like_cloth": bool(rng.random() < 0.2),
        "mark_sd_px": float(rng.uniform(0.4, 1.2)),
        "focal_sd": float(np.exp(rng.uniform(*np.log((0.005, 0.04))))),
        "give_fov": bool(rng.random() >= 0.2),
    }
    if rng.random() < 0.1:
        made["sound"] = "music"
    return made | (_draw_hall(rng, venue, kind) if venue != "field" else {})


def _draw_hall(rng: np.random.Generator, venue: str, kind: str) -> dict[str, Any]:
    """An indoor cage, or a gym whose far wall stands behind the pitcher."""
    pitching_m = (60.5 if kind == "baseball" else 50.0) * FT
    ground = str(rng.choice(["wood", "rubber"])) if venue == "gym" else "turf"
    made: dict[str, Any] = {
        "stop_m": float(rng.uniform(3.5, 6.5)) if venue == "cage" else pitching_m + float(rng.uniform(1.2, 3.0)),
        "cage_half_m": float(rng.uniform(1.9, 2.5)),
        "cage_high_m": float(rng.uniform(2.8, 3.6)),
        "cage_back_m": float(rng.choice([rng.uniform(2.2, 3.0), 16.0])),  # 16 m: the camera stands inside
        "ground": ground,
        "birds": 0,
        "wind_mps": (0.0, 0.0),
        "fastpitch": False,
        "flicker": float(rng.uniform(0.01, 0.1)) if rng.random() < 0.3 else 0.0,
        "flicker_hz": float(rng.choice([100.0, 120.0])),
    }
    return made | ({"walkers": 0, "net": False, "catcher": False} if venue == "cage" else {})


def _draw_rest(
    rng: np.random.Generator, seed: int, place: str, light: str, kind: str, fps: float, lines: int
) -> SceneSpec:
    parts = _draw_camera(rng, place, light, fps, lines) | _draw_field(rng, light, kind) | _draw_file(rng, light, fps)
    parts |= _draw_unsteady(seed)
    return SceneSpec(
        seed=seed, place=place, light=light, ball_kind=kind, fps=fps, lines=lines, mark_sd_px=0.7, focal_sd=0.003,
        give_fov=True, mark_tee=True, player="Robin Example", lead_s=1.0, tail_s=1.4, bit_share=1.0, **parts,
    )  # fmt: skip


def _draw_camera(rng: np.random.Generator, place: str, light: str, fps: float, lines: int) -> dict[str, Any]:
    bright = {
        "sun": (1 / 4000, 1 / 800), "overcast": (1 / 1600, 1 / 350), "dusk": (1 / 500, 1 / 120),
        "lamps": (1 / 800, 1 / 120),
    }[light]  # fmt: skip
    reach = {
        "behind": (4.0, 8.0),
        "side": (5.0, 9.0),
        "high": (8.0, 14.0),
        "low": (4.0, 7.0),
        "screen": (5.0, 9.0),
    }.get(place, (4.5, 7.5))
    rise = {"behind": (1.0, 2.5), "high": (3.0, 5.0), "low": (0.5, 0.9), "screen": (1.2, 2.2)}.get(place, (1.0, 1.9))
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
        "ground": str(rng.choice(["skin", "grass", "turf"], p=[0.5, 0.3, 0.2])),
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
        "noise": float(rng.uniform(0.6, 1.4) * {"dusk": 2.0, "lamps": 1.6}.get(light, 1.0)),
        "codec": str(rng.choice(["h264", "hevc", "hevc10"], p=[0.65, 0.25, 0.1])),
        "container": str(rng.choice(["mp4", "mov"], p=[0.7, 0.3])),
        "sound": str(rng.choice(["clear", "windy", "busy", "none"], p=[0.45, 0.25, 0.2, 0.1])),
        "uneven_s": float(rng.choice([0.0, 0.0003], p=[0.7, 0.3])),
        "dropped": float(rng.choice([0.0, 0.02], p=[0.8, 0.2])),
        "stretched": bool(rng.random() < 0.3 and fps >= 120),
    }


def _draw_unsteady(seed: int) -> dict[str, Any]:
    """What a tripod and fixed settings would not show, and the phone's own retouching; from a source of its own."""
    rng = np.random.default_rng([seed, 21])
    often = rng.random(4)
    return {
        "hand_px": float(rng.uniform(0.4, 3.0)) if often[0] < 0.12 else 0.0,
        "bump_px": float(np.exp(rng.uniform(np.log(3.0), np.log(30.0)))) if often[1] < 0.1 else 0.0,
        "bump_from": int(rng.integers(1, 4)),
        "exposure_step": float(rng.choice([-1, 1]) * rng.uniform(0.04, 0.25)) if often[2] < 0.15 else 0.0,
        "cloud": float(rng.uniform(0.05, 0.4)) if often[3] < 0.15 else 0.0,
        "sharpen": float(rng.uniform(0.0, 0.7)),
        "still_denoise": float(rng.uniform(0.0, 0.5)),
    }


def ball_of(spec: SceneSpec) -> Ball:
    """The lesson's ball."""
    round_in, weight_oz = BALLS[spec.ball_kind]
    return Ball(round_in * IN / 2.0 / np.pi, weight_oz * OZ)


def diamond_of(spec: SceneSpec) -> Diamond:
    """The lesson's field: 65 ft softball paths, 60 ft fast pitch, 90 ft baseball; in a cage, tossed from its end."""
    if spec.venue == "cage":
        softball = spec.ball_kind != "baseball"
        return Diamond(softball, (65 if softball else 90) * FT, spec.stop_m - 0.3, spec.fence_m, 6 * FT)
    if spec.ball_kind == "baseball":
        return Diamond(False, 90 * FT, 60.5 * FT, spec.fence_m, 6 * FT)
    if spec.fastpitch:
        return Diamond(True, 60 * FT, 43 * FT, spec.fence_m, 6 * FT)
    return Diamond(True, 65 * FT, 50 * FT, spec.fence_m, 6 * FT)
