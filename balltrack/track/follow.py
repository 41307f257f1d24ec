"""Follow one linked ball through the frames, pixel by pixel, until it leaves, lands, stops or becomes too small."""

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from balltrack.camera.model import axes_at
from balltrack.detect.background import Background
from balltrack.detect.confirm import look_around
from balltrack.detect.network import Network
from balltrack.detect.triple import Triple, triples
from balltrack.track.arcs import Prior, Seen, View, bend, sight, sight_and_spread
from balltrack.track.ball import BallTrack
from balltrack.track.centre import BallImage, Expected, first_sight, look_again
from balltrack.track.linked import Linked
from balltrack.track.looks import any_looks, looks_alike
from balltrack.track.shutter import likely_exposure_s, told_exposure_s
from balltrack.units import Floats
from balltrack.video.frames import Frame

SMALLEST_PX = 2.2  # below this compression leaves nothing to measure
SMALLEST_SIZED_PX = 9.0  # smaller balls look up to a sixth too small: blur and compression eat their edges
SIZED_MATCH = 0.94  # below this something else stands in the patch, or the ball's dark side melts into the grass
LOST_FRAMES, LOST_S = 5, 0.1  # gone when not seen for as many frames and as long
NEVER_FRAMES, NEVER_S = 8, 0.2  # not a ball, if it was hardly seen in as many frames and as long
EXPOSURE_S, FIRST_EXPOSURE_S = (1 / 10000, 1 / 60), 1 / 500  # the latter until streaks tell
# Streaks of the first frames are matched anew where their length turns out otherwise: too short a streak is laid over
# the part of it that stands out best.
FIRST_ROWS, SAME_EXPOSURE_LOG = 12, 0.2
# By so much the ball may run beside the arc that the candidates gave: what lies further off is something else.
SLACK_PX, SLACK_WIDTHS, GATE = 2.5, 0.2, 3.0
RETRY_PX, RETRY_WIDTHS = 2.0, 0.1  # how far off the network's word may be
ALIKE_S = 0.004  # a candidate of the search within this time is of the same frame
WHOLE = 0.85  # of the ball's reach must lie in the picture: less than a twentieth of it is then cut off
MEMORY = 4  # frames from which the local correction is carried on
ENOUGH_ALIKE = 4  # frames of a flight that tell how the ball looks in each other
LAST = 6  # frames that tell how well it is seen


MOTION, NETWORK, BOTH = "motion", "network", "both"


@dataclass(frozen=True, slots=True, eq=False)
class _Row:
    time_s: float
    image: BallImage | None
    reason: str
    source: str = MOTION


@dataclass(frozen=True, slots=True, eq=False)
class Guide:
    """What leads the search: the arc so far, its doubt, how long the shutter stays open, and what may lie ahead."""

    arc: Floats  # (9,)
    covariance: Floats  # (9, 9)
    exposure_s: float
    candidates: Seen  # (1, n) that gave the arc
    likeness: Floats  # (n,) what the network said of them
    network: Network | None  # asked where the ball is not to be made out
    usual: float | None = None  # share of the change that the ball explained in the last frames, once there are enough


def guide_of(ball: Linked, view: View, network: Network | None) -> Guide:
    """Lead by what linking knows of a ball."""
    speed_pxps = _speed_pxps(ball.seen.time_s[0], ball.arc, view)
    # What moves is cut out with its edges and shadow: that a region is longer than wide tells nothing, if not clearly.
    exposure_s = told_exposure_s(ball.streak_px, ball.seen.width_px[0], speed_pxps) or FIRST_EXPOSURE_S
    exposure_s = float(np.clip(exposure_s, *EXPOSURE_S))
    return Guide(ball.arc, ball.covariance, exposure_s, ball.seen, ball.likeness, network)


def follow(frames: Iterable[Frame], background: Background, guide: Guide, view: View, prior: Prior) -> BallTrack:
    """Measure the ball in every frame from contact until the flight is over.

    Parameters
    ----------
    frames : iterable of Frame
        In order of time, from contact on; the first may be asked for again.
    background : Background
    guide : Guide
    view, prior : View, Prior
    """
    rows: list[_Row] = []
    assumed: list[tuple[float, float]] = []  # of the first frames: their times, and the shutter times
    for triple in triples(frames):
        aim = _aim(triple.now, rows, guide, view)
        end = _why_over(triple.now, aim, rows, view)
        if end:
            rows.append(_Row(triple.now.time_s, None, end))
            break
        if len(assumed) < FIRST_ROWS:
            assumed.append((triple.now.time_s, guide.exposure_s))
        row = _measure(triple, background, aim, guide, view)
        rows.append(row)
        found = sum(not past.reason for past in rows)
        if not row.reason and found in (3, 4, 6, 9, 13, 18, 25, 34, 45, 60):
            guide = _learn(rows, guide, view, prior)
    anew = {
        time_s: k
        for k, (time_s, exposure_s) in enumerate(assumed[: len(rows)])
        if not rows[k].reason and abs(np.log(guide.exposure_s / exposure_s)) > SAME_EXPOSURE_LOG
    }
    last_s = max(anew, default=-np.inf)
    for frame in itertools.takewhile(lambda frame: frame.time_s <= last_s, frames) if anew else ():
        if frame.time_s in anew:
            k = anew[frame.time_s]
            rows[k] = _match(frame, background, _aim(frame, rows[:k], guide, view), guide, view)
    return _as_track(_seen_alike(rows, view), guide, view)


def _seen_alike(rows: list[_Row], view: View) -> list[_Row]:
    """The rows with the ball matched anew, as all of them together say that it looks."""
    found = [(k, row.image) for k, row in enumerate(rows) if row.image and not row.reason]
    images = [image for _, image in found]
    alike = [any_looks()] * len(images)
    if len(images) >= ENOUGH_ALIKE:
        axes = axes_at(np.array([image.centre_px for image in images]), view.camera)
        alike = looks_alike([image.sight.fit for image in images], axes)
    out = list(rows)
    for (k, image), looks in zip(found, alike, strict=True):
        again = look_again(image, looks)
        out[k] = replace(rows[k], image=again, reason=again.reason)
    return out


def _row_time(stamp_s: float, v_px: float, view: View) -> float:
    """Clip time at which the sensor reads a row of a frame; the picture's top where it is no number."""
    height = view.camera.size_px[1]
    return stamp_s + view.camera.readout_s * min(max(0.0, v_px), height) / height


def _why_over(frame: Frame, aim: "_Aim", rows: list[_Row], view: View) -> str:
    u, v = aim.on_arc_px
    width, height = view.camera.size_px
    seen = [row for row in rows if not row.reason]
    if not np.isfinite(u) or not (0 <= u < width and 0 <= v < height):
        return "left the picture"
    if aim.height_m < 0.5 * view.ball_diameter_m:
        return "reached the ground"
    if aim.expected.width_px < SMALLEST_PX:
        return "too small"
    if len(seen) >= 3 and rows:
        missed = sum(row.time_s > seen[-1].time_s for row in rows)
        if missed >= LOST_FRAMES and frame.time_s - seen[-1].time_s > LOST_S:
            return "lost"
    elif len(rows) - len(seen) >= NEVER_FRAMES and frame.time_s - rows[0].time_s > NEVER_S:
        return "no ball there"
    return ""


@dataclass(frozen=True, slots=True, eq=False)
class _Aim:
    """Where and how the ball should appear in one frame."""

    time_s: float  # of its row
    on_arc_px: Floats  # (2,) NaN where out of sight
    height_m: float  # of the ball's middle above the ground
    slack_px: float  # by so much it may be off the arc
    expected: Expected


def _measure(triple: Triple, background: Background, aim: _Aim, guide: Guide, view: View) -> _Row:
    row = _match(triple.now, background, aim, guide, view)
    if not row.reason or guide.network is None:
        return row
    finds = look_around(guide.network, triple, aim.expected.centre_px)
    off = np.linalg.norm(finds.centre_px - aim.expected.centre_px, axis=1)
    search = RETRY_PX + RETRY_WIDTHS * aim.expected.width_px
    for k in np.flatnonzero(off < aim.slack_px).tolist():
        near = replace(aim, expected=replace(aim.expected, centre_px=finds.centre_px[k], search_px=search))
        again = _match(triple.now, background, near, guide, view)
        if not again.reason:
            return replace(again, source=NETWORK)
    return row


def _aim(frame: Frame, rows: list[_Row], guide: Guide, view: View) -> _Aim:
    arc, recent = guide.arc[None], [row for row in rows if not row.reason][-MEMORY:]
    on_arc = sight(arc, np.array([frame.time_s, *[row.time_s for row in recent]]), view).centre_px[0]
    time = _row_time(frame.time_s, float(on_arc[0, 1]), view)
    now, spread = sight_and_spread(arc, guide.covariance[None], np.array([time - 0.001, time, time + 0.001]), view)
    streak = (now.centre_px[0, 2] - now.centre_px[0, 0]) / 0.002 * guide.exposure_s
    doubt = math.sqrt(spread[0, 1, 0, 0] + spread[0, 1, 1, 1])
    width = float(now.width_px[0, 1])
    search = 2.5 + 0.2 * width + min(2.0 * doubt, 1.5 * width + 12.0)
    beside = _local_correction(recent, on_arc[1:], time)
    slack = SLACK_PX + SLACK_WIDTHS * width + GATE * doubt
    beside *= min(1.0, slack / max(math.hypot(*beside.tolist()), 1e-9))
    here = now.centre_px[0, 1]
    height = float(now.points_field_m[0, 1, 2])
    return _Aim(time, here, height, slack, Expected(here + beside, width, streak, search))


def _match(frame: Frame, background: Background, aim: _Aim, guide: Guide, view: View) -> _Row:
    image = first_sight(frame, background, aim.expected, guide.usual)
    if image is None:
        return _Row(aim.time_s, None, "nothing there")
    if np.linalg.norm(image.centre_px - aim.on_arc_px) > aim.slack_px:
        return _Row(aim.time_s, image, image.reason or "far from the flight so far")
    touching = _touches_edge(image, view)
    source = BOTH if _liked(guide, aim.time_s) else MOTION
    return _Row(aim.time_s, image, image.reason or ("cut off by the picture's edge" if touching else ""), source)


def _liked(guide: Guide, time: float) -> bool:
    """Whether the network has seen a ball where the search found one in this frame."""
    return bool(np.any((np.abs(guide.candidates.time_s[0] - time) < ALIKE_S) & (guide.likeness > 0)))


def _touches_edge(image: BallImage, view: View) -> bool:
    width, height = view.camera.size_px
    margin = WHOLE * (0.5 * image.diameter_px + 0.5 * image.streak_px)
    u, v = image.centre_px
    return bool(u < margin or v < margin or u > width - 1 - margin or v > height - 1 - margin)


def _local_correction(recent: list[_Row], on_arc_px: Floats, time_s: float) -> Floats:
    """How far the ball runs beside the arc just now: the median of the last few frames' offsets from it (n, 2).

    One frame alone tells nothing: the first may have the bat for the ball.
    """
    if len(recent) < 2 or time_s - recent[-1].time_s > LOST_S:
        return np.zeros(2)
    offsets = np.array([row.image.centre_px for row in recent if row.image]) - on_arc_px
    offsets.sort(axis=0)  # by hand: `np.median` takes as long as flying the arc
    return np.asarray((offsets[(len(offsets) - 1) // 2] + offsets[len(offsets) // 2]) / 2)


def _learn(rows: list[_Row], guide: Guide, view: View, prior: Prior) -> Guide:
    """Bend the arc to the rows so far, and to the candidates that lie ahead of them.

    Without these a few rows would decide where the ball is sought once it comes out from behind somebody.
    """
    images = [(row.time_s, row.image) for row in rows if row.image and not row.reason]
    ahead = guide.candidates.time_s[0] > images[-1][0]
    later = guide.candidates
    seen = Seen(
        np.concatenate([[time for time, _ in images], later.time_s[0, ahead]])[None],
        np.concatenate([[image.centre_px for _, image in images], later.centre_px[0, ahead]])[None],
        np.concatenate([[image.diameter_px for _, image in images], later.width_px[0, ahead]])[None],
    )
    arcs, covariance = bend(guide.arc[None], seen, view, prior, rounds=3)
    exposure_s = _exposure(images, arcs[0], view, guide.exposure_s)
    usual = float(np.median([image.match for _, image in images[-LAST:]])) if len(images) >= LAST else None
    return replace(guide, arc=arcs[0], covariance=covariance[0], exposure_s=exposure_s, usual=usual)


def _exposure(images: list[tuple[float, BallImage]], arc: Floats, view: View, before_s: float) -> float:
    """Shutter time from the streaks so far."""
    times = np.array([time for time, _ in images])
    streak = np.array([image.streak_px for _, image in images])
    width = np.array([image.diameter_px for _, image in images])
    exposure_s = likely_exposure_s(streak, width, _speed_pxps(times, arc, view)) or before_s
    return float(np.clip(exposure_s, *EXPOSURE_S))


def _speed_pxps(times: Floats, arc: Floats, view: View) -> Floats:
    """(n,) how fast the ball moves in the picture."""
    ends = sight(arc[None], np.stack([times - 0.001, times + 0.001], axis=1).ravel(), view).centre_px[0]
    return np.asarray(np.linalg.norm(ends[1::2] - ends[::2], axis=1) / 0.002)


def _told_exposure_s(rows: list[_Row], arc: Floats, view: View) -> float | None:
    used = [(row.time_s, row.image.streak_px, row.image.diameter_px) for row in rows if row.image and not row.reason]
    if not used:
        return None
    times, streak, width = np.array(used).T
    return told_exposure_s(streak, width, _speed_pxps(times, arc, view))


def _as_track(rows: list[_Row], guide: Guide, view: View) -> BallTrack:
    count = len(rows)
    centre, sd = np.full((count, 2), np.nan), np.full((count, 2), np.nan)
    diameter, diameter_sd = np.full(count, np.nan), np.full(count, np.nan)
    for k, row in enumerate(rows):
        if row.image is not None:
            centre[k], sd[k] = row.image.centre_px, np.sqrt(np.diag(row.image.centre_cov_px2))
            diameter[k] = row.image.diameter_px
            if row.image.diameter_px >= SMALLEST_SIZED_PX and row.image.match >= SIZED_MATCH:
                diameter_sd[k] = row.image.diameter_sd_px
    stamps = np.array([row.time_s for row in rows])
    reasons = tuple(row.reason for row in rows)
    used = np.array([not reason for reason in reasons], dtype=np.bool_)
    sources = tuple(row.source for row in rows)
    exposure_s = _told_exposure_s(rows, guide.arc, view)
    return BallTrack(stamps, centre, sd, diameter, diameter_sd, used, sources, reasons, exposure_s)
