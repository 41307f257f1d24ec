"""One clip in, its swings out. The whole of the work, read from top to bottom."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from balltrack.contact import Cue, one_swing_each
from balltrack.detect.motion import Movers
from balltrack.detect.samples import SPACING_S
from balltrack.errors import FlightError, MeasureError, PitchWentOn, TrackError
from balltrack.flight.ended import until_stopped
from balltrack.flight.evidence import ContactPrior, with_resting_ball
from balltrack.flight.fit import FlightFit, fit_flight, seen_at_contact
from balltrack.flight.guesses import usual_launch
from balltrack.flight.pitch_past import fate_of
from balltrack.flight.pitch_seen import BEFORE_S as PITCH_BEFORE_S
from balltrack.flight.pitch_seen import Pitch, PitchScene, met_at, passed_at, see_pitch
from balltrack.flight.shared import fit_together
from balltrack.flight.slowed import Followed, slowed
from balltrack.lesson import Clip, Lesson, tee_base_m
from balltrack.memory import give_back
from balltrack.records.corrections import NO_CORRECTIONS, Corrections
from balltrack.records.describe import Label, unmeasured, why_vague
from balltrack.records.refit import Basis, Flight, Ground, Settled, Stood, contact_sd_s, describe, settle_clip
from balltrack.records.swing import Swing, free_swing_id, swing_id
from balltrack.records.unhit import timed, too_soon, unhit, without_ball
from balltrack.records.verdict import Verdict
from balltrack.setup import Setup, after_drift, check_size
from balltrack.take import Near, Take, watch
from balltrack.track.arcs import Prior
from balltrack.track.ball import NO_TRACK, BallTrack
from balltrack.track.comes_back import Sent, came_back
from balltrack.track.follow import follow, guide_of
from balltrack.track.linked import Linked
from balltrack.track.rest import resting_ball
from balltrack.track.search import (
    AFTER_S,
    BEFORE_S,
    CLOSELY,
    EMPTY_FIELD_S,
    FURTHEST_FOUL_DEG,
    GOES_BACK,
    NO_FASTER,
    USUALLY,
    WENT_ON,
    Lookout,
    Pace,
    Sought,
    contact_prior,
    find_batted_balls,
    find_lost_balls,
    gather,
    learn_empty_field,
    size_limits,
)
from balltrack.video.clip import probe
from balltrack.video.frames import Frame
from balltrack.video.window import After, Until, Window

THROWN = ("toss", "live")  # deliveries
NOT_FOUND = "a person said that there was a swing, but the ball was not found"
# Of what may be the ball so much is followed, and no more once one is seen in enough frames.
MOST_BALLS_FOLLOWED, ENOUGH_FRAMES = 4, 8
# So long after contact frames are searched for what may be the ball, and, about sharp sounds, kept at first sight: few
# balls are followed longer.
SOUGHT_S, HEAD_S = 0.95, 1.5
FASTEST_STRETCHED_FPS = 65.0  # slow motion is stored at 24 to 60 frames a second


@dataclass(frozen=True, slots=True, eq=False)
class ClipResult:
    """The swings of one clip, and the ball's track in each that has one."""

    clip: Clip
    swings: tuple[Swing, ...]
    tracks: tuple[tuple[str, BallTrack], ...]  # by swing id
    note: str  # a word for the person about the clip as a whole; empty where there is none
    flights: tuple[Flight, ...] = ()  # of the swings whose ball was followed
    bases: tuple[Basis, ...] = ()  # what the program found of each swing, before a person's word
    settled: tuple[Settled, ...] = ()  # each swing by itself, with a person's word
    stood: Stood | None = None  # what it takes to add a swing; None in what was measured before this was kept
    apart_jpeg: bytes = b""  # of a clip whose picture could not be matched: it and the marked one


@dataclass(frozen=True, slots=True, eq=False)
class _Hit:
    """A ball that was followed, and the flight that explains it."""

    cue: Cue
    evidence: float
    track: BallTrack
    fit: FlightFit
    contact: ContactPrior
    pitch: Pitch | None = None


def measure_clip(clip: Clip, setup: Setup, corrections: Corrections = NO_CORRECTIONS) -> ClipResult:
    """Measure every swing of a clip, with what a person put right.

    Raises
    ------
    VideoError
        If the clip cannot be read, or its picture is not of the marked size.
    """
    info = probe(clip.path, clip.capture_fps)
    check_size(info, setup)
    take = watch(clip, info, setup.solved.camera, setup.sound_mps, Near((-BEFORE_S, HEAD_S), EMPTY_FIELD_S))
    setup, moved, apart = after_drift(clip, take.samples, setup)
    bases: list[Basis] = []
    sent: list[Sent] = []
    for group in one_swing_each(take.cues):
        name, settings = swing_id(clip.name, len(bases) + 1), setup.lesson.settings_hash
        label = Label(name, clip.name, clip.block, settings, group[0].time_s, setup.detector)
        basis = _find_swing(take, group, label, setup, corrections)
        if basis is None or (bases and too_soon(basis, bases[-1])) or _came_back(group, basis, sent, corrections):
            continue
        bases.append(basis)
        if basis.fit is not None:
            stirred = max(cue.stirred for cue in group)
            sent.append(Sent(basis.fit.contact_s, basis.fit.exit_speed_mps, stirred))
    stood = Stood(setup.solved.camera, take.frame_s, setup.lesson.settings_hash, setup.detector)
    for said in corrections.added_to([basis.seen_s for basis in bases]):
        bases.append(_find_added(take, added_basis(clip, setup.lesson, stood, said, bases), said, setup))
    bases.sort(key=lambda basis: basis.seen_s)
    settled = settle_clip(bases, corrections, setup.ground)
    lost = corrections.homeless([basis.seen_s for basis in bases])
    none = "" if bases else _none_words(take)
    words = "; ".join(word for word in (*info.warnings, moved, _slowed_words(take, bases, setup), none, lost) if word)
    return replace(clip_result(clip, bases, settled, stood), note=words, apart_jpeg=apart)


def _none_words(take: Take) -> str:
    """Why a clip has no swing."""
    if any(cue.swung and not cue.brief for cue in take.cues):
        slow = "; if this is slow motion, enter capture_fps in lesson.toml" if _may_be_stretched(take) else ""
        return f"no swing was found: something moved at the plate, but not as a swing does{slow}"
    return "no swing was found: nothing swung at the plate and no crack was heard"


def _may_be_stretched(take: Take) -> bool:
    """Whether it could be slow motion of which neither the clip nor lesson.toml tells."""
    return not take.info.scale_told_by and take.info.nominal_fps <= FASTEST_STRETCHED_FPS


def _slowed_words(take: Take, bases: Sequence[Basis], setup: Setup) -> str:
    """A word where the balls fall as in slow motion of which neither the clip nor lesson.toml tells."""
    if not _may_be_stretched(take):
        return ""
    balls = [Followed(basis.track, basis.contact, basis.fit) for basis in bases if basis.fit is not None]
    found = slowed(balls, setup.setting)
    return found.words(take.info.nominal_fps) if found else ""


def added_basis(clip: Clip, lesson: Lesson, stood: Stood, said: Verdict, others: Sequence[Basis]) -> Basis:
    """What there is of a swing that only a person saw, before its ball is looked for: when contact was."""
    name = free_swing_id(clip.name, [basis.label.swing for basis in others], said.swing)
    label = Label(name, clip.name, clip.block, stood.settings_hash, said.near_s, stood.detector)
    cue = _cue_by_hand(said, stood.frame_s)
    contact = _contact_of(cue, contact_prior(cue, tee_base_m(clip, lesson, stood.camera)))
    none = unmeasured(label, False, NOT_FOUND)
    return Basis(label, contact, stood.camera, stood.frame_s, NO_TRACK, None, none, added=True)


def clip_result(
    clip: Clip, bases: Sequence[Basis], settled: Sequence[Settled], stood: Stood | None = None
) -> ClipResult:
    """The result of a clip whose swings stand by themselves; see `measure_together`."""
    return ClipResult(
        clip,
        tuple(each.swing for each in settled),
        tuple((each.swing.swing, each.track) for each in settled if len(each.track.time_s)),
        "",
        tuple(each.flight for each in settled if each.flight),
        tuple(bases),
        tuple(settled),
        stood,
    )


def measure_together(
    results: Sequence[ClipResult], ground: Ground, wanted: Collection[str] | None = None
) -> list[ClipResult]:
    """Correct every swing of a lesson by what the others say of camera, light, ball and player: see `flight.shared`.

    Results are given for the clips ``wanted``, for all where not said: what a flight comes to is much of the work.
    """
    flights = [flight for result in results for flight in result.flights]
    fits = fit_together([each.fit for each in flights], [each.contact for each in flights], ground.setting)
    corrected = {flight.label.swing: replace(flight, fit=fit) for flight, fit in zip(flights, fits, strict=True)}
    return [
        replace(
            result,
            swings=tuple(
                describe(corrected[swing.swing], ground) if swing.swing in corrected else swing
                for swing in result.swings
            ),
            flights=tuple(corrected[flight.label.swing] for flight in result.flights),
        )
        for result in results
        if wanted is None or result.clip.name in wanted
    ]


def _find_swing(take: Take, cues: Sequence[Cue], label: Label, setup: Setup, corrections: Corrections) -> Basis | None:
    """What is found of one swing; where nothing is, from the contact that a person set. None: no swing at all."""
    swing, hit = _measure_swing(take, cues, label, setup)
    said = corrections.verdict_at(cues[0].time_s)
    if hit is None and swing is None and (said is None or said.added):  # an added swing is looked for by itself
        return None
    if hit is None and said and said.contact_s is not None:
        hit = _measure_swing(take, (_cue_by_hand(said, take.frame_s),), label, setup)[1]
    if hit is not None:
        label = replace(label, pitch=hit.pitch.numbers if hit.pitch else None)
        return Basis(label, hit.contact, setup.solved.camera, take.frame_s, hit.track, hit.fit, None)
    tee_m = tee_base_m(take.clip, setup.lesson, setup.solved.camera)
    contact = _contact_of(cues[0], contact_prior(cues[0], tee_m))
    none = swing or unmeasured(label, False, NOT_FOUND)
    return Basis(label, contact, setup.solved.camera, take.frame_s, NO_TRACK, None, none)


def _came_back(cues: Sequence[Cue], basis: Basis, sent: Sequence[Sent], corrections: Corrections) -> bool:
    """Whether what was followed is a ball hit before, and no person said otherwise."""
    if basis.fit is None or corrections.verdict_at(cues[0].time_s) is not None:
        return False
    return came_back(cues, basis.fit.exit_speed_mps, sent)


def _find_added(take: Take, basis: Basis, said: Verdict, setup: Setup) -> Basis:
    """Look for the ball of an added swing from the contact that the person set."""
    if said.miss:
        return basis
    hit = _measure_swing(take, (_cue_by_hand(said, take.frame_s),), basis.label, setup)[1]
    if hit is None:
        return basis
    label = replace(basis.label, pitch=hit.pitch.numbers if hit.pitch else None)
    return replace(basis, label=label, contact=hit.contact, track=hit.track, fit=hit.fit, ballless=None)


def _cue_by_hand(said: Verdict, frame_s: float) -> Cue:
    time_s = said.near_s if said.contact_s is None else said.contact_s
    return Cue(time_s, contact_sd_s(frame_s), True, 0.0, 1.0)


def _measure_swing(take: Take, cues: Sequence[Cue], label: Label, setup: Setup) -> tuple[Swing | None, _Hit | None]:
    """Follow the ball from each moment that may have been this swing's contact; keep the best explained."""
    hits: list[_Hit] = []
    troubles: list[MeasureError] = []
    try:
        scene = _scene(take, cues, setup)
    except MeasureError as error:
        return without_ball(take.clip.delivery, cues, label, [error]), None
    for cue in cues:
        try:
            hits.append(_follow_hit(cue, scene, setup))
        except MeasureError as error:
            troubles.append(error.with_traceback(None))  # it would hold on to the frames
    if not hits:
        return _without_hit(scene, cues, label, troubles, setup), None
    hit = max(hits, key=lambda each: (not why_vague(each.fit), each.evidence))
    return None, replace(hit, pitch=_pitch(scene, met_at(hit.fit), setup, hit.track.exposure_s))


def _pitch(scene: "_Scene", end: ContactPrior, setup: Setup, exposure_s: float | None = None) -> Pitch | None:
    """The pitch that ended so, of those frames that are at hand."""
    if scene.take.clip.delivery == "tee":
        return None
    return see_pitch(_pitch_scene(scene, end.time_s + 3 * end.time_sd_s, setup), end, exposure_s)


def _pitch_scene(scene: "_Scene", until_s: float, setup: Setup) -> PitchScene:
    clip, start_s = scene.take.clip, scene.window.start_s
    hand_m = setup.lesson.pitching_distance_m if clip.delivery == "live" else None
    earlier = scene.take.samples.one_by_one(start_s + BEFORE_S - PITCH_BEFORE_S, start_s - 1e-6)
    return PitchScene(Until(earlier, scene.window, until_s), scene.movers, setup.setting, clip.delivery, hand_m)


def _without_hit(
    scene: "_Scene", cues: Sequence[Cue], label: Label, troubles: list[MeasureError], setup: Setup
) -> Swing | None:
    """What a pitch that was seen says of a swing without a hit; without one, what the cues say."""
    clip = scene.take.clip
    pitch = _pitch(scene, passed_at(cues[0].time_s, cues[0].sd_s), setup)
    if pitch is None:
        return without_ball(clip.delivery, cues, label, troubles)
    swung = any(cue.swung for cue in cues)
    if not swung and clip.delivery is None:  # nobody said that balls are thrown here, so none is let go
        return None
    fate = fate_of(pitch, _pitch_scene(scene, scene.window.stop_s, setup)) if swung else "unseen"
    label = replace(label, pitch=timed(pitch, cues))
    return unhit(label, pitch, fate, cues) or without_ball(clip.delivery, cues, label, troubles)


@dataclass(frozen=True, slots=True, eq=False)
class _Scene:
    """The frames around one swing, and what they show with and without what moves."""

    take: Take
    window: Window
    movers: Movers

    def around(self, cue: Cue, pace: Pace) -> Iterator[Frame]:
        """The frames in which the ball of one moment of contact is sought."""
        stop_s, kept_s = cue.time_s + SOUGHT_S, self.window.kept_until_s
        few_from_s = cue.time_s + pace.dense_s[1] + 2 * cue.sd_s
        later: Iterable[Frame] = ()
        if pace.apart_s[2] >= SPACING_S and few_from_s < kept_s < stop_s:  # the few that are asked for then are at hand
            later = self.take.samples.one_by_one(kept_s + SPACING_S, stop_s)
            stop_s = kept_s
        ahead = Until((), self.window, stop_s)  # what comes later is not decoded
        return (frame for frame in chain(ahead, later) if frame.time_s >= cue.time_s - BEFORE_S)


def _scene(take: Take, cues: Sequence[Cue], setup: Setup) -> _Scene:
    times = [cue.time_s for cue in cues]
    start_s = min(times) - BEFORE_S
    stop_s = min(max(times) + AFTER_S, take.head.stop_s)  # the clip may end before
    window = Window(take.info, start_s, stop_s, head=take.head.since(start_s))
    background = learn_empty_field(take.samples, window, cues[0])
    give_back()  # what it was learnt from
    return _Scene(take, window, Movers(background, size_limits(setup.view, take.frame_s)))


def _follow_hit(cue: Cue, scene: _Scene, setup: Setup) -> _Hit:
    prior = contact_prior(cue, tee_base_m(scene.take.clip, setup.lesson, setup.solved.camera))
    lookout = Lookout(scene.movers, setup.view, prior, setup.network)
    hits: list[_Hit] = []
    troubles: list[MeasureError] = []
    sought = _seek(cue, scene, lookout)
    for linked in sought.balls[:MOST_BALLS_FOLLOWED]:
        try:
            hit = _follow_ball(cue, linked, scene, lookout, setup)
            if hit.fit.exit_speed_mps < sought.least_mps:
                raise TrackError(NO_FASTER)
            hits.append(hit)
        except (TrackError, FlightError) as error:
            troubles.append(error.with_traceback(None))
        else:
            if hits[-1].fit.rows_used >= ENOUGH_FRAMES and not why_vague(hits[-1].fit):
                break
    if not hits:
        raise PitchWentOn(WENT_ON) if sought.pitch_went_on else troubles[0]
    return max(hits, key=lambda hit: (not why_vague(hit.fit), hit.fit.rows_used))


def _seek(cue: Cue, scene: _Scene, lookout: Lookout) -> Sought:
    """The likely balls among what moves; or else, where the bat was heard, searched for more closely."""
    pace = USUALLY if lookout.network else CLOSELY  # motion alone needs all frames to tell a ball from what else moves
    try:
        return find_batted_balls(gather(scene.around(cue, pace), lookout, pace), lookout.view, lookout.prior)
    except PitchWentOn:
        raise
    except TrackError:
        if lookout.network is None or not cue.heard:
            raise
    return find_lost_balls(gather(scene.around(cue, CLOSELY), lookout, CLOSELY), lookout.view, lookout.prior)


def _contact_of(cue: Cue, prior: Prior) -> ContactPrior:
    return ContactPrior(cue.time_s, cue.sd_s, prior.mean[:3], prior.sd[:3])


def _follow_ball(cue: Cue, linked: Linked, scene: _Scene, lookout: Lookout, setup: Setup) -> _Hit:
    view, prior, background = lookout.view, lookout.prior, scene.movers.background
    guide = guide_of(linked, view, setup.network)
    track = follow(After(scene.window, linked.contact_s - 0.5 * scene.take.frame_s), background, guide, view, prior)
    contact = _contact_of(cue, prior)
    fit = fit_flight(track, contact, setup.setting, usual_launch(linked.arc, setup.setting))
    track, fit = until_stopped(track, fit, contact, setup.setting)
    if abs(fit.spray_deg) > FURTHEST_FOUL_DEG:  # the arc that led the search may have had it fly elsewhere
        raise TrackError(GOES_BACK)
    if scene.take.clip.delivery in THROWN:  # no ball rests there before
        return _Hit(cue, linked.evidence, track, fit, contact)
    spot_px, width_px = seen_at_contact(fit, setup.setting)
    rest = resting_ball(scene.window, background, fit.contact_s, spot_px, width_px)
    if rest is not None:
        contact = with_resting_ball(contact, rest)
        fit = fit_flight(track, contact, setup.setting, fit.launch)
    return _Hit(cue, linked.evidence, track, fit, contact)
