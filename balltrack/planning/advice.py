"""The plan in words: where to stand, what would help, what to check before a lesson, and what can hurt."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from balltrack.planning.outlook import Outlook, outlook
from balltrack.planning.safety import BAT_REACH_M, MARGIN_M
from balltrack.planning.scene import Scene, scene_of
from balltrack.records.table import DISTANCE, SPEED, Units
from balltrack.records.wording import NINE_IN_TEN

STRAIGHT_DEG = 6.0  # closer to straight behind than anybody paces
WORTH_SAYING = 0.1  # of the error: a remedy that helps less is not named
CALIBRATED_SHARE_SD, CALIBRATED_K1_SD = 0.003, 0.02  # of the focal length and of k1, after filming a chessboard
CAUTION = (
    "Batted balls and thrown bats hurt. Keep a net, a screen or the backstop between the plate and the phone, and "
    "between the plate and whoever tends it; nobody stands there while a swing is possible. "
    "The field's rules come first."
)


@dataclass(frozen=True, slots=True)
class Check:
    """One thing to see to before a lesson."""

    what: str
    why: str


def recommendation(best: Outlook, scene: Scene, units: Units) -> str:
    """The one line."""
    return (
        f"Stand {where(best, units)}, the lens {length(float(best.place_m[2]), units)} up, behind a net or screen: "
        f"expect {accuracy(best, units)}; {stays(best, scene)}."
    )


def where(best: Outlook, units: Units) -> str:
    """How far from the plate's rear tip, and how to pace it out."""
    x, y = float(best.place_m[0]), float(best.place_m[1])
    far = length(float(np.hypot(x, y)), units)
    if abs(np.degrees(np.arctan2(x, -y))) < STRAIGHT_DEG:
        return f"{far} straight behind the plate"
    along = f"{length(abs(y), units)} {'back' if y < 0 else 'ahead'}"
    return f"{far} from the plate, {along} and {length(abs(x), units)} toward {'first' if x > 0 else 'third'} base"


def accuracy(best: Outlook, units: Units) -> str:
    """Nine in ten, as all ± of the package."""
    speed = SPEED[units]
    off = NINE_IN_TEN * best.exit_speed_sd_mps / speed.si_per_unit
    angles = (NINE_IN_TEN * sd for sd in (best.launch_sd_deg, best.spray_sd_deg))
    rise, across = (f"±{angle:.1f}°" for angle in angles)
    return f"exit speed ±{off:.1f} {speed.unit}, launch {rise}, spray {across}"


def stays(best: Outlook, scene: Scene) -> str:
    count = len(scene.hits)
    return f"{round(best.share * count)} of {count} kinds of hit stay in the picture long enough"


def remedies(best: Outlook, scene: Scene, units: Units) -> list[str]:
    """What would make the exit speed surer at the same place, and by how much; one line each."""
    phone, speed = scene.phone, SPEED[units]
    other = {
        "a lens calibrated with a chessboard": replace(
            phone, lens_share_sd=CALIBRATED_SHARE_SD, k1_sd=CALIBRATED_K1_SD
        ),
        f"{2 * phone.frames_per_s:.0f} frames a second": replace(phone, frames_per_s=2 * phone.frames_per_s),
        f"a shutter of 1/{2 / phone.shutter_s:.0f} s": replace(phone, shutter_s=phone.shutter_s / 2),
    }
    now = best.exit_speed_sd_mps
    lines = []
    for what, better in other.items():
        then = outlook(best.place_m, scene_of(better, scene.ground, scene.expected, len(scene.hits)))
        if then.exit_speed_sd_mps < (1 - WORTH_SAYING) * now:
            before, after = (NINE_IN_TEN * sd / speed.si_per_unit for sd in (now, then.exit_speed_sd_mps))
            lines.append(f"{what}: exit speed ±{after:.1f} instead of ±{before:.1f} {speed.unit}")
    return lines


def checks(scene: Scene, units: Units) -> Iterator[Check]:
    """What to see to before a lesson, with this phone's own figures."""
    phone, ball, speed_mps = scene.phone, scene.ground.ball, scene.expected.speed_mps
    step = length(speed_mps / phone.frames_per_s, units)
    smear = speed_mps * phone.shutter_s / ball.diameter_m
    speed = f"{speed_mps / SPEED[units].si_per_unit:.0f} {SPEED[units].unit}"
    yield Check(
        "Nobody in front of the plate or beside it, and "
        f"{length(BAT_REACH_M + MARGIN_M, units)} clear round the batter's box",
        "balls and bats fly there; the phone films alone, behind a net or screen",
    )
    yield Check(
        f"{phone.frames_per_s:.0f} frames a second, or more",
        f"at {speed} the ball moves {step} from frame to frame; each frame is one more look at it",
    )
    yield Check(
        "Shutter as short as the light allows, best 1/1000 s or shorter",
        f"at 1/{1 / phone.shutter_s:.0f} s the ball smears over {smear:.1f} of its own width; the longer, the less "
        "surely it is placed",
    )
    yield Check(
        "Zoom locked, main lens, the same for all clips", "another zoom is another lens: the marks no longer hold"
    )
    yield Check(
        "Focus and exposure locked on the plate",
        "focusing changes the picture's scale a little, and a change of brightness looks like movement",
    )
    yield Check("Stabilisation off", "it shifts each frame by itself, by more than the ball's place may be off")
    yield Check(
        "Horizon level, tripod weighted, phone tight",
        "a level picture is marked and checked most easily; a nudge turns every angle",
    )
    yield Check(
        "The whole plate and both boxes in the picture, lines freshly chalked",
        "they are the ruler: from their corners the phone's place and lens are worked out",
    )
    yield Check("Sun behind the phone", "its lit side is seen, the shutter can be short, and nothing flares")
    yield Check("Sound on", "the crack of the bat tells when contact was, to a few thousandths of a second")


def length(metres: float, units: Units) -> str:
    """As it is paced: to half a foot, or to a tenth of a metre."""
    if units == "metric":
        return f"{metres:.1f} m"
    half_feet = round(2 * metres / DISTANCE["us"].si_per_unit) / 2
    return f"{half_feet:g} ft"
