"""What ends a ball's way early: a hitting net, a cage's netting, a gym's walls, a catcher's mitt."""

from dataclasses import dataclass, replace

import numpy as np

from .air_path import Air, Ball, Piece, follow, roam, still
from .arrays import Floats
from .room import room_of
from .scene_spec import SceneSpec, ball_of

NET_Y_M = 4.2  # where a lesson's hitting net stands
NET_HALF_M, NET_TALL_M = 2.1, 2.4
MITT_Y_M = -1.05  # where a catcher takes the ball
STEP_S, SEARCH_S = 5e-4, 3.0
STILL_AIR = Air(1.2, (0.0, 0.0), "constant", 0.4, "none")


@dataclass(frozen=True, slots=True, eq=False)
class _Wall:
    """A plane that a ball on its positive side has passed."""

    normal: Floats  # (3,) outward
    away_m: float
    soft: bool  # netting


def stopped(pieces: list[Piece], spec: SceneSpec, rng: np.random.Generator) -> list[Piece]:
    """The ball's way with what the venue puts in it. The first piece starts free."""
    if spec.net:
        pieces = _netted(pieces, spec, rng)
    walls = _walls(spec)
    for _ in range(3 if walls else 0):
        ended = _at_walls(pieces, walls, ball_of(spec), rng)
        if ended is None:
            break
        pieces = ended
    return pieces


def caught(pieces: list[Piece], begin_s: float) -> tuple[list[Piece], Floats | None]:
    """A ball that comes near the catcher after ``begin_s`` stays in the mitt; the place, if it does."""
    times = begin_s + np.arange(0.0, 1.0, STEP_S)
    path = follow(pieces, times)
    past = np.flatnonzero(path[:, 1] <= MITT_Y_M)
    if not len(past) or abs(path[past[0], 0]) > 0.7 or not 0.15 < path[past[0], 2] < 1.5:
        return pieces, None
    moment, place = float(times[past[0]]), path[past[0]]
    return [*(piece for piece in pieces if piece.start_s < moment), still(place, moment, np.inf)], place


def _netted(pieces: list[Piece], spec: SceneSpec, rng: np.random.Generator) -> list[Piece]:
    """Stop the ball in the hitting net where it meets it, and let it drop."""
    times = np.linspace(pieces[0].start_s, pieces[0].start_s + 0.6, 12001)
    path = follow(pieces, times)
    meets = np.flatnonzero((path[:, 1] >= NET_Y_M) & (np.abs(path[:, 0]) < NET_HALF_M) & (path[:, 2] < NET_TALL_M))
    if not len(meets) or path[meets[0], 1] > NET_Y_M + 0.05:
        return pieces
    moment, place = float(times[meets[0]]), path[meets[0]]
    kept = [piece for piece in pieces if piece.start_s < moment]
    slow = np.array([rng.normal(0, 0.3), -0.8, -0.2])
    return kept + roam(place, slow, np.zeros(3), STILL_AIR, ball_of(spec), moment, pieces[0].start_s + 6.0, "bounce")


def _walls(spec: SceneSpec) -> list[_Wall]:
    soft = spec.venue == "cage"
    if soft:
        half, tall, back = spec.cage_half_m, spec.cage_high_m, spec.cage_back_m
    elif spec.venue == "gym":
        room = room_of(spec)
        half, tall, back = room.half_x, room.tall, -room.back_y
    else:
        return []
    x, y, z = np.eye(3)
    sides = ((y, spec.stop_m), (-y, back), (x, half), (-x, half), (z, tall))
    return [_Wall(normal, away, soft) for normal, away in sides]


def _at_walls(pieces: list[Piece], walls: list[_Wall], ball: Ball, rng: np.random.Generator) -> list[Piece] | None:
    """The way with the first meeting of a wall carried out; None without one."""
    times = pieces[0].start_s + np.arange(0.0, SEARCH_S, STEP_S)
    path = follow(pieces, times)
    over = np.stack([path @ wall.normal + ball.radius_m - wall.away_m for wall in walls])
    crossed = (over[:, 1:] > 0) & (over[:, :-1] <= 0)
    if not crossed.any():
        return None
    first = int(np.flatnonzero(crossed.any(axis=0))[0])  # the last moment inside: what follows starts there
    wall = walls[int(np.flatnonzero(crossed[:, first])[0])]
    moment, place = float(times[first]), path[first]
    velocity = (path[first + 1] - path[first]) / STEP_S
    through = velocity @ wall.normal
    along = velocity - through * wall.normal
    if wall.soft:
        after = 0.12 * along - (0.5 + 0.02 * through) * wall.normal + np.array([rng.normal(0, 0.2), 0.0, 0.0])
    else:
        after = 0.75 * along - 0.5 * through * wall.normal
    kept = [piece for piece in pieces if piece.start_s < moment]
    kept[-1] = replace(kept[-1], end_s=moment)
    return kept + roam(place, after, np.zeros(3), STILL_AIR, ball, moment, pieces[0].start_s + 6.0, "bounce")
