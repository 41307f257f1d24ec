"""The batted ball among what else moves. Flights by scipy, projection by OpenCV (see sightings.py)."""

from dataclasses import replace

import numpy as np
import pytest

from balltrack.contact import Cue
from balltrack.detect.candidates import Candidates
from balltrack.detect.samples import Samples
from balltrack.errors import PitchWentOn, TrackError
from balltrack.track.arcs import sight
from balltrack.track.linked import Linked
from balltrack.track.search import contact_prior, find_batted_balls, learn_empty_field, size_limits
from balltrack.units import MPS_PER_MPH, Floats
from tests.flight.simulated import BALL_DIAMETER_M, SET_UPS, Truth, fly_truth
from tests.track.painted import Ball, Scene, paint
from tests.track.sightings import END_S, YELLOW, Filmed, Mover, Place, film, filmed_from, seen_at

PLACES = list(SET_UPS)
REACH_S = 0.03  # batter and bat hide the ball so long


def heard(time_s: float) -> Cue:
    return Cue(time_s, 0.006, heard=True, strength_db=30.0, swung=5.0)


def batted(seed: int) -> tuple[Truth, Place]:
    """A ball hit at 50 to 90 mph, -5 to 40 degrees up, within 35 degrees of the middle."""
    rng = np.random.default_rng([seed, 7])
    speed, launch, spray = rng.uniform(50, 90) * MPS_PER_MPH, *np.radians(rng.uniform((-5, -35), (40, 35)))
    velocity = speed * np.array([np.cos(launch) * np.sin(spray), np.cos(launch) * np.cos(spray), np.sin(launch)])
    position = np.array([0.0, 0.6, 0.85]) + rng.normal(0, 0.12, 3)
    truth, path = fly_truth(rng, velocity, position, 1.0 + rng.uniform(-0.01, 0.01))
    return truth, lambda time_s: path(min(max(time_s - truth.contact_s, 0.0), truth.hang_s))


def as_mover(truth: Truth, place: Place) -> Mover:
    return Mover(place, BALL_DIAMETER_M, YELLOW, truth.contact_s + REACH_S, truth.contact_s + truth.hang_s)


def off_the_ball_px(linked: Linked, filmed: Filmed, truth: Truth, place: Place) -> Floats:
    """How far the linked flight passes from the true pixels, in the first 0.3 s, over ball widths plus 3 px."""
    misses = []
    for since_s in np.arange(0.05, min(0.3, truth.hang_s), 0.02):
        pixel, scale = seen_at(place, truth.contact_s + since_s, filmed.camera)
        if np.isfinite(pixel).all():
            row_s = truth.contact_s + since_s + 0.012 * pixel[1] / 1080
            guess = sight(linked.arc[None], np.array([row_s]), filmed.view).centre_px[0, 0]
            misses.append(np.linalg.norm(guess - pixel) / (scale * BALL_DIAMETER_M + 3.0))
    return np.array(misses)


@pytest.mark.parametrize(("fps", "until_s", "seeds"), [(30.0, 2.0, (4, 7)), (60.0, 1.8, (1,)), (240.0, 1.35, (3,))])
@pytest.mark.parametrize("name", PLACES)
def test_a_batted_ball_is_found_in_clutter(name: str, fps: float, until_s: float, seeds: tuple[int, ...]) -> None:
    filmed = filmed_from(name)
    for seed in seeds:
        truth, place = batted(seed)
        frames = film([as_mover(truth, place)], filmed, fps, seed, until_s)
        linked = find_batted_balls(frames, filmed.view, contact_prior(heard(truth.contact_s + 0.002), None)).balls[0]
        # What the sub-pixel search needs: on the ball within half its width and 1.5 px.
        assert np.median(off_the_ball_px(linked, filmed, truth, place)) < 0.5
        assert linked.hits >= 4
        assert linked.hits_before_contact <= 1


def bouncing(seed: int) -> tuple[Truth, Place]:
    """A ball hit down at 60 to 80 mph that bounces 3 to 6 m away and hops on with half its fall and most of its run."""
    rng = np.random.default_rng([seed, 8])
    speed, launch, spray = rng.uniform(60, 80) * MPS_PER_MPH, *np.radians(rng.uniform((-9, -20), (-6, 20)))
    velocity = speed * np.array([np.cos(launch) * np.sin(spray), np.cos(launch) * np.cos(spray), np.sin(launch)])
    truth, path = fly_truth(rng, velocity, np.array([0.0, 0.6, 0.85]), 1.0)
    landing = path(truth.hang_s)
    before = (landing - path(truth.hang_s - 0.001)) / 0.001
    after = before * [0.8, 0.8, -0.5]

    def place(time_s: float) -> Floats:
        since = time_s - truth.contact_s - truth.hang_s
        if since <= 0:
            return path(max(time_s - truth.contact_s, 0.0))
        height = after[2] * since - 0.5 * 9.80665 * since**2
        return np.asarray([*(landing[:2] + after[:2] * since), landing[2] + max(height, 0.0)])

    return truth, place


@pytest.mark.parametrize("name", PLACES)
def test_of_a_ground_ball_that_bounces_the_flight_before_the_bounce_is_found(name: str) -> None:
    filmed = filmed_from(name)
    truth, place = bouncing(1)
    ball = Mover(place, BALL_DIAMETER_M, YELLOW, truth.contact_s + REACH_S, truth.contact_s + 0.9)
    frames = film([ball], filmed, 60.0, 1, 1.9)
    balls = find_batted_balls(frames, filmed.view, contact_prior(heard(truth.contact_s), None)).balls
    # One of the few that are followed; the hops after the bounce, told backwards, may look likelier still.
    off = [float(np.median(off_the_ball_px(linked, filmed, truth, place))) for linked in balls[:4]]
    assert min(off) < 0.5


@pytest.mark.parametrize("name", PLACES)
def test_a_thing_that_appears_and_stays_where_it_is_in_the_picture_is_no_ball(name: str) -> None:
    filmed = filmed_from(name)
    eye = filmed.camera[3:6]

    def straight_away(time_s: float) -> Floats:
        start = np.array([0.0, 0.6, 0.85])
        return start + (start - eye) / np.linalg.norm(start - eye) * 25.0 * max(time_s - 1.0, 0.0)

    frames = film([Mover(straight_away, BALL_DIAMETER_M, YELLOW, 1.02, 1.3)], filmed, 60.0, 1, 1.6)
    with pytest.raises(TrackError):
        find_batted_balls(frames, filmed.view, contact_prior(heard(1.0), None))


def walker(seed: int) -> list[Mover]:
    """Somebody who walks by at 1.4 m/s, 9 m ahead; head, hands and feet are candidates of their own."""
    phase = np.random.default_rng(seed).uniform(0, 2 * np.pi)

    def part(height_m: float, swing_m: float, turn: float) -> Place:
        def place(time_s: float) -> Floats:
            swing = swing_m * np.sin(2 * np.pi * 0.9 * time_s + phase + turn)
            return np.array([-2.0 + 1.4 * time_s + swing, 9.0, height_m])

        return place

    parts = [(1.65, 0.0, 0.0), (0.8, 0.3, 0.0), (0.8, 0.3, np.pi), (0.1, 0.35, 0.0), (0.1, 0.35, np.pi)]
    return [Mover(part(*each), 0.15) for each in parts]


def bird(seed: int) -> list[Mover]:
    """A bird that crosses at 11 m/s, 20 m out and 7 m up; its wings beat, so its width does too."""
    way = 1.0 if seed % 2 else -1.0
    return [Mover(lambda t: np.array([way * (11.0 * t - 15.0), 20.0, 7.0 + 0.4 * t]), 0.25, size_spread=0.5)]


def pitched(speed_mps: float, seed: int) -> list[Mover]:
    """A ball from the pitcher that crosses the plate at 1 s, not hit, until the catcher or the ground has it.

    Closed form without drag: that a missed ball flies on, not how, is what matters here.
    """
    aside = np.random.default_rng(seed).uniform(-0.1, 0.1)
    rise = {True: 7.0, False: 1.0}[speed_mps < 15]  # a slow pitch comes in an arc, a fast one flat

    def place(time_s: float) -> Floats:
        since = time_s - 1.0
        fall = rise - 9.80665 * (since + 13.0 / speed_mps)  # vertical speed now
        height = 0.8 + fall * since + 0.5 * 9.80665 * since**2
        return np.array([aside, 0.3 - speed_mps * since, height])

    end_s = min(1.0 + 2.0 / speed_mps, END_S)
    return [Mover(place, BALL_DIAMETER_M, YELLOW, 1.0 - 12.5 / speed_mps, end_s)]


def bat_tip(seed: int) -> list[Mover]:
    """The barrel's end on a circle of 1 m about the batter, once round in 0.25 s, slower at both ends of the swing."""
    tilt = np.random.default_rng(seed).uniform(0.0, 0.3)

    def place(time_s: float) -> Floats:
        turn = 2 * np.pi * np.clip((time_s - 1.0) / 0.25, -0.5, 0.6)
        return np.array([-0.9 + np.cos(turn), 0.5 + np.sin(turn), 0.9 + tilt * np.sin(turn)])

    return [Mover(place, 0.066, (90.0, 128.0, 128.0), 0.88, 1.15, size_spread=0.3)]


def nothing(seed: int) -> list[Mover]:
    """Leaves and noise alone."""
    return []


NOT_BATTED = {
    "clutter": nothing,
    "a walker": walker,
    "a bird": bird,
    "a fast pitch that is missed": lambda seed: pitched(26.0, seed),
    "a slow pitch that is missed": lambda seed: pitched(11.0, seed),
    "a bat's tip": bat_tip,
}


@pytest.mark.parametrize("what", list(NOT_BATTED))
@pytest.mark.parametrize("name", PLACES)
def test_what_was_not_batted_is_refused_with_a_reason(name: str, what: str) -> None:
    filmed = filmed_from(name)
    frames = film(NOT_BATTED[what](3), filmed, 60.0, 3, 1.6)
    with pytest.raises(TrackError, match=r"\w+ \w+ \w+"):
        find_batted_balls(frames, filmed.view, contact_prior(heard(1.0), None))


def test_a_batted_ball_is_found_beside_walker_bird_bat_and_the_pitch_that_it_was() -> None:
    filmed = filmed_from("behind")
    truth, place = batted(1)
    (pitch,) = pitched(11.0, 1)
    came = Mover(pitch.place, pitch.size_m, YELLOW, pitch.from_s, truth.contact_s)
    frames = film([as_mover(truth, place), came, *walker(1), *bird(1), *bat_tip(1)], filmed, 60.0, 1, 1.9)
    linked = find_batted_balls(frames, filmed.view, contact_prior(heard(truth.contact_s), None)).balls[0]
    assert np.median(off_the_ball_px(linked, filmed, truth, place)) < 0.5


def test_too_few_frames_hold_no_ball() -> None:
    filmed = filmed_from("behind")
    truth, place = batted(1)
    frames = film([as_mover(truth, place)], filmed, 60.0, 1, 1.0)
    for few in (frames[:0], frames[:2]):
        with pytest.raises(TrackError):
            find_batted_balls(few, filmed.view, contact_prior(heard(truth.contact_s), None))


def test_a_marked_tee_narrows_where_contact_may_have_been() -> None:
    free, held = contact_prior(heard(1.0), None), contact_prior(heard(1.0), np.array([0.1, 0.7, 0.0]))
    assert held.mean[:2] == pytest.approx([0.1, 0.7])
    assert np.all(held.sd[:2] < 0.5 * free.sd[:2])
    assert 0.3 < held.mean[2] < 1.3  # the ball sits on the tee, not on its foot; common practice: 0.5 to 1.1 m
    assert held.mean[6] == 1.0
    assert held.sd[6] == pytest.approx(0.006)


def test_size_limits_admit_the_nearest_and_fastest_ball_and_grow_with_the_picture_of_it() -> None:
    behind, side = (size_limits(filmed_from(name).view, 1 / 60) for name in ("behind", "side-on"))
    # By hand: 1598 px x 0.097 m / 4 m, a ball hit back toward the phone behind the plate (5.6 m from contact).
    assert behind.widest_px > 1598 * 0.097 / 4.0
    assert behind.longest_px > behind.widest_px
    slow = size_limits(filmed_from("behind").view, 1 / 240)
    assert slow.longest_px < behind.longest_px  # a shorter frame cannot blur as much
    assert side.widest_px < 2 * behind.widest_px


@pytest.mark.parametrize("sampled", [True, False])
def test_the_empty_field_is_learnt_from_samples_of_the_clip_or_else_from_the_frames_around_the_swing(
    sampled: bool,
) -> None:
    scene, samples = Scene(size_px=(64, 48)), Samples()
    frames = [paint(scene, (Ball((5.0 + 2 * k, 20.0), 8.0),), k, time_s=0.8 + k / 30) for k in range(30)]
    for frame in frames if sampled else ():
        samples.add(frame)
    field = learn_empty_field(samples, frames, heard(1.0))
    truth = np.mean([paint(scene, (), 100 + k).luma for k in range(20)], axis=0)
    assert np.max(np.abs(field.luma - truth)) < 6  # four sd of the noise of one frame; the ball is 100 brighter


def told(frames: list[Candidates], filmed: Filmed, ball: Place | None) -> list[Candidates]:
    """As a network that makes no mistake would judge them: only what lies on the ball is one."""
    judged = []
    for frame in frames:
        like = np.zeros(len(frame))
        if ball is not None:
            pixel, scale = seen_at(ball, frame.time_s, filmed.camera)
            like[np.linalg.norm(frame.centre_px - pixel, axis=1) < 0.5 * scale * BALL_DIAMETER_M + 1.0] = 0.9
        judged.append(replace(frame, likeness=like))
    return judged


@pytest.mark.parametrize("name", PLACES)
def test_the_networks_word_makes_a_ball_surer_and_takes_a_false_one_away(name: str) -> None:
    filmed = filmed_from(name)
    truth, place = batted(4)
    frames = film([as_mover(truth, place)], filmed, 60.0, 4, 1.8)
    prior = contact_prior(heard(truth.contact_s), None)
    alone = find_batted_balls(frames, filmed.view, prior).balls[0]
    agreed = find_batted_balls(told(frames, filmed, place), filmed.view, prior).balls[0]
    assert agreed.evidence > alone.evidence + 5.0  # e^5: more than a hundred to one
    assert np.nanmean(agreed.likeness) > 0.7
    with pytest.raises(TrackError):
        find_batted_balls(told(frames, filmed, None), filmed.view, prior)


def test_a_clear_pitch_that_flies_on_is_a_miss_whatever_else_moves() -> None:
    filmed = filmed_from("side-on")
    (pitch,) = pitched(26.0, 3)
    truth, flung = batted(7)
    glove = Mover(flung, BALL_DIAMETER_M, from_s=truth.contact_s + REACH_S, until_s=truth.contact_s + 0.35)
    frames = told(film([pitch, glove], filmed, 120.0, 3, 1.8), filmed, pitch.place)
    with pytest.raises(PitchWentOn):
        find_batted_balls(frames, filmed.view, contact_prior(heard(1.0), None))
