"""One clip in, its swings out. The whole of the work, read from top to bottom."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from balltrack.air import speed_of_sound_mps
from balltrack.camera.apart import apart_jpeg
from balltrack.camera.drift import FARTHEST_SHARE, LEAST_PX, MarkedStill, turned
from balltrack.camera.moved import moved_jpeg
from balltrack.camera.solve import SolvedCamera, solve
from balltrack.contact import Cue, Stir, StirMeter, deaf_outside, find_cues, heard_sd_s, one_swing_each, sound_delay_s
from balltrack.detect.background import median_luma
from balltrack.detect.motion import Movers
from balltrack.detect.network import Network
from balltrack.detect.samples import Samples
from balltrack.errors import CameraMoved, FlightError, MeasureError, PitchWentOn, TrackError, VideoError
from balltrack.flight.ended import until_stopped
from balltrack.flight.evidence import ContactPrior, Setting, with_resting_ball
from balltrack.flight.fit import FlightFit, fit_flight, seen_at_contact
from balltrack.flight.guesses import usual_flight, usual_launch
from balltrack.flight.lens_cost import lens_cost
from balltrack.flight.pitch_past import fate_of
from balltrack.flight.pitch_seen import BEFORE_S as PITCH_BEFORE_S
from balltrack.flight.pitch_seen import Pitch, PitchScene, met_at, passed_at, see_pitch
from balltrack.flight.shared import fit_together
from balltrack.flight.slowed import Followed, slowed
from balltrack.lesson import Clip, Lesson, check_pixels, tee_base_m
from balltrack.lesson.filmed import first_filmed
from balltrack.lesson.lens_choice import best_lens
from balltrack.lesson.settings import with_lens
from balltrack.onset import Onset, find_onsets
from balltrack.records.corrections import NO_CORRECTIONS, Corrections
from balltrack.records.describe import Label, unmeasured, why_vague
from balltrack.records.refit import Basis, Flight, Ground, Settled, Stood, contact_sd_s, describe, settle_clip
from balltrack.records.swing import Swing, free_swing_id, swing_id
from balltrack.records.unhit import timed, too_soon, unhit
from balltrack.records.verdict import Verdict
from balltrack.track.arcs import Prior, View
from balltrack.track.ball import NO_TRACK, BallTrack
from balltrack.track.comes_back import Sent, came_back
from balltrack.track.follow import follow, guide_of
from balltrack.track.linked import Linked
from balltrack.track.rest import resting_ball
from balltrack.track.search import (
    AFTER_S,
    BEFORE_S,
    CLOSELY,
    FURTHEST_FOUL_DEG,
    GOES_BACK,
    NO_FASTER,
    USUALLY,
    WENT_ON,
    Lookout,
    Sought,
    contact_prior,
    find_batted_balls,
    find_lost_balls,
    gather,
    learn_empty_field,
    size_limits,
)
from balltrack.video.clip import ClipInfo, probe
from balltrack.video.frames import Frame, read_frames
from balltrack.video.sound import read_sound
from balltrack.video.window import Head, Until, Window

NOT_FOUND = "a person said that there was a swing, but the ball was not found"
UNHEARD_MISS = "taken for a miss, though without sound it may be a hit whose ball was lost"
# Of what may be the ball so much is followed, and no more once one is seen in enough frames.
MOST_BALLS_FOLLOWED, ENOUGH_FRAMES = 4, 8
STILL_FRAMES, STILL_S = 9, 3.0  # a still is the median of so many frames, of the first clip's first seconds
# So long after contact frames are searched for what may be the ball, and, about sharp sounds, kept at first sight: most
# balls are followed no longer.
SOUGHT_S, HEAD_S = 0.95, 1.0
FASTEST_STRETCHED_FPS = 65.0  # slow motion is stored at 24 to 60 frames a second
UNMATCHED = (
    "its picture could not be matched with the first clip's: if the phone was moved between them, mark the field "
    "again; results/review/unmatched shows both"
)


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """What all clips of a lesson share."""

    lesson: Lesson
    solved: SolvedCamera
    setting: Setting
    view: View
    still: MarkedStill | None  # of the first clip, on which the field is taken to have been marked
    network: Network | None  # None: the ball is found by motion alone
    lens_words: str  # where the lens is known from, and what it costs

    @property
    def ground(self) -> Ground:
        """What the record of a flight needs beside the flight."""
        return Ground(self.setting, self.lesson.fence, self.lesson.player.bats)

    @property
    def detector(self) -> str:
        """What finds the ball, in words for the record."""
        return f"motion, {self.network.name}" if self.network else "motion"


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
class Take:
    """One clip as it is being measured."""

    clip: Clip
    info: ClipInfo
    samples: Samples
    head: Head  # frames that are at hand

    @property
    def frame_s(self) -> float:
        """Usual time from frame to frame, real seconds."""
        return 1 / (self.info.nominal_fps or 30.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Hit:
    """A ball that was followed, and the flight that explains it."""

    cue: Cue
    evidence: float
    track: BallTrack
    fit: FlightFit
    contact: ContactPrior
    pitch: Pitch | None = None


def prepare(lesson: Lesson, network: Network | None = None) -> Setup:
    """Solve the lesson's camera, for the size of its marked picture or else of its first readable clip."""
    size_px, info = first_filmed(lesson)
    check_pixels(lesson, size_px)
    lens = best_lens(lesson.lens, info, size_px)
    lesson = with_lens(lesson, lens)
    solved = solve(lesson.marks, size_px, lens.prior, lesson.readout)
    setting, view = _seen_by(solved, lesson)
    cost = lens_cost(setting, info.nominal_fps if info else 0.0)
    words = "; ".join((lens.words, *([cost.words] if cost else [])))
    return Setup(lesson, solved, setting, view, _first_still(lesson.clips, size_px), network, words)


def _seen_by(solved: SolvedCamera, lesson: Lesson) -> tuple[Setting, View]:
    setting = Setting(solved.camera, lesson.ball, lesson.air)
    return setting, View(solved.camera, lesson.ball.diameter_m, usual_flight(setting))


def _first_still(clips: Sequence[Clip], size_px: tuple[int, int]) -> MarkedStill | None:
    """The field as the first readable clip shows it; None where no clip does."""
    for clip in clips:
        samples = Samples()
        try:
            info = probe(clip.path, clip.capture_fps)
            if info.size_px != size_px:
                continue
            for frame in read_frames(clip.path, 0.0, STILL_S, info=info):
                samples.add(frame)
        except VideoError:
            continue  # it says so when it is measured
        if frames := samples.spread(STILL_FRAMES):
            return MarkedStill(median_luma(frames))
    return None


def _after_drift(clip: Clip, samples: Samples, setup: Setup) -> tuple[Setup, str, bytes]:
    """The set-up as this clip's phone stood, and a word where that is not as the field was marked.

    Where that cannot be told, also a picture for a person to tell it from.

    Raises
    ------
    CameraMoved
        If the phone was turned so far that the marks no longer serve.
    """
    frames = samples.spread(STILL_FRAMES)
    if setup.still is None or not frames:
        return setup, "", b""
    camera = setup.solved.camera
    now = median_luma(frames)
    drift = setup.still.drift(now, camera)
    if drift is None:
        return setup, UNMATCHED, apart_jpeg(setup.still.luma, now)
    if drift.size_px <= LEAST_PX:
        return setup, "", b""
    moved = f"the picture had moved by {drift.size_px:.0f} px since the first clip"
    if drift.size_px > FARTHEST_SHARE * camera.size_px[0]:
        words = f"{clip.path.name}: {moved}: measure such clips as a lesson of their own, marked anew"
        raise CameraMoved(words, moved_jpeg(now, camera, setup.lesson.ball.kind))
    solved = replace(setup.solved, camera=turned(camera, drift.turn_rad))
    setting, view = _seen_by(solved, setup.lesson)
    turned_setup = replace(setup, solved=solved, setting=setting, view=view)
    return turned_setup, f"{moved}; corrected" if drift.size_px >= 1 else "", b""


def measure_clip(clip: Clip, setup: Setup, corrections: Corrections = NO_CORRECTIONS) -> ClipResult:
    """Measure every swing of a clip, with what a person put right.

    Raises
    ------
    VideoError
        If the clip cannot be read, or its picture is not of the marked size.
    """
    info = probe(clip.path, clip.capture_fps)
    check_size(info, setup)
    heard = _listen(clip, info, setup)
    stir, samples, head = _watch(clip, info, heard, setup)
    setup, moved, apart = _after_drift(clip, samples, setup)
    cues = _cues(heard, stir, info)
    take = Take(clip, info, samples, head)
    bases: list[Basis] = []
    sent: list[Sent] = []
    for group in one_swing_each(cues):
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
    none = "" if bases else "no swing was found: nothing swung at the plate and no crack was heard"
    words = "; ".join(word for word in (*info.warnings, moved, _slowed_words(take, bases, setup), none, lost) if word)
    return replace(clip_result(clip, bases, settled, stood), note=words, apart_jpeg=apart)


def _slowed_words(take: Take, bases: Sequence[Basis], setup: Setup) -> str:
    """A word where the balls fall as in slow motion of which neither the clip nor lesson.toml tells."""
    if take.info.scale_told_by or take.info.nominal_fps > FASTEST_STRETCHED_FPS:
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


def check_size(info: ClipInfo, setup: Setup) -> None:
    """Refuse a picture of another size than the marks were made on."""
    if info.size_px != setup.solved.camera.size_px:
        found, marked = info.size_px, setup.solved.camera.size_px
        raise VideoError(
            f"{info.path.name}: the picture is {found[0]} x {found[1]} but the marks were made on "
            f"{marked[0]} x {marked[1]}; film all clips of a lesson alike, or mark the field again for these"
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Heard:
    """What the clip's sound tells."""

    sound: bool  # there is one
    onsets: tuple[Onset, ...]
    span_s: tuple[float, float]  # contacts from the one time to the other would have been heard
    delay_s: float  # the sound's way to the phone


def _listen(clip: Clip, info: ClipInfo, setup: Setup) -> _Heard:
    sound = read_sound(clip.path, info)
    delay_s = sound_delay_s(setup.solved.camera, speed_of_sound_mps(setup.lesson.air.temperature_c))
    if sound is None:
        return _Heard(False, (), (0.0, 0.0), delay_s)
    return _Heard(True, find_onsets(sound), (sound.start_s - delay_s, sound.stop_s - delay_s), delay_s)


def _watch(clip: Clip, info: ClipInfo, heard: _Heard, setup: Setup) -> tuple[Stir, Samples, Head]:
    """Go through the whole clip once, and keep what will be looked at again: around the loudest sharp sounds."""
    loudest = sorted(heard.onsets, key=lambda onset: -onset.strength_db)
    times = [onset.time_s - heard.delay_s for onset in loudest]
    spans = [(time_s - BEFORE_S, time_s + HEAD_S) for time_s in times]
    meter, samples = StirMeter(setup.solved.camera), Samples()
    head = Head(spans, 1 / (info.nominal_fps or 30.0), int(1.5 * info.size_px[0] * info.size_px[1]))
    for frame in read_frames(clip.path, info=info):
        meter.add(frame)
        samples.add(frame)
        head.add(frame)
    return meter.stir(), samples, head


def _cues(heard: _Heard, stir: Stir, info: ClipInfo) -> tuple[Cue, ...]:
    onsets = heard.onsets if heard.sound else None
    cues = find_cues(onsets, stir, heard.delay_s, heard_sd_s(info.time_scale))
    return deaf_outside(cues, *heard.span_s) if heard.sound else cues


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
        return _without_ball(take.clip, cues, label, [error]), None
    for cue in cues:
        try:
            hits.append(_follow_hit(cue, scene, setup))
        except MeasureError as error:
            troubles.append(error)
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
    earlier = scene.take.samples.between(start_s + BEFORE_S - PITCH_BEFORE_S, start_s - 1e-6)
    return PitchScene(Until(earlier, scene.window, until_s), scene.movers, setup.setting, clip.delivery, hand_m)


def _without_hit(
    scene: "_Scene", cues: Sequence[Cue], label: Label, troubles: list[MeasureError], setup: Setup
) -> Swing | None:
    """What a pitch that was seen says of a swing without a hit; without one, what the cues say."""
    clip = scene.take.clip
    pitch = _pitch(scene, passed_at(cues[0].time_s, cues[0].sd_s), setup)
    if pitch is None:
        return _without_ball(clip, cues, label, troubles)
    swung = any(cue.swung for cue in cues)
    if not swung and clip.delivery is None:  # nobody said that balls are thrown here, so none is let go
        return None
    fate = fate_of(pitch, _pitch_scene(scene, scene.window.stop_s, setup)) if swung else "unseen"
    label = replace(label, pitch=timed(pitch, cues))
    return unhit(label, pitch, fate, cues) or _without_ball(clip, cues, label, troubles)


def _without_ball(clip: Clip, cues: Sequence[Cue], label: Label, troubles: list[MeasureError]) -> Swing | None:
    """A miss, a hit whose ball was not found, or no swing at all."""
    swung, missed = [cue for cue in cues if cue.swung], replace(label, ended="miss")
    if not swung:
        return None
    if clip.delivery != "tee" and any(isinstance(trouble, PitchWentOn) for trouble in troubles):
        return unmeasured(missed, True, f"a swing, and {WENT_ON}")
    if any(cue.heard for cue in swung):
        return unmeasured(label, False, f"contact was heard, but the ball was not found: {troubles[0]}")
    if all(cue.silent for cue in swung):
        if any(isinstance(trouble, FlightError) for trouble in troubles):
            return unmeasured(label, False, f"a ball was followed, but no flight explains it: {troubles[0]}")
        return unmeasured(label, True, "a swing, and no batted ball was seen", (UNHEARD_MISS,))
    return unmeasured(missed, True, "a swing, but no crack was heard and no batted ball was seen")


@dataclass(frozen=True, slots=True, eq=False)
class _Scene:
    """The frames around one swing, and what they show with and without what moves."""

    take: Take
    window: Window
    movers: Movers

    def around(self, cue: Cue) -> Iterator[Frame]:
        """The frames in which the ball of one moment of contact is sought."""
        ahead = Until((), self.window, cue.time_s + SOUGHT_S)  # what comes later is not decoded
        return (frame for frame in ahead if frame.time_s >= cue.time_s - BEFORE_S)


def _scene(take: Take, cues: Sequence[Cue], setup: Setup) -> _Scene:
    times = [cue.time_s for cue in cues]
    start_s = min(times) - BEFORE_S
    stop_s = min(max(times) + AFTER_S, take.head.stop_s)  # the clip may end before
    window = Window(take.info, start_s, stop_s, head=take.head.since(start_s))
    background = learn_empty_field(take.samples, window, cues[0])
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
            troubles.append(error)
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
        return find_batted_balls(gather(scene.around(cue), lookout, pace), lookout.view, lookout.prior)
    except PitchWentOn:
        raise
    except TrackError:
        if lookout.network is None or not cue.heard:
            raise
    return find_lost_balls(gather(scene.around(cue), lookout, CLOSELY), lookout.view, lookout.prior)


def _contact_of(cue: Cue, prior: Prior) -> ContactPrior:
    return ContactPrior(cue.time_s, cue.sd_s, prior.mean[:3], prior.sd[:3])


def _follow_ball(cue: Cue, linked: Linked, scene: _Scene, lookout: Lookout, setup: Setup) -> _Hit:
    view, prior, background = lookout.view, lookout.prior, scene.movers.background
    frames = (frame for frame in scene.window if frame.time_s > linked.contact_s - 0.5 * scene.take.frame_s)
    guide = guide_of(linked, view, setup.network)
    track = follow(frames, background, guide, view, prior)
    contact = _contact_of(cue, prior)
    fit = fit_flight(track, contact, setup.setting, usual_launch(linked.arc, setup.setting))
    track, fit = until_stopped(track, fit, contact, setup.setting)
    if abs(fit.spray_deg) > FURTHEST_FOUL_DEG:  # the arc that led the search may have had it fly elsewhere
        raise TrackError(GOES_BACK)
    spot_px, width_px = seen_at_contact(fit, setup.setting)
    rest = resting_ball(scene.window, background, fit.contact_s, spot_px, width_px)
    if rest is not None:
        contact = with_resting_ball(contact, rest)
        fit = fit_flight(track, contact, setup.setting, fit.launch)
    return _Hit(cue, linked.evidence, track, fit, contact)
