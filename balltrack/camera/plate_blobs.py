"""Bright spots that have the outline of a home plate lying on the ground, and the cameras that would see it so."""

from dataclasses import dataclass
from functools import cache
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.camera.model import PARAMETERS
from balltrack.camera.plate_model import plate_outline_m
from balltrack.camera.still import Bytes
from balltrack.units import Floats

LEVEL_STEP = 10  # codes of luma between the levels at which spots are cut out
NARROWEST_SHARE, BROADEST_SHARE = 0.015, 0.35  # a plate's breadth, of the longer side
FLATTEST_PX = 4
LEAST_FILL = 0.5  # of a spot's hull: a tee's foot may cover much of a plate
DIRECTIONS = 48  # in which outlines are compared
HEADINGS_RAD = np.radians(np.arange(0.0, 360.0, 6.0))
DEPRESSIONS_RAD = np.radians([3.0, 4.2, 5.6, 7.4, 9.5, 12.0, 15.0, 18.5, 22.5, 27.0, 32.0, 38.0, 46.0, 56.0, 70.0])
ROLLS_RAD = np.radians([-6.0, -3.0, 0.0, 3.0, 6.0])  # a tripod is set about level by eye
USUAL_DISTANCE_M = 6.0  # for the foreshortening of an outline; hardly matters
FARTHEST_OUTLINE = 0.16  # greatest rms difference of two outlines, in units of the square root of their area
MOST_PLACES, CUTS_A_PLACE, VIEWS_A_SPOT = 40, 3, 8  # a place is cut out at several levels
PIXEL_CORNERS = np.array([[-0.5, -0.5], [-0.5, 0.5], [0.5, -0.5], [0.5, 0.5]])
MOST_NEAREST = 240  # outlines from which the views of a spot are chosen


@dataclass(frozen=True, slots=True, eq=False)
class PlateView:
    """A spot, and one way of seeing a plate in it."""

    centre_px: Floats  # (2,) of the outline
    scale_px: float  # pixels per metre across the line of sight
    heading_rad: float  # of the line of sight in the ground, 0 toward second base, positive toward first
    depression_rad: float  # of the line of sight below the horizon
    roll_rad: float
    misfit: float  # rms difference of outlines, in units of the square root of the area
    box_px: tuple[int, int, int, int]  # the spot's left, top, width, height

    def parameters(self, focal_px: float, size_px: tuple[int, int]) -> Floats:
        """(11,) camera parameters, with this focal length, that see the plate so."""
        sight = _sight(self.heading_rad, self.depression_rad)
        right = np.array([np.cos(self.heading_rad), -np.sin(self.heading_rad), 0.0])
        level = np.array([right, np.cross(sight, right), sight])
        cos, sin = np.cos(self.roll_rad), np.sin(self.roll_rad)
        rolled = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]]) @ level
        middle = (np.array(size_px) - 1) / 2
        parameters = np.zeros(len(PARAMETERS))
        parameters[:3] = cv2.Rodrigues(np.asarray(_aim(self.centre_px - middle, focal_px) @ rolled))[0].ravel()
        centre_m = np.array([*_centroids(plate_outline_m()[None])[0][0], 0.0])
        parameters[3:6] = centre_m - sight * focal_px / self.scale_px
        parameters[6], parameters[8:10] = focal_px, middle
        return parameters


@dataclass(frozen=True, slots=True, eq=False)
class _Spot:
    outline: Floats  # (n, 2) its hull as a camera with the same lens would see it that looks straight at it [px]
    sight_px: Floats  # (2,) the pixel that such a camera has in its middle
    middle_px: Floats  # (2,) of the picture
    box_px: tuple[int, int, int, int]  # left, top, width, height


@dataclass(frozen=True, slots=True, eq=False)
class _Templates:
    """Outlines of a plate lying on the ground, seen from all round, 1 px to the metre."""

    shapes: NDArray[np.float32]  # (m, DIRECTIONS)
    shapes_sq: NDArray[np.float32]  # (m,) sums of their squares
    settings_rad: Floats  # (m, 3) heading, depression, roll
    areas_m2: Floats  # (m,)
    centroids_m: Floats  # (m, 2)


def without_wires(luma: Bytes, share: float) -> Bytes:
    """The picture without dark wires and posts up to so broad, as a share of its longer side; edges stay in place."""
    breadth = 2 * round(share * max(luma.shape) / 2) + 1
    return np.asarray(cv2.morphologyEx(luma, cv2.MORPH_CLOSE, np.ones((breadth, breadth), np.uint8)), np.uint8)


def plate_views(luma: Bytes, focal_px: float) -> list[PlateView]:
    """Every bright spot that may be a plate, in each of the few ways in which it may, the likeliest spot first.

    ``focal_px`` is roughly that of the lens, which draws out what lies far from the picture's middle.
    """
    spots = _spots(luma, focal_px)
    if not spots:
        return []
    described = [_describe_one(spot.outline) for spot in spots]
    table, length = _templates().shapes, _templates().shapes_sq
    shapes = np.array([shape for shape, _, _ in described], np.float32)
    gaps = length + np.sum(shapes**2, axis=1)[:, None] - 2.0 * shapes @ table.T
    misfits = np.sqrt(np.maximum(gaps, 0.0) / DIRECTIONS)
    centres = np.array([spot.sight_px for spot in spots])
    widths = np.array([spot.box_px[2] for spot in spots])
    views: list[PlateView] = []
    places: list[int] = []
    for i in np.argsort(misfits.min(axis=1)):
        near = [j for j in places if np.hypot(*(centres[j] - centres[i])) < 0.25 * widths[j]]
        if misfits[i].min() > FARTHEST_OUTLINE:
            break
        if len(near) < CUTS_A_PLACE and (near or len(set(places)) < MOST_PLACES):
            places.append(int(i))
            views += _views_of(spots[i], misfits[i], described[i], focal_px)
    return views


def _spots(luma: Bytes, focal_px: float) -> list[_Spot]:
    """What is brighter than its surroundings at some level, and neither too small nor too large."""
    longer = max(luma.shape)
    luma = np.asarray(cv2.medianBlur(luma, 3), np.uint8)  # grain makes a thousand spots
    found = []
    for level in range(LEVEL_STEP * 4, 250, LEVEL_STEP):
        count, labels, stats, _ = cv2.connectedComponentsWithStats((luma > level).astype(np.uint8), connectivity=8)
        left, top, width, height, area = stats.T
        right, bottom = left + width, top + height
        plausible = (width >= NARROWEST_SHARE * longer) & (width <= BROADEST_SHARE * longer)
        plausible &= (height >= FLATTEST_PX) & (height <= 1.3 * width) & (area >= 0.25 * width * height)
        plausible &= (left > 0) & (top > 0) & (right < luma.shape[1]) & (bottom < luma.shape[0])
        for i in np.flatnonzero(plausible[:count]):
            if i == 0:
                continue
            part = labels[top[i] : bottom[i], left[i] : right[i]] == i
            rows, columns = np.nonzero(part)
            hull = cv2.convexHull(np.column_stack([columns, rows]).astype(np.int32))[:, 0, :].astype(float)
            # A pixel is a square: the hull of centres is half a pixel small all round.
            squares = (hull[:, None, :] + PIXEL_CORNERS).reshape(-1, 2).astype(np.float32)
            outline = cv2.convexHull(squares)[:, 0, :].astype(float)
            if area[i] >= LEAST_FILL * cv2.contourArea(outline.astype(np.float32)):
                box = (int(left[i]), int(top[i]), int(width[i]), int(height[i]))
                found.append(_faced(outline + np.array([left[i], top[i]]), box, luma.shape, focal_px))
    return found


def _faced(outline: Floats, box_px: tuple[int, int, int, int], shape: tuple[int, ...], focal_px: float) -> _Spot:
    middle = np.array([(shape[1] - 1) / 2, (shape[0] - 1) / 2])
    sight = outline.mean(axis=0)
    rays = np.column_stack([(outline - middle) / focal_px, np.ones(len(outline))]) @ _aim(sight - middle, focal_px)
    return _Spot(focal_px * rays[:, :2] / rays[:, 2:], sight, middle, box_px)


def _aim(offset_px: Floats, focal_px: float) -> Floats:
    """(3, 3) the least rotation that turns the optical axis to a pixel so far from the picture's middle."""
    towards = np.array([*(offset_px / focal_px), 1.0])
    axis = np.cross([0.0, 0.0, 1.0], towards)
    sine = float(np.linalg.norm(axis))
    if sine < 1e-9:
        return np.eye(3)
    return np.asarray(cv2.Rodrigues(axis / sine * np.arctan(sine))[0], float)  # its third part is one


def _views_of(
    spot: _Spot, misfits: NDArray[np.float32], described: tuple[Floats, Floats, Floats], focal_px: float
) -> list[PlateView]:
    """The ways of seeing a plate that come nearest to an outline, apart by more than two steps of heading."""
    known = _templates()
    _, centre, area = described
    aim = _aim(spot.sight_px - spot.middle_px, focal_px)
    chosen: list[int] = []
    nearest = np.argpartition(misfits, MOST_NEAREST)[:MOST_NEAREST]
    for i in nearest[np.argsort(misfits[nearest])]:
        if misfits[i] > FARTHEST_OUTLINE or len(chosen) == VIEWS_A_SPOT:
            break
        turn = np.abs(np.angle(np.exp(1j * (known.settings_rad[chosen, 0] - known.settings_rad[i, 0]))))
        tilt = np.abs(np.log(known.settings_rad[chosen, 1] / known.settings_rad[i, 1]))
        if not np.any((turn < np.radians(15.0)) & (tilt < 0.2)):
            chosen.append(int(i))
    views = []
    for i in chosen:
        scale = float(np.sqrt(area / known.areas_m2[i]))
        heading, depression, roll = (float(value) for value in known.settings_rad[i])
        ray = aim @ np.array([*(centre - scale * known.centroids_m[i]) / focal_px, 1.0])
        middle = spot.middle_px + focal_px * ray[:2] / ray[2]
        views.append(PlateView(middle, scale, heading, depression, roll, float(misfits[i]), spot.box_px))
    return views


def _describe(outlines: Floats) -> tuple[Floats, Floats, Floats]:
    """How far convex outlines (m, n, 2) reach in each direction from their centroids, in units of their size.

    Also the centroids (m, 2) and the areas (m,).
    """
    centres, areas = _centroids(outlines)
    angles = 2 * np.pi * np.arange(DIRECTIONS) / DIRECTIONS
    reach = np.max((outlines - centres[:, None]) @ np.array([np.cos(angles), np.sin(angles)]), axis=1)
    return reach / np.sqrt(areas)[:, None], centres, areas


def _describe_one(outline: Floats) -> tuple[Floats, Floats, Floats]:
    shapes, centres, areas = _describe(outline[None])
    return shapes[0], centres[0], areas[0]


@cache
def _templates() -> _Templates:
    plate = plate_outline_m()
    plate = plate - _centroids(plate[None])[0]
    settings = np.array(list(product(HEADINGS_RAD, DEPRESSIONS_RAD, ROLLS_RAD)))
    heading, depression, roll = settings.T[:, :, None]
    ahead = plate[:, 0] * np.sin(heading) + plate[:, 1] * np.cos(heading)
    aside = plate[:, 0] * np.cos(heading) - plate[:, 1] * np.sin(heading)
    nearness = 1.0 / (1.0 + ahead * np.cos(depression) / USUAL_DISTANCE_M)
    across, down = aside * nearness, -ahead * np.sin(depression) * nearness
    cos, sin = np.cos(roll), np.sin(roll)
    shapes, centres, areas = _describe(np.stack([across * cos - down * sin, across * sin + down * cos], axis=-1))
    table = shapes.astype(np.float32)
    return _Templates(table, np.sum(table**2, axis=1), settings, areas, centres)


def _sight(heading_rad: float, depression_rad: float) -> Floats:
    flat = np.cos(depression_rad)
    return np.array([flat * np.sin(heading_rad), flat * np.cos(heading_rad), -np.sin(depression_rad)])


def _centroids(polygons: Floats) -> tuple[Floats, Floats]:
    """(m, 2) centroids and (m,) areas of polygons (m, n, 2) (the shoelace formula)."""
    local = polygons - polygons[:, :1]
    ahead = np.roll(local, -1, axis=1)
    cross = local[..., 0] * ahead[..., 1] - ahead[..., 0] * local[..., 1]
    twice = np.sum(cross, axis=1)
    offsets = np.sum((local + ahead) * cross[..., None], axis=1) / (3.0 * twice[:, None])
    return polygons[:, 0] + offsets, np.abs(twice) / 2
