"""The ball's size and weight, the named points of the field, and the fence, as the rule books give them."""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from balltrack.errors import ShapeError
from balltrack.units import KG_PER_OZ, M_PER_FT, M_PER_IN, Floats

Place = tuple[float, float, float]

# Spread of a ball within its rule-book limits, taken as even between them: limits / sqrt(12).
EVEN = 1.0 / sqrt(12.0)


@dataclass(frozen=True, slots=True)
class Ball:
    """A ball, with one standard deviation of what is not known of it."""

    diameter_m: float
    diameter_sd_m: float
    mass_kg: float
    mass_sd_kg: float
    drag: float  # drag coefficient of the cross-section, before a flight is seen
    drag_sd: float
    kind: str = "softball-12"  # softball-12 | softball-11 | baseball: whose rules draw the batter's box


# Drag coefficients. Baseball: 0.33 to 0.45 across seam heights (Kensrud et al., Procedia Engineering 112 (2015)
# 406, as summarised elsewhere), 0.31 to 0.40 needed by published carries of fired balls. Softball: no measured value
# was found; 0.27 to 0.35 in secondary texts, hence the wide prior.
BASEBALL_DRAG, BASEBALL_DRAG_SD = 0.35, 0.04
SOFTBALL_DRAG, SOFTBALL_DRAG_SD = 0.32, 0.04

# (circumference limits [in], weight limits [oz]): Official Baseball Rules 3.01; ASA 2001 rules p. 60-61 for softballs
# (the 11-inch weight from memory).
RULE_BOOK = {
    "softball-12": ((11.875, 12.125), (6.25, 7.0)),
    "softball-11": ((10.875, 11.125), (5.875, 6.125)),
    "baseball": ((9.0, 9.25), (5.0, 5.25)),
}
BALL_KINDS = tuple(RULE_BOOK)
TAPE_SD_M = M_PER_IN / 16  # of a circumference that a person measures
SCALES_SD_KG = 0.1 * KG_PER_OZ  # of a weight that a person enters


def ball_of_kind(kind: str) -> Ball:
    """A ball in the middle of its rule book's limits. KeyError for a kind that is not in ``BALL_KINDS``."""
    (least_in, most_in), (least_oz, most_oz) = RULE_BOOK[kind]
    drag, drag_sd = (BASEBALL_DRAG, BASEBALL_DRAG_SD) if kind == "baseball" else (SOFTBALL_DRAG, SOFTBALL_DRAG_SD)
    return Ball(
        diameter_m=0.5 * (least_in + most_in) * M_PER_IN / pi,
        diameter_sd_m=EVEN * (most_in - least_in) * M_PER_IN / pi,
        mass_kg=0.5 * (least_oz + most_oz) * KG_PER_OZ,
        mass_sd_kg=EVEN * (most_oz - least_oz) * KG_PER_OZ,
        drag=drag,
        drag_sd=drag_sd,
        kind=kind,
    )


def ball_of_size(circumference_m: float, mass_kg: float) -> Ball:
    """A ball that a person measured; its drag and its field's rules are those of the kind nearest in size."""
    kind = min(BALL_KINDS, key=lambda name: abs(sum(RULE_BOOK[name][0]) / 2 * M_PER_IN - circumference_m))
    like = ball_of_kind(kind)
    return Ball(circumference_m / pi, TAPE_SD_M / pi, mass_kg, SCALES_SD_KG, like.drag, like.drag_sd, kind)


FENCE_DIRECTIONS_RAD = tuple(np.radians([-45.0, -22.5, 0.0, 22.5, 45.0]))  # left pole to right pole


@dataclass(frozen=True, slots=True)
class Fence:
    """The outfield fence: how far and how high."""

    distances_m: tuple[float, ...]  # one all round, or five: left, left center, center, right center, right
    height_m: float

    def __post_init__(self) -> None:
        if len(self.distances_m) not in (1, len(FENCE_DIRECTIONS_RAD)):
            raise ShapeError(f"a fence has 1 or {len(FENCE_DIRECTIONS_RAD)} distances, not {len(self.distances_m)}")

    def distance_m(self, spray_rad: float | Floats) -> Floats:
        """Distance from the plate's rear tip to the fence. [m] Directions outside the poles get the pole's distance.

        Between the five directions it follows a monotone cubic (Fritsch & Butland, 1984), which does not overshoot.
        """
        from scipy.interpolate import PchipInterpolator

        directions = np.clip(np.asarray(spray_rad, float), FENCE_DIRECTIONS_RAD[0], FENCE_DIRECTIONS_RAD[-1])
        if len(self.distances_m) == 1:
            return np.full_like(directions, self.distances_m[0])
        return np.asarray(PchipInterpolator(FENCE_DIRECTIONS_RAD, self.distances_m)(directions), float)


# Home plate: 17 in across the front and 8.5 in down the sides. The rule book's 12 in for the two rear edges does not
# close with a right angle at the tip; 17 in deep with the right angle (rear edges 12.02 in) does, and puts the rear
# edges on the foul lines.
PLATE_HALF_M = 8.5 * M_PER_IN
PLATE_DEPTH_M = 17.0 * M_PER_IN
BOX_GAP_M = 6.0 * M_PER_IN  # between plate and batter's box
# Width, front line and back line from the middle of the plate. Softball: 3 x 7 ft, front line 4 ft ahead of the middle
# (US fastpitch and ISF rules). Baseball: 4 x 6 ft about the middle (Official Baseball Rules).
SOFTBALL_BOX_M = (3.0 * M_PER_FT, 4.0 * M_PER_FT, -3.0 * M_PER_FT)
BASEBALL_BOX_M = (4.0 * M_PER_FT, 3.0 * M_PER_FT, -3.0 * M_PER_FT)
# Rear tip of the plate to the front of the pitcher's plate: slow-pitch softball (ASA rule 2; fastpitch is 43 ft for
# women, 46 ft for men), baseball (Official Baseball Rules).
SOFTBALL_PITCHING_M = 50.0 * M_PER_FT
BASEBALL_PITCHING_M = 60.5 * M_PER_FT

POLE_POINTS = ("left_pole_base", "right_pole_base")  # known only where a fence is
FREE_POINTS = ("tee_base",)  # named, but with no fixed place: the mark itself must say where


def is_chalk(point: str) -> bool:
    """Whether a named point lies on chalk or paint that was laid by hand, and may lie off its place."""
    return "_box_" in point


def pitching_distance_m(ball_kind: str) -> float:
    """Distance of the pitcher's plate where a lesson states none. [m]"""
    return BASEBALL_PITCHING_M if ball_kind == "baseball" else SOFTBALL_PITCHING_M


def named_points(
    ball_kind: str, base_path_m: float, pitching_m: float | None = None, fence: Fence | None = None
) -> dict[str, Place]:
    """Every named point of the field, in the field frame. [m] Left and right are the catcher's.

    Parameters
    ----------
    ball_kind : str
        One of ``BALL_KINDS``: whose rules draw the batter's boxes.
    base_path_m : float
        From base to base. [m]
    pitching_m : float, optional
        Rear tip of the plate to the front edge of the pitcher's plate. [m] Without: `pitching_distance_m`.
    fence : Fence, optional
        Without: no pole bases.
    """
    half, depth = PLATE_HALF_M, PLATE_DEPTH_M
    points = {
        "plate_tip": (0.0, 0.0),
        "plate_left": (-half, half),
        "plate_right": (half, half),
        "plate_front_left": (-half, depth),
        "plate_front_right": (half, depth),
        **_box_corners(ball_kind),
        "first_base_back": _on_foul_line(1.0, base_path_m),
        "second_base_center": (0.0, sqrt(2.0) * base_path_m),
        "third_base_back": _on_foul_line(-1.0, base_path_m),
        "pitchers_plate_front": (0.0, pitching_distance_m(ball_kind) if pitching_m is None else pitching_m),
    }
    if fence is not None:
        points["left_pole_base"] = _on_foul_line(-1.0, fence.distances_m[0])
        points["right_pole_base"] = _on_foul_line(1.0, fence.distances_m[-1])
    return {name: (x, y, 0.0) for name, (x, y) in points.items()}


def _box_corners(ball_kind: str) -> dict[str, tuple[float, float]]:
    """Outside corners of both boxes: the lines belong to the box."""
    width, front, back = BASEBALL_BOX_M if ball_kind == "baseball" else SOFTBALL_BOX_M
    inner = PLATE_HALF_M + BOX_GAP_M
    return {
        f"{side}_box_{edge}_{end}": (sign * x, PLATE_HALF_M + y)
        for side, sign in (("left", -1.0), ("right", 1.0))
        for edge, x in (("inner", inner), ("outer", inner + width))
        for end, y in (("back", back), ("front", front))
    }


def _on_foul_line(sign: float, distance_m: float) -> tuple[float, float]:
    return sign * distance_m / sqrt(2.0), distance_m / sqrt(2.0)
