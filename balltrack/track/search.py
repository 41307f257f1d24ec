"""The batted ball of one swing: is there one, and which of the things that move is it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from balltrack.contact import CONTACT_M, Cue
from balltrack.detect.background import Background, median_background
from balltrack.detect.candidates import Candidates
from balltrack.detect.confirm import confirm, look_everywhere
from balltrack.detect.motion import Movers, SizeLimits
from balltrack.detect.network import Network
from balltrack.detect.samples import Samples
from balltrack.detect.triple import Triple, triples
from balltrack.errors import PitchWentOn, TrackError
from balltrack.track.arcs import TIME, Prior, View
from balltrack.track.link import link, plausible
from balltrack.track.linked import FASTEST_MPS, LARGEST_RMS, Linked
from balltrack.track.pool import row_time_s
from balltrack.units import Floats
from balltrack.video.frames import Frame

BEFORE_S, AFTER_S = 0.35, 2.3  # the stretch of a clip in which a swing's ball is sought
EMPTY_FIELD_S = (-0.15, 1.7)  # the empty field is learnt from here, while the batter stands as after contact
EMPTY_FIELD_FRAMES, EMPTY_FIELD_BYTES = 19, 130_000_000  # at most
ENOUGH_FRAMES = 9

LOOK_S = (-0.02, 0.25)  # from contact: what moves here is shown to the network
USUAL_AWAY_M = 4.0  # from the plate, half-way through that time

CONTACT_SD_M = np.array([0.22, 0.32, 0.28])  # contact points of all deliveries; common practice, no source
TEE_SD_M = np.array([0.06, 0.06, 0.3])  # a tee leans, and its foot is not marked to the centimetre
LIFT, LIFT_SD = np.array([0.1, 0.0]), np.array([0.13, 0.1])  # coefficients: 0 to 3000 rpm, mostly backspin
VELOCITY_MPS, VELOCITY_SD_MPS = np.array([0.0, 20.0, 6.0]), np.array([17.0, 18.0, 11.0])

LEAST_EVIDENCE = 12.0  # log likelihood ratio; chance alone passes about one window in a thousand of those tried
LEAST_HITS, LEAST_BEYOND_REACH = 4, 2
PITCH_HITS = 4
PITCH_TRAVEL = 3.0  # in widths: a pitch crosses the picture, a batter's limb sways
CLEAR_EVIDENCE = 40.0
BEHIND_DEG = 120.0
LEAST_TRAVEL = 1.5  # in widths: what stays where it is in the picture only looks like a ball flying straight away
LEAST_SHARE = 0.5
# The network finds more than nine in ten frames of a ball, and one in twenty of other movers (models/README.md).
ENOUGH_LOOKS, LEAST_LIKE, CLEARLY_LIKE = 5, 0.35, 0.7
# A ball that is tossed or pitched slowly looks as much like a ball: where less is asked of a flight, it must be faster.
TOSSED_MPS = 14.0  # common practice, no source
BALL_RMS = 2.0  # what is clearly a ball may leave its arc so much further: the arc is bad, and following mends it
LOWEST_CONTACT_M = (
    0.25  # nobody hits a ball at the ankles: what leaves from there has bounced (common practice, no source)
)
FURTHEST_FOUL_DEG = 80.0  # from the middle of the field
WENT_ON = "the pitched ball flew on past the batter"
NO_FASTER = "what flies there is no faster than a toss"
GOES_BACK = "the ball goes back, as a missed or tipped pitch does"


def contact_prior(cue: Cue, tee_base_m: Floats | None) -> Prior:
    """What is known of a batted ball before it is seen; ``tee_base_m`` (3,) where a tee of known place holds it."""
    place, place_sd = CONTACT_M, CONTACT_SD_M
    if tee_base_m is not None:
        place, place_sd = np.array([*tee_base_m[:2], CONTACT_M[2]]), TEE_SD_M
    return Prior(
        np.array([*place, *VELOCITY_MPS, cue.time_s, *LIFT]),
        np.array([*place_sd, *VELOCITY_SD_MPS, cue.sd_s, *LIFT_SD]),
    )


def learn_empty_field(samples: Samples, frames: Iterable[Frame], cue: Cue) -> Background:
    """Take the median of frames spread over the flight: those already kept, or else of the frames given."""
    start, stop = cue.time_s + EMPTY_FIELD_S[0], cue.time_s + EMPTY_FIELD_S[1]
    kept = samples.between(start, stop)
    return median_background(kept if len(kept) >= ENOUGH_FRAMES else _spread(frames, start, stop))


def _spread(frames: Iterable[Frame], start_s: float, stop_s: float) -> list[Frame]:
    """Evenly spaced frames of a stretch, fewer where they are large; where the clip is shorter, of what there is."""
    kept: list[Frame] = []
    for frame in frames:
        most = np.clip(EMPTY_FIELD_BYTES // frame.size_bytes, ENOUGH_FRAMES, EMPTY_FIELD_FRAMES)
        step_s = (stop_s - start_s) / int(most)
        if start_s <= frame.time_s <= stop_s and (not kept or frame.time_s - kept[-1].time_s >= step_s):
            kept.append(frame)
    return kept


def size_limits(view: View, slowest_frame_s: float) -> SizeLimits:
    """The largest picture of the ball that this camera can see."""
    nearest_m = max(0.45 * float(np.linalg.norm(view.camera.position_field_m - CONTACT_M)), 0.8)
    widest = view.camera.focal_px * view.ball_diameter_m / nearest_m
    blur = view.camera.focal_px * FASTEST_MPS * min(slowest_frame_s, 1 / 60) / nearest_m
    return SizeLimits(1.5 * widest + 3.0, 1.5 * widest + 0.6 * blur + 4.0)


@dataclass(frozen=True, slots=True, eq=False)
class Lookout:
    """What is needed to look for the batted ball of one swing."""

    movers: Movers
    view: View
    prior: Prior
    network: Network | None  # None: motion alone


@dataclass(frozen=True, slots=True)
class Pace:
    """How closely the frames around a contact are searched."""

    dense_s: tuple[float, float]  # from contact: here the ball is told from what else moves
    apart_s: tuple[float, float, float]  # between the frames before, in and after that stretch
    looks_apart_s: float  # between frames of which the network is asked
    wholes_apart_s: float  # between frames of which it searches the whole picture


NEVER_S = 1e9  # longer than any clip
# The flight's beginning tells the ball from what else moves. Few frames before it suffice to know a pitch, few after it
# to lead on a flight that is found; the sub-pixel search takes the frames between.
USUALLY = Pace((-0.05, 0.45), (1 / 32, 0.0065, 1 / 12), 1 / 45, NEVER_S)
CLOSELY = Pace((-0.05, 0.8), (1 / 32, 0.0065, 1 / 32), 1 / 80, 1 / 45)


def gather(frames: Iterable[Frame], lookout: Lookout, pace: Pace) -> list[Candidates]:
    """Find the candidates, of every frame but those that follow the last one too closely to add anything.

    Where a batted ball may be soon after contact, the network has its say about them.
    """
    found: list[Candidates] = []
    looked_s = whole_s = -NEVER_S / 2
    for triple in triples(frames):
        time_s = triple.now.time_s
        since_s = time_s - lookout.prior.mean[TIME]
        if found and time_s - found[-1].time_s < _apart_s(since_s, lookout.prior, pace):
            continue
        found.append(lookout.movers.of(triple.now))
        if time_s - looked_s >= pace.looks_apart_s and _worth_a_look(since_s, lookout.prior):
            looked_s = time_s
            found[-1] = confirmed(found[-1], triple, lookout)
        if time_s - whole_s >= pace.wholes_apart_s and 0.0 < since_s < LOOK_S[1]:
            whole_s = time_s
            found[-1] = _with_the_rest(found[-1], triple, lookout)
    return found


def _apart_s(since_s: float, prior: Prior, pace: Pace) -> float:
    """How far apart the frames that are searched may lie, so long after contact."""
    slack_s = 2 * float(prior.sd[TIME])
    before_s, dense_s, after_s = pace.apart_s
    if since_s < pace.dense_s[0] - slack_s:
        return before_s
    return dense_s if since_s < pace.dense_s[1] + slack_s else after_s


def _worth_a_look(since_s: float, prior: Prior) -> bool:
    """Whether the network is asked, so long after contact."""
    slack_s = 2 * float(prior.sd[TIME])
    return LOOK_S[0] - slack_s < since_s < LOOK_S[1] + slack_s


def confirmed(found: Candidates, triple: Triple, lookout: Lookout) -> Candidates:
    """The candidates with the network's word on those that may be the batted ball."""
    view, prior = lookout.view, lookout.prior
    if lookout.network is None:
        return found
    time_s = row_time_s(found.time_s, found.centre_px, view)
    return confirm(lookout.network, triple, found, plausible(time_s, found.centre_px, found.width_px, view, prior))


def _with_the_rest(found: Candidates, triple: Triple, lookout: Lookout) -> Candidates:
    """The candidates, and what the network finds anywhere in the picture."""
    if lookout.network is None:
        return found
    view = lookout.view
    away_m = float(np.linalg.norm(view.camera.position_field_m - CONTACT_M)) + USUAL_AWAY_M
    return look_everywhere(lookout.network, triple, found, view.camera.focal_px * view.ball_diameter_m / away_m)


@dataclass(frozen=True, slots=True, eq=False)
class Sought:
    """What a search for the batted ball came to."""

    balls: tuple[Linked, ...]  # what may be it, the likeliest first; at least one
    pitch_went_on: bool  # a ball that nobody hit was seen as well: believe it if none of these can be followed
    least_mps: float = 0.0  # a flight that is fitted to one of these and slower is not believed


def find_batted_balls(candidates: Sequence[Candidates], view: View, prior: Prior) -> Sought:
    """Link the candidates into what may be the batted ball.

    Raises
    ------
    TrackError
        If there is none, with the reason; PitchWentOn if the pitch was seen to fly on.
    """
    linked = link(candidates, view, prior)
    if not linked:
        raise TrackError("nothing that moves flies as a batted ball would")
    doubts = [_doubt(ball) for ball in linked]
    balls = tuple(ball for ball, doubt in zip(linked, doubts, strict=True) if not doubt)
    pitches = [ball for ball in linked if _went_on(ball)]
    if any(_like(pitch, otherwise=0.0) > CLEARLY_LIKE for pitch in pitches):
        # Beside such a pitch a limb is no ball.
        balls = tuple(ball for ball in balls if _like(ball, otherwise=1.0) > CLEARLY_LIKE)
    went_on = bool(pitches)
    if not balls:
        raise PitchWentOn(WENT_ON) if went_on else TrackError(doubts[0])
    return Sought(balls, went_on)


def _like(ball: Linked, otherwise: float) -> float:
    """Share of a ball's frames in which the network agrees; ``otherwise`` where it has hardly looked."""
    looked = ball.likeness[~np.isnan(ball.likeness)]
    return float(np.mean(looked > 0)) if len(looked) >= ENOUGH_LOOKS else otherwise


def find_lost_balls(candidates: Sequence[Candidates], view: View, prior: Prior) -> Sought:
    """Like ``find_batted_balls``, for what was searched for closely: slow balls are not believed.

    Raises
    ------
    TrackError
        If there is none, with the reason; PitchWentOn if the pitch was seen to fly on.
    """
    sought = find_batted_balls(candidates, view, prior)
    balls = tuple(ball for ball in sought.balls if _speed_mps(ball) > TOSSED_MPS)
    if not balls:
        raise PitchWentOn(WENT_ON) if sought.pitch_went_on else TrackError(NO_FASTER)
    return Sought(balls, sought.pitch_went_on, TOSSED_MPS)


def _speed_mps(ball: Linked) -> float:
    return float(np.linalg.norm(ball.arc[3:TIME]))


def _went_on(ball: Linked) -> bool:
    """Whether a ball is clearly a pitch that nobody hit: it comes from in front of the plate, or goes on behind it."""
    clear = ball.evidence > CLEAR_EVIDENCE and ball.hits >= PITCH_HITS and ball.rms < LARGEST_RMS
    clear = clear and ball.travel > PITCH_TRAVEL
    direction_deg = abs(float(np.degrees(np.arctan2(ball.arc[3], ball.arc[4]))))
    return clear and (direction_deg > BEHIND_DEG or ball.hits_before_contact >= PITCH_HITS)


def _doubt(ball: Linked) -> str:
    """Why a linked ball is not a batted one; empty where it may be."""
    if ball.hits < LEAST_HITS or ball.hits_beyond_reach < LEAST_BEYOND_REACH:
        return f"the likeliest ball was seen in only {min(ball.hits, ball.hits_beyond_reach)} frames clear of the bat"
    if ball.evidence < LEAST_EVIDENCE:
        return "no ball stands out from the other things that move"
    if ball.hits_before_contact >= PITCH_HITS:
        return "the ball flies on as it came: it was not hit"
    sure = _like(ball, otherwise=0.0) > CLEARLY_LIKE and _speed_mps(ball) > TOSSED_MPS
    largest_rms = LARGEST_RMS * (BALL_RMS if sure else 1.0)
    if ball.rms > largest_rms or ball.share < LEAST_SHARE:
        return "what moves away from the plate does not keep to one flight"
    if ball.arc[2] < LOWEST_CONTACT_M:
        return "it leaves from the ground, as after a bounce"
    if _like(ball, otherwise=1.0) < LEAST_LIKE:
        return "what moves away from the plate does not look like a ball"
    if ball.travel < LEAST_TRAVEL:
        return "what stands out stays where it is in the picture"
    if abs(float(np.degrees(np.arctan2(ball.arc[3], ball.arc[4])))) > FURTHEST_FOUL_DEG:
        return GOES_BACK
    return ""
