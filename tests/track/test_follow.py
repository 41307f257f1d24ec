"""Following a ball frame by frame: painted pictures of a flight by scipy, projected by OpenCV."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from pytest import approx

from balltrack.camera.model import Camera
from balltrack.contact import Cue
from balltrack.detect.background import Background, Bytes
from balltrack.detect.network import Finds, Network, load_network
from balltrack.track.arcs import Prior, Seen, View, sight
from balltrack.track.ball import BallTrack
from balltrack.track.follow import FIRST_EXPOSURE_S, Guide, follow
from balltrack.track.follow import guide_of as guide_of_linked
from balltrack.track.linked import Linked
from balltrack.track.search import contact_prior
from balltrack.units import Floats
from balltrack.video.frames import Frame
from tests.flight.simulated import BALL_DIAMETER_M, Truth, see
from tests.track.painted import Ball, Scene, cover_right_of, empty_field, paint
from tests.track.sightings import Place, filmed_from
from tests.track.test_search import batted

SIZE_PX = (640, 360)  # a third of the usual: quicker to paint, balls as small as those of far flights
THIRD = 3.0
READOUT_S = 0.012
EXPOSURE_S = 1 / 400


@dataclass(frozen=True, eq=False)
class Flight:
    """A flight as filmed."""

    truth: Truth
    place: Place
    frames: list[Frame]
    empty: Background
    view: View
    camera: Floats  # (11,)


def small(parameters: Floats) -> Floats:
    """The same lens before a third of the pixels."""
    changed = parameters.copy()
    changed[6], changed[8:10] = parameters[6] / THIRD, (parameters[8:10] + 0.5) / THIRD - 0.5
    return changed


def pixel_at(place: Place, frame_s: float, camera: Floats) -> tuple[Floats, float]:
    """Where the ball is when its row is read, and when that is."""
    time_s, pixel = frame_s, np.full(2, np.nan)
    for _ in range(5):
        pixel = see(place(time_s)[None], camera)[0]
        if not np.isfinite(pixel).all() or not np.all((pixel > -20) & (pixel < np.array(SIZE_PX) + 20)):
            return np.full(2, np.nan), time_s
        time_s = frame_s + READOUT_S * float(np.clip(pixel[1], 0, SIZE_PX[1])) / SIZE_PX[1]
    return pixel, time_s


def ball_at(place: Place, frame_s: float, camera: Floats) -> Ball | None:
    pixel, time_s = pixel_at(place, frame_s, camera)
    if not np.isfinite(pixel).all():
        return None
    ends = see(np.array([place(time_s - EXPOSURE_S / 2), place(time_s + EXPOSURE_S / 2)]), camera)
    width = camera[6] * BALL_DIAMETER_M / np.linalg.norm(place(time_s) - camera[3:6])
    run = ends[1] - ends[0]
    return Ball((pixel[0], pixel[1]), float(width), (run[0], run[1]), sun=(-0.2, -0.5, 0.8))


def filmed_flight(name: str, seed: int, gone_s: float = 10.0) -> Flight:
    """60 frames a second from contact on; the ball is caught ``gone_s`` after it."""
    usual = filmed_from(name)
    camera = small(usual.camera)
    model = Camera(camera, np.eye(11) * 1e-10, SIZE_PX)
    truth, place = batted(seed)
    scene = Scene(size_px=SIZE_PX, seed=seed, texture=0.15)
    frames = []
    for k in range(45):
        frame_s = truth.contact_s + 0.005 + k / 60
        since_s = frame_s - truth.contact_s
        ball = ball_at(place, frame_s, camera) if since_s < min(gone_s, truth.hang_s) else None
        frames.append(paint(scene, (ball,) if ball else (), k, time_s=frame_s))
    return Flight(truth, place, frames, empty_field(scene), replace(usual.view, camera=model), camera)


def prior_of(flight: Flight) -> Prior:
    return contact_prior(Cue(flight.truth.contact_s, 0.006, True, 30.0, 5.0), None)


def guide_of(flight: Flight) -> Guide:
    """As the linking leaves it: off by 2 % in speed and a few centimetres."""
    arc = np.array(
        [*flight.truth.position_m + 0.02, *flight.truth.velocity_mps * 0.98, flight.truth.contact_s, 0.1, 0.0]
    )
    sd = np.array([0.05, 0.05, 0.05, 0.7, 0.7, 0.5, 0.002, 0.1, 0.08])
    nothing_ahead = Seen(np.zeros((1, 0)), np.zeros((1, 0, 2)), np.zeros((1, 0)))
    return Guide(arc, np.diag(sd**2), 1 / 500, nothing_ahead, np.zeros(0), None)


def followed(flight: Flight, frames: list[Frame] | None = None) -> BallTrack:
    return follow(
        flight.frames if frames is None else frames, flight.empty, guide_of(flight), flight.view, prior_of(flight)
    )


def errors_px(track: BallTrack, flight: Flight) -> Floats:
    """(n, 2) of the used rows."""
    where = []
    for row in np.flatnonzero(track.used).tolist():
        frame = min(flight.frames, key=lambda each: abs(each.time_s + READOUT_S / 2 - track.time_s[row]))
        where.append(track.centre_px[row] - pixel_at(flight.place, frame.time_s, flight.camera)[0])
    return np.array(where)


@pytest.mark.parametrize(("name", "seed"), [("behind", 1), ("45 degrees", 3), ("side-on", 2)])
def test_every_used_row_is_on_the_ball_at_the_time_that_its_row_was_read(name: str, seed: int) -> None:
    flight = filmed_flight(name, seed)
    track = followed(flight)
    assert track.used.sum() >= 5
    off = errors_px(track, flight)
    assert np.sqrt(np.mean(off**2)) < 0.4  # balls of 3 to 12 px; the sub-pixel search has tests of its own
    assert np.abs(off).max() < 1.5
    for row in np.flatnonzero(track.used).tolist():
        after = [track.time_s[row] - frame.time_s for frame in flight.frames]
        expected = READOUT_S * track.centre_px[row, 1] / SIZE_PX[1]
        assert min(abs(each - expected) for each in after) < 0.0005  # half a millisecond: 15 rows
    # The shutter that drew the streaks, to a tenth: half a pixel of theirs. A ball that flies straight away shows none.
    assert track.exposure_s == (None if name == "behind" else approx(EXPOSURE_S, rel=0.1))


def test_rows_are_one_a_frame_in_order_and_every_unused_one_has_a_reason() -> None:
    flight = filmed_flight("behind", 1)
    track = followed(flight)
    count = len(track.time_s)
    assert np.all(np.diff(track.time_s) > 0)
    assert len(track.source) == len(track.reason) == count <= len(flight.frames)
    assert all(bool(reason) != bool(used) for reason, used in zip(track.reason, track.used, strict=True))
    assert np.isfinite(track.centre_px[track.used]).all()
    assert np.all(track.centre_sd_px[track.used] > 0)


def test_following_ends_when_the_ball_has_left_the_picture() -> None:
    flight = filmed_flight("side-on", 2)
    track = followed(flight)
    assert track.reason[-1] == "left the picture"
    assert track.time_s[-1] < flight.truth.contact_s + 0.4  # 25 m/s across 6 m


def test_a_ball_caught_in_a_net_is_lost_and_nothing_is_used_after_it() -> None:
    flight = filmed_flight("behind", 1, gone_s=0.25)
    track = followed(flight)
    assert track.used.sum() >= 8
    assert track.time_s[track.used].max() < flight.truth.contact_s + 0.25 + READOUT_S
    assert track.time_s[-1] < flight.truth.contact_s + 0.25 + 0.25  # given up soon


def test_frames_in_which_somebody_hides_the_ball_are_not_used_and_the_ball_is_found_again_after_them() -> None:
    flight = filmed_flight("behind", 1)
    hidden = range(8, 12)
    left = int(pixel_at(flight.place, flight.frames[8].time_s, flight.camera)[0][0]) - 40
    scene = Scene(size_px=SIZE_PX)
    frames = [cover_right_of(f, left // 2 * 2, scene, k) if k in hidden else f for k, f in enumerate(flight.frames)]
    track = followed(flight, frames)
    during = [abs(track.time_s - READOUT_S / 2 - frames[k].time_s).argmin() for k in hidden]
    assert not track.used[during].any()
    assert track.used[max(during) + 1 :].sum() >= 5


def test_a_field_without_a_ball_gives_a_track_without_a_used_row() -> None:
    flight = filmed_flight("behind", 1, gone_s=0.0)
    assert not followed(flight).used.any()
    assert len(followed(flight, []).time_s) == 0


class Sharp(Network):
    """A stand-in that always finds the same thing, to see what following makes of it."""

    def __init__(self, finds: Finds) -> None:
        self.finds = finds

    def look(self, patches: Bytes, least_score: float = 0.0) -> list[Finds]:
        return [self.finds for _ in patches]


def test_the_network_cannot_put_a_ball_where_the_picture_has_none() -> None:
    flight = filmed_flight("behind", 1)
    blank = [
        paint(Scene(size_px=SIZE_PX, seed=1, texture=0.15), (), k, time_s=f.time_s) for k, f in enumerate(flight.frames)
    ]
    always = Finds(np.array([[56.0, 56.0, 72.0, 72.0]]), np.array([0.9]))
    guide = replace(guide_of(flight), network=Sharp(always))
    track = follow(blank, flight.empty, guide, flight.view, prior_of(flight))
    assert not track.used.any()


def test_a_ball_that_the_expected_place_misses_is_found_again_by_the_network() -> None:
    # An arc 3 % too fast: the ball runs out of the place where it is sought.
    flight = filmed_flight("side-on", 1)
    true = guide_of(flight)
    arc = true.arc.copy()
    arc[3:6] *= 1.03
    doubtful = replace(true, arc=arc, covariance=true.covariance * 4)
    alone = follow(flight.frames, flight.empty, doubtful, flight.view, prior_of(flight))
    helped = follow(
        flight.frames, flight.empty, replace(doubtful, network=load_network()), flight.view, prior_of(flight)
    )
    assert helped.used.sum() >= alone.used.sum()
    assert np.median(np.linalg.norm(errors_px(helped, flight), axis=1)) < 0.5
    assert set(helped.source) <= {"motion", "network", "both"}


def test_the_shutter_time_is_told_by_the_candidates_streaks() -> None:
    flight = filmed_flight("side-on", 1)
    guide = guide_of(flight)
    times = flight.truth.contact_s + np.arange(1, 9) / 60
    now = sight(guide.arc[None], times, flight.view)
    ends = sight(guide.arc[None], np.concatenate([times - 0.002, times + 0.002]), flight.view).centre_px[0]
    streak = np.linalg.norm(ends[8:] - ends[:8], axis=1)  # of a shutter of 4 ms
    seen = Seen(times[None], now.centre_px, now.width_px)
    ball = Linked(guide.arc, guide.covariance, 50.0, 8, 1.0, 6, 0, 0.3, 9.0, seen, np.full(8, np.nan), streak)
    # Motion over the exposure is nearly even: a tenth.
    assert guide_of_linked(ball, flight.view, None).exposure_s == approx(0.004, rel=0.1)
    still = replace(ball, streak_px=np.zeros(8))
    assert guide_of_linked(still, flight.view, None).exposure_s == FIRST_EXPOSURE_S
    with_bat = replace(ball, streak_px=np.where(np.arange(8) < 3, 10 * streak, 0.0))
    assert guide_of_linked(with_bat, flight.view, None).exposure_s == FIRST_EXPOSURE_S
