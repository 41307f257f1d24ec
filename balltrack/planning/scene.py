"""All that is to be filmed: the marks on the ground, the hits, and who stands before them."""

from dataclasses import dataclass

import numpy as np

from balltrack.field import Ball, Fence, named_points
from balltrack.lesson import Delivery
from balltrack.planning.hits import Expected, Hit, Side, expected_hits
from balltrack.planning.people import Body, bodies
from balltrack.planning.phone import Phone
from balltrack.units import Floats

MARKED = ("plate_", "left_box_", "right_box_")  # what can be marked on every field: the beginnings of their names


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The field as entered."""

    ball: Ball
    base_path_m: float
    fence: Fence | None  # or a net: what ends a flight

    @property
    def marks_m(self) -> Floats:
        """(13, 3) the plate's five corners first, then those of the boxes."""
        points = named_points(self.ball.kind, self.base_path_m)
        return np.array([place for name, place in points.items() if name.startswith(MARKED)])

    @property
    def plate_m(self) -> Floats:
        """(5, 3) the plate's corners in the order of its outline."""
        return self.marks_m[[0, 1, 3, 4, 2]]

    @property
    def boxes_m(self) -> tuple[Floats, Floats]:
        """Two of (4, 3): the corners of the left and the right box in the order of their outlines."""
        corners = self.marks_m[5:]
        return corners[[0, 1, 3, 2]], corners[[4, 5, 7, 6]]


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """What a phone will have to film."""

    phone: Phone
    ground: Ground
    expected: Expected
    hits: tuple[Hit, ...]
    people: tuple[Body, ...]

    @property
    def bats(self) -> Side:
        return self.expected.bats

    @property
    def delivery(self) -> Delivery:
        return self.expected.delivery


def scene_of(phone: Phone, ground: Ground, expected: Expected, hits: int) -> Scene:
    """The scene with so many hits that stand for all."""
    return Scene(
        phone,
        ground,
        expected,
        expected_hits(expected, ground.ball, ground.fence, phone.frames_per_s, hits),
        bodies(expected),
    )
