"""Motion and network together, on painted pictures."""

import numpy as np
import pytest
from pytest import approx

from balltrack.detect.candidates import Candidates
from balltrack.detect.confirm import add_finds, confirm, look_around
from balltrack.detect.motion import SizeLimits, find_candidates
from balltrack.detect.network import NEIGHBOUR_S, Finds, Network, load_network
from balltrack.detect.triple import Triple, triples
from balltrack.video.frames import Frame
from tests.track.painted import Ball, Scene, empty_field, paint

SCENE = Scene(size_px=(320, 240))
EMPTY = empty_field(SCENE)
LIMITS = SizeLimits(40.0, 80.0)


@pytest.fixture(scope="module")
def network() -> Network:
    return load_network()


def three(*balls: tuple[Ball, tuple[float, float]]) -> Triple:
    """Frames of balls, each with its step from frame to frame."""
    frames = []
    for k in (-1, 0, 1):
        moved = tuple(
            Ball((ball.centre_px[0] + k * step[0], ball.centre_px[1] + k * step[1]), ball.diameter_px)
            for ball, step in balls
        )
        frames.append(paint(SCENE, moved, k + 5, time_s=k * NEIGHBOUR_S))
    return Triple(*frames)


FLYING, RESTING = Ball((100.0, 90.0), 14.0), Ball((240.0, 180.0), 14.0)


def test_the_network_agrees_to_what_flies_and_not_to_what_only_lies_there(network: Network) -> None:
    triple = three((FLYING, (16.0, -6.0)), (RESTING, (0.0, 0.0)))
    found = find_candidates(triple.now, EMPTY, LIMITS)
    judged = confirm(network, triple, found, np.ones(len(found), dtype=np.bool_))
    likeness = {
        tuple(np.rint(centre / 10).astype(int)): like
        for centre, like in zip(judged.centre_px, judged.likeness, strict=True)
    }
    assert likeness[10, 9] > 0.5
    assert likeness[24, 18] == 0.0


def test_what_nobody_asked_about_has_no_likeness(network: Network) -> None:
    triple = three((FLYING, (16.0, -6.0)), (RESTING, (0.0, 0.0)))
    found = find_candidates(triple.now, EMPTY, LIMITS)
    near = np.linalg.norm(found.centre_px - FLYING.centre_px, axis=1) < 10
    judged = confirm(network, triple, found, near)
    assert np.isfinite(judged.likeness[: len(found)][near]).all()
    assert np.isnan(judged.likeness[np.linalg.norm(judged.centre_px - RESTING.centre_px, axis=1) < 10]).all()
    nothing = confirm(network, triple, found, np.zeros(len(found), dtype=np.bool_))
    assert np.isnan(nothing.likeness).all()


def in_pieces() -> Candidates:
    """A ball of 14 px as motion sees it behind a net: three strands' worth of it."""
    centre = np.array([[96.0, 86.0], [104.0, 88.0], [99.0, 95.0]])
    one = np.ones(3)
    axis = np.tile([1.0, 0.0], (3, 1))
    return Candidates(0.0, centre, 4.0 * one, 5.0 * one, axis, np.full((3, 3), 120.0), 2.0 * one, np.full(3, np.nan))


def test_a_ball_in_pieces_is_taken_whole_from_the_network() -> None:
    triple = three((FLYING, (16.0, -6.0)))
    finds = Finds(np.array([[93.0, 83.0, 107.0, 97.0]]), np.array([0.8]))
    judged = add_finds(in_pieces(), finds, triple)
    assert len(judged) == 4
    assert judged.likeness[:3] == approx([0.0, 0.0, 0.0])
    assert judged.likeness[3] == approx(0.8)
    assert judged.centre_px[3] == approx([100.0, 90.0])
    assert judged.width_px[3] == approx(14.0)


def test_what_motion_has_not_seen_is_added_where_the_network_looks(network: Network) -> None:
    triple = three((FLYING, (16.0, -6.0)))
    found = find_candidates(triple.now, EMPTY, LIMITS)
    beside = found.only(np.zeros(len(found), dtype=np.bool_))
    finds = look_around(network, triple, np.array([110.0, 100.0]))
    assert len(add_finds(beside, finds, triple)) == 1


@pytest.mark.parametrize("place", [(0.0, 0.0), (319.0, 239.0), (-500.0, 900.0)])
def test_looking_at_the_edge_of_the_picture_or_beyond_finds_nothing_and_breaks_nothing(
    network: Network, place: tuple[float, float]
) -> None:
    triple = three((RESTING, (0.0, 0.0)))
    assert len(look_around(network, triple, np.array(place))) == 0


@pytest.mark.parametrize("fps", [25.0, 60.0, 240.0])
def test_every_frame_gets_its_neighbours_and_few_are_kept(fps: float) -> None:
    blank = paint(Scene(size_px=(32, 32)), (), 0)
    frames = [Frame(k, k / fps, blank.luma, blank.cb, blank.cr) for k in range(60)]
    alive = 0

    def stream() -> object:
        nonlocal alive
        for frame in frames:
            alive += 1
            yield frame

    given = []
    for triple in triples(stream()):  # type: ignore[arg-type]
        given.append(triple.now.index)
        # A frame is given once the one a sixtieth of a second later is known, not at the end of the clip.
        assert alive - triple.now.index <= max(2, round(NEIGHBOUR_S * fps) + 2)
        if 10 < triple.now.index < 50:
            apart = max(1, round(NEIGHBOUR_S * fps))
            assert triple.now.index - triple.before.index == apart == triple.after.index - triple.now.index
    assert given == list(range(60))
