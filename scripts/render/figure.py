"""People as jointed limbs: a batter who swings, a pitcher, walkers. Poses are functions of time."""

from dataclasses import dataclass, fields, replace

import numpy as np

from .arrays import Floats
from .brush import Limb

LOAD_S = 0.17  # from the hands' start to contact: common practice for a swing, no source
CHECK_S = 0.024  # a checked swing stops as far before contact as a full one is at this time
STRIDE_S = 0.45
BAT_M = 0.84
SWEET_M = 0.69  # sweet spot from the knob


@dataclass(frozen=True, slots=True, eq=False)
class Build:
    """A person's size and clothes; colours are linear albedo."""

    height_m: float
    girth: float
    shirt: Floats
    trousers: Floats
    skin: Floats
    cap: Floats
    shoes: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Swing:
    """One swing: where the barrel's sweet spot is at ``contact_s``, and which way the bat points there."""

    contact_s: float
    barrel_m: Floats  # (3,)
    spray_rad: float
    right_handed: bool
    lean: float  # personal style, about -1..1
    checked: bool = False  # stopped short: ``contact_s`` is when the bat has come furthest


def dress(hue: float, tone: float, height_m: float, girth: float) -> Build:
    """Clothes from a hue 0..1 and skin from a tone 0..1."""
    phase = 2 * np.pi * (hue + np.array([0.0, 1 / 3, 2 / 3]))
    bright = 0.02 + 0.30 * (0.5 + 0.5 * np.cos(phase)) ** 2
    trousers = np.array([0.55, 0.54, 0.52]) if hue * 7 % 1 < 0.4 else np.array([0.045, 0.048, 0.055])
    if hue * 7 % 1 > 0.75:
        trousers = np.array([0.24, 0.24, 0.25])
    skin = np.array([0.48, 0.29, 0.20]) * (1 - tone) + np.array([0.09, 0.05, 0.032]) * tone
    return Build(height_m, girth, bright, trousers, skin, bright[::-1] * 0.7, np.array([0.04, 0.04, 0.045]))


def ease(x: float) -> float:
    """From 0 at 0 to 1 at 1, with a soft start and end."""
    x = min(max(x, 0.0), 1.0)
    return x * x * (3 - 2 * x)


def swing_time(swing: Swing, time_s: float) -> float:
    """Time from contact in the course of a full swing; a checked one slows, stops short of it and comes back."""
    t = time_s - swing.contact_s
    if not swing.checked:
        return t
    way = LOAD_S - CHECK_S
    begin = 0.5 * np.pi * way  # as fast as a full swing at first, still at the end
    if t <= -begin:
        return t + begin - LOAD_S
    if t <= 0:
        return -LOAD_S + way * float(np.sin(0.5 * np.pi * (t + begin) / begin))
    return -CHECK_S - way * ease((t - 0.12) / 0.7)


def bat_pose(swing: Swing, time_s: float) -> tuple[Floats, Floats]:
    """Knob position and bat direction (knob to tip) in the field frame."""
    side = 1.0 if swing.right_handed else -1.0
    t = swing_time(swing, time_s)
    outward = np.array([np.sin(swing.spray_rad), np.cos(swing.spray_rad), 0.0])
    across = np.array([outward[1], -outward[0], 0.0]) * side  # from the hands to the barrel at contact
    flat = np.array([across[0] * 0.92, across[1] * 0.92, -0.38 - 0.04 * swing.lean])
    flat /= np.linalg.norm(flat)
    normal = np.cross(flat, outward + np.array([0.0, 0.0, 0.12]))
    normal /= np.linalg.norm(normal)
    ahead = np.cross(normal, flat)
    knob_hit = swing.barrel_m - SWEET_M * flat
    turn, rate = 2.7, 38.0
    share = (t + LOAD_S) / LOAD_S
    angle = -turn * (1 - max(share, 0.0) ** (rate * LOAD_S / turn)) if t <= 0 else 3.3 * (1 - np.exp(-rate * t / 3.3))
    plane = np.cos(angle) * flat + np.sin(angle) * ahead
    wag = 0.12 * np.sin(2 * np.pi * 0.9 * t + 3 * swing.lean) * ease(-(t + 0.35) / 0.3)
    cocked = np.array([-0.35 * side + wag * side, -0.45 + 0.2 * swing.lean + wag, 0.85])
    cocked /= np.linalg.norm(cocked)
    blend = ease(share * 1.25)
    way = cocked * (1 - blend) + plane * blend
    way = way / np.linalg.norm(way)
    ready = knob_hit + np.array([-0.20 * side, -0.62, 0.0])
    ready[2] = 1.32 + 0.05 * swing.lean
    if t <= 0:
        move = ease(0.5 * max(share, 0.0)) * 2.0
        knob = ready * (1 - move) + knob_hit * move + np.array([0, 0, 0.10]) * np.sin(np.pi * move) * -0.5
    else:
        end = knob_hit + np.array([-0.62 * side, 0.12, 0.42])
        move = 1 - np.exp(-t / 0.11)
        knob = knob_hit * (1 - move) + end * move + outward * 0.9 * t * np.exp(-t / 0.09) * 6.0
        wrap = ease((t - 0.10) / 0.28)  # the bat ends behind the lead shoulder
        finish = swing.barrel_m + np.array([-1.02 * side, -0.22, 0.0])
        finish[2] = 1.40
        knob = knob * (1 - wrap) + finish * wrap
        round_back = np.array([-0.35 * side, -0.80, 0.10])
        way = way * (1 - wrap) + round_back * wrap
        way = way / np.linalg.norm(way)
    load = ease((t + 0.5) / 0.2) * (1 - ease(share)) if t < 0 else 0.0
    return knob + np.array([0.0, -0.10, 0.04]) * load, way


def bat_limbs(knob: Floats, way: Floats, kind: str) -> list[Limb]:
    """The bat as three tapered pieces."""
    colours = {
        "composite": ([0.02, 0.02, 0.025], [0.05, 0.05, 0.06]),
        "metal": ([0.03, 0.03, 0.03], [0.38, 0.39, 0.42]),
        "wood": ([0.30, 0.17, 0.08], [0.36, 0.21, 0.10]),
    }[kind]
    grip, barrel = np.array(colours[0]), np.array(colours[1])
    cuts = [(0.0, 0.34, 0.014, 0.013, grip), (0.34, 0.58, 0.013, 0.027, barrel), (0.58, 0.83, 0.028, 0.029, barrel)]
    return [
        Limb(knob + a * way, knob + b * way, ra, rb, colour, 0.05, 0.6 if kind != "wood" else 0.15, 3)
        for a, b, ra, rb, colour in cuts
    ]


def _joint(start: Floats, end: Floats, upper: float, lower: float, toward: Floats) -> Floats:
    """Elbow or knee between two ends, bent toward a direction; stretches where the ends are too far apart."""
    gap = end - start
    far = float(np.linalg.norm(gap))
    reach = min(far, 0.999 * (upper + lower))
    along = (upper**2 - lower**2 + reach**2) / (2 * reach)
    high = np.sqrt(max(upper**2 - along**2, 0.0))
    axis = gap / max(far, 1e-9)
    side = toward - (toward @ axis) * axis
    side = side / max(float(np.linalg.norm(side)), 1e-9)
    return np.asarray(start + axis * along * far / reach + side * high)


@dataclass(frozen=True, slots=True, eq=False)
class Stance:
    """Where a body's parts are at one moment, field frame."""

    left_foot: Floats
    right_foot: Floats
    hips: Floats
    chest: Floats
    facing_hips: Floats  # unit, horizontal
    facing_chest: Floats
    head_facing: Floats
    left_hand: Floats
    right_hand: Floats


def body_limbs(stance: Stance, build: Build, helmet: bool) -> list[Limb]:
    """Limbs of a body in a stance."""
    s, g = build.height_m / 1.75, build.girth * build.height_m / 1.75
    up = np.array([0.0, 0.0, 1.0])
    limbs: list[Limb] = []
    right_hip = np.cross(stance.facing_hips, up)
    right_chest = np.cross(stance.facing_chest, up)
    sleeve = build.shirt * 0.95
    for sign, foot, hand in ((1.0, stance.right_foot, stance.right_hand), (-1.0, stance.left_foot, stance.left_hand)):
        hip = stance.hips + sign * 0.10 * g * right_hip
        ankle = foot + up * 0.08 * s
        knee = _joint(hip, ankle, 0.43 * s, 0.42 * s, stance.facing_hips + 0.3 * sign * right_hip)
        limbs.append(Limb(hip, knee, 0.093 * g, 0.068 * g, build.trousers, 0.06, 0, 1))
        limbs.append(Limb(knee, ankle, 0.067 * g, 0.05 * g, build.trousers * 0.98, 0.06, 0, 2))
        toe = foot + stance.facing_hips * 0.15 * s + up * 0.035
        limbs.append(
            Limb(foot - stance.facing_hips * 0.06 * s + up * 0.05, toe, 0.048 * s, 0.036 * s, build.shoes, 0.1, 0.1, 4)
        )
        shoulder = stance.chest + sign * 0.185 * g * right_chest + up * 0.09 * s
        elbow = _joint(
            shoulder, hand, 0.29 * s, 0.27 * s, -0.8 * up + 0.5 * sign * right_chest - 0.2 * stance.facing_chest
        )
        middle = shoulder * 0.35 + elbow * 0.65
        limbs.append(Limb(shoulder, middle, 0.062 * g, 0.056 * g, sleeve, 0.07, 0, 5))
        limbs.append(Limb(middle, elbow, 0.045 * g, 0.041 * g, build.skin, 0.04, 0, 6))
        limbs.append(Limb(elbow, hand, 0.041 * g, 0.029 * g, build.skin, 0.04, 0, 7))
        limbs.append(
            Limb(hand, hand + 0.04 * (hand - elbow), 0.042 * s, 0.040 * s, np.array([0.05, 0.05, 0.06]), 0.1, 0, 8)
        )
    limbs += _trunk(stance, build, s, g)
    neck = stance.chest + up * 0.16 * s
    head = stance.chest + up * 0.335 * s + stance.head_facing * 0.04
    limbs.append(Limb(neck, neck + up * 0.07 * s, 0.058 * s, 0.055 * s, build.skin, 0.04, 0, 12))
    limbs.append(Limb(head - up * 0.04 * s, head + up * 0.03 * s, 0.078 * s, 0.092 * s, build.skin, 0.05, 0, 13))
    shell = 0.022 if helmet else 0.008
    crown = head + up * 0.055 * s - stance.head_facing * 0.012
    limbs.append(
        Limb(
            crown - up * 0.01,
            crown + up * 0.03 * s,
            (0.09 + shell) * s,
            (0.086 + shell) * s,
            build.cap,
            0.02,
            0.35 if helmet else 0.0,
            14,
        )
    )
    limbs.append(
        Limb(
            crown + stance.head_facing * 0.07,
            crown + stance.head_facing * 0.17 - up * 0.012,
            0.05 * s,
            0.035 * s,
            build.cap * 0.8,
            0.02,
            0.1,
            15,
        )
    )
    return limbs


def _trunk(stance: Stance, build: Build, s: float, g: float) -> list[Limb]:
    """Hips, belly, chest and shoulders; wider than deep."""
    up = np.array([0.0, 0.0, 1.0])
    hips_face = (float(stance.facing_hips[0]), float(stance.facing_hips[1]), 0.0)
    chest_face = (float(stance.facing_chest[0]), float(stance.facing_chest[1]), 0.0)
    waist = stance.hips + 0.10 * s * up
    ribs = 0.45 * waist + 0.55 * (stance.chest + 0.05 * s * up)
    top = stance.chest + 0.10 * s * up
    right = np.cross(stance.facing_chest, up)
    return [
        Limb(
            stance.hips - 0.07 * s * up, waist, 0.168 * g, 0.150 * g, build.trousers, 0.06, 0, 11, 0.45, hips_face, 0.72
        ),
        Limb(waist, waist + 0.025 * s * up, 0.152 * g, 0.152 * g, build.shoes, 0.02, 0.1, 16, 0.25, hips_face, 0.72),
        Limb(waist + 0.02 * s * up, ribs, 0.153 * g, 0.165 * g, build.shirt, 0.07, 0, 9, 0.3, chest_face, 0.72),
        Limb(ribs - 0.02 * up, top, 0.166 * g, 0.176 * g, build.shirt, 0.07, 0, 10, 0.4, chest_face, 0.66),
        Limb(top - 0.15 * g * right, top + 0.15 * g * right, 0.072 * g, 0.072 * g, build.shirt, 0.07, 0, 17),
    ]


def batter_stance(swing: Swing, build: Build, time_s: float) -> Stance:
    """The batter at a moment of the swing."""
    side = 1.0 if swing.right_handed else -1.0  # +1 faces +x
    s = build.height_m / 1.75
    t = swing_time(swing, time_s)
    stride = ease((t + STRIDE_S) / 0.25)
    lift = np.sin(np.pi * stride) if 0 < stride < 1 else 0.0
    turn = ease((t + 0.20) / 0.34)
    home = swing.barrel_m + np.array([-0.98 * side, -0.55, 0.0])
    home[2] = 0.0
    back = home + np.array([0.0, -0.34, 0.0])
    front = home + np.array([0.05 * side, 0.16 + 0.24 * stride, 0.13 * lift])
    rest = 0.008 * np.sin(2 * np.pi * 0.7 * time_s)
    hips = home + np.array(
        [0.04 * side + rest * side, -0.12 + 0.22 * ease((t + 0.3) / 0.35), (0.90 - 0.05 * stride) * s]
    )
    chest = hips + np.array([0.10 * side * (1 - 0.3 * turn), -0.05 + 0.04 * turn - 0.05 * stride, 0.40 * s])
    hip_angle = 0.5 * np.pi * (1 - 0.95 * turn)
    chest_angle = 0.5 * np.pi * (1.12 - 1.25 * ease((t + 0.17) / 0.36))
    facing_hips = np.array([side * np.sin(hip_angle), np.cos(hip_angle), 0.0])
    facing_chest = np.array([side * np.sin(chest_angle), np.cos(chest_angle), 0.0])
    look_angle = 0.5 * np.pi * (0.45 - 0.1 * turn)
    head = np.array([side * np.sin(look_angle), np.cos(look_angle), -0.25])
    knob, way = bat_pose(swing, time_s)
    lower, upper = knob + 0.04 * way, knob + 0.13 * way
    left, right = (lower, upper) if swing.right_handed else (upper, lower)
    feet = (front, back) if swing.right_handed else (back, front)
    return Stance(feet[0], feet[1], hips, chest, facing_hips, facing_chest, head / np.linalg.norm(head), left, right)


def between(a: Stance, b: Stance, share: float) -> Stance:
    """A body on its way from one stance to another."""
    return Stance(*(getattr(a, f.name) * (1 - share) + getattr(b, f.name) * share for f in fields(Stance)))


def crouching_stance(place: Floats, mitt_m: Floats, build: Build, time_s: float) -> Stance:
    """A catcher behind the plate, who faces the pitcher and holds the left hand's mitt out."""
    s = build.height_m / 1.75
    up, ahead, right = np.eye(3)[2], np.eye(3)[1], np.eye(3)[0]
    sway = 0.01 * np.sin(2 * np.pi * 0.5 * time_s)
    hips = place + up * 0.40 * s - ahead * 0.12 + right * sway
    chest = hips + up * 0.36 * s + ahead * 0.20 * s
    feet = [place + side * right * 0.30 * s + ahead * 0.02 for side in (-1, 1)]
    reach = mitt_m - (chest - right * 0.18)
    far = float(np.linalg.norm(reach))
    mitt = chest - right * 0.18 + reach * min(1.0, 0.60 * s / max(far, 1e-6))
    free = chest + right * 0.24 - up * 0.34 + ahead * 0.06
    face = np.array([0.0, 1.0, 0.05]) / np.hypot(1.0, 0.05)
    return Stance(feet[0], feet[1], hips, chest, ahead, ahead, face, mitt, free)


def walking_stance(place: Floats, heading: Floats, build: Build, time_s: float, pace: float) -> Stance:
    """A person who walks (``pace`` > 0) or stands, at ``place`` on the ground."""
    s = build.height_m / 1.75
    right = np.array([heading[1], -heading[0], 0.0])
    cycle = 2 * np.pi * 0.95 * time_s
    swing = 0.32 * s * np.sin(cycle) * min(pace, 1.0)
    raise_l, raise_r = max(np.cos(cycle), 0) * 0.09 * min(pace, 1), max(-np.cos(cycle), 0) * 0.09 * min(pace, 1)
    up = np.array([0.0, 0.0, 1.0])
    sway = 0.012 * np.sin(2 * np.pi * 0.4 * time_s)
    hips = place + up * 0.93 * s + right * sway
    chest = hips + up * 0.42 * s + heading * 0.03
    left = place - right * 0.11 + heading * swing + up * raise_l
    rightfoot = place + right * 0.11 - heading * swing + up * raise_r
    hand_l = chest - right * 0.27 - up * 0.42 * s - heading * swing * 0.8 + heading * 0.08
    hand_r = chest + right * 0.27 - up * 0.42 * s + heading * swing * 0.8 + heading * 0.08
    return Stance(left, rightfoot, hips, chest, heading, heading, heading, hand_l, hand_r)


def kneeling(stance: Stance) -> Stance:
    """The same upper body, lowered already, on one knee: a foot ahead, the other behind on its toes."""
    ahead = stance.facing_hips
    right = np.array([ahead[1], -ahead[0], 0.0])
    spot = np.array([stance.hips[0], stance.hips[1], 0.0])
    return replace(stance, left_foot=spot + 0.30 * ahead - 0.13 * right, right_foot=spot - 0.42 * ahead + 0.12 * right)


def pitcher_stance(place: Floats, release_m: Floats, release_s: float, build: Build, time_s: float) -> Stance:
    """A person who tosses underhand toward the plate at ``release_s``."""
    heading = np.array([-place[0], -place[1], 0.0]) / max(float(np.hypot(place[0], place[1])), 1e-9)
    stance = walking_stance(place, heading, build, 0.0, 0.0)
    t = time_s - release_s
    right = np.array([heading[1], -heading[0], 0.0])
    shoulder = stance.chest + right * 0.2
    angle = -1.3 + 1.9 * ease((t + 0.35) / 0.35) + 0.8 * ease(t / 0.25) - 1.6 * ease((t - 0.3) / 0.5)
    down = np.array([0.0, 0.0, -1.0])
    hand = shoulder + 0.55 * (np.cos(angle) * down + np.sin(angle) * heading)
    near = np.exp(-((t / 0.04) ** 2))
    hand = hand * (1 - near) + release_m * near if float(np.linalg.norm(release_m - shoulder)) < 0.75 else hand
    step = heading * 0.25 * ease((t + 0.3) / 0.3)
    return Stance(
        stance.left_foot + step,
        stance.right_foot,
        stance.hips + 0.5 * step,
        stance.chest + 0.6 * step,
        heading,
        heading,
        heading,
        stance.left_hand + 0.5 * step,
        hand,
    )
