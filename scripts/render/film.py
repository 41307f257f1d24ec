"""Films one clip: lays everything that moves over the still backdrop, frame by frame, and notes the truth."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from .arrays import Bytes, Floats, Image
from .ball_paint import COLOURS, BallView, Paint, view_ball
from .brush import Limb, Patch, Window, lay
from .cast import Actor, Cast
from .encode import TICKS_HZ, Format, Writer, phone_megabits
from .hand import Hand, flow_between
from .limb_paint import Item, limb_paint_of, paint_actor
from .metering import Metering
from .optics import Optics
from .play import Play
from .scene_spec import SceneSpec, ball_of
from .sensor import LUMA, REACH, Sensor, blank, quieten
from .shadow import shadow_patch
from .sound import hear
from .sun import sun_of
from .sway import Sway
from .veil import veil_of
from .world import Backdrop


@dataclass(frozen=True, slots=True)
class Sighting:
    """The ball's true image in one frame."""

    time_s: float
    u_px: float
    v_px: float
    diameter_px: float
    visible: float
    streak_px: float
    phase: str
    contrast: float  # mean over its clear cover of the luma code's change against what is behind it, 0..255


class Studio:
    """A lesson's still scene, ready to film clips."""

    def __init__(self, spec: SceneSpec, optics: Optics, backdrop: Backdrop) -> None:
        self.spec, self.optics, self.backdrop = spec, optics, backdrop
        self.sun = sun_of(spec)
        size_px = optics.size_px
        self.sensor = Sensor(spec.seed, size_px, spec.noise, spec.sharpen)
        self.veil = veil_of(spec, optics)
        self.still = self.sensor.develop(self.veil.over(backdrop.light))
        # In a shaken picture everything moves, and the phone finds nothing to filter.
        self.quiet = spec.still_denoise if spec.hand_px <= 0 else 0.0
        if self.quiet > 0:
            quieten(self.still, self.still, self.quiet)
        self.now, self.canvas = blank(size_px), np.zeros((size_px[1], size_px[0], 3), np.float32)
        self.now.take(self.still)
        self.dirty: list[Window] = []
        self.sway = Sway(spec.seed, self.veil.calm(backdrop.leaves), spec.sway_px * size_px[1] / 1080)
        self.limbs = limb_paint_of(spec, optics, self.sun)
        red = spec.ball_kind == "baseball"
        self.paint = Paint(optics, self.sun, ball_of(spec).radius_m, COLOURS[spec.ball_colour], red)
        self.hand: Hand | None = None
        self.metering: Metering | None = None

    def film(self, plays: list[Play], cast: Cast, index: int, path: Path) -> list[Sighting]:
        """Render a clip of one or more swings to a file and return where the ball truly was, in clip time."""
        spec, size_px = self.spec, self.optics.size_px
        megabits = spec.bit_share * phone_megabits(size_px, spec.fps, spec.codec)
        form = Format(size_px, spec.fps, spec.codec, megabits, spec.stretched)
        rng = np.random.default_rng([self.spec.seed, 500 + index])
        seen: list[Sighting] = []
        length_s = plays[-1].start_s + plays[-1].length_s
        self.begin(index, length_s)
        sound = None if spec.stretched else hear(spec, plays, self.optics, index)
        with Writer(path, form, sound) as writer:
            for time_s in frame_times(spec, length_s, index):
                play = next(play for play in reversed(plays) if time_s >= play.start_s)
                picture, sighting = self.frame(play, cast, time_s - play.start_s, rng)
                writer.add(picture, time_s)
                if sighting is not None:
                    seen.append(replace(sighting, time_s=sighting.time_s + play.start_s))
        return seen

    def begin(self, index: int, length_s: float) -> None:
        """Start a clip: its hand shake and its changes of light."""
        self.hand = Hand(self.spec, self.optics, index) if self.spec.hand_px > 0 else None
        self.metering = Metering(self.spec, self.optics, index, length_s)

    def frame(
        self, play: Play, cast: Cast, pts_s: float, rng: np.random.Generator, with_ball: bool = True
    ) -> tuple[Bytes, Sighting | None]:
        """One 8-bit frame (3 h / 2, w) as yuv420p, in a buffer that the next frame reuses, and the ball in it."""
        time_s = pts_s + play.start_s
        optics = self.optics_at(time_s)
        actors = cast.actors(play)
        groups = self._groups(actors, pts_s, optics)
        ball = self.ball_view(play, pts_s)
        if ball.patch is not None and with_ball:
            groups.append([Item(ball.depth_m, ball.patch, True)])
        items = sorted((item for group in groups for item in group), key=lambda item: -item.depth_m)
        shadows = self._shadows(play, actors, pts_s, optics, with_ball)
        windows = [_around([item.patch.window for item in group]) for group in groups if group]
        regions = _regions([*windows, *(patch.window for patch in shadows)], optics.size_px)
        self._restore(time_s, optics)
        contrast = self._compose(regions, shadows, items)
        for region in regions:
            self._develop(region)
        gains = None if self.metering is None else self.metering.gains(time_s)
        picture = self.sensor.expose(self.now, rng, gains)
        return picture, self._sighting(ball, items, play, contrast)

    def optics_at(self, time_s: float) -> Optics:
        """The camera at a clip time."""
        return self.optics if self.hand is None else self.hand.optics_at(time_s)

    def ball_view(self, play: Play, pts_s: float) -> BallView:
        """The ball in the frame at ``pts_s``, as if nothing stood before it."""
        paint = replace(self.paint, optics=self.optics_at(pts_s + play.start_s))
        return view_ball(play.ball, pts_s, paint, play.spin_at(pts_s))

    def _groups(self, actors: list[Actor], pts_s: float, optics: Optics) -> list[list[Item]]:
        paint = replace(self.limbs, optics=optics)
        return [paint_actor(actor, pts_s, paint) for actor in actors]

    def _restore(self, time_s: float, optics: Optics) -> None:
        """Undo what the last frame painted, and move leaves and camera on."""
        if self.hand is None:
            self.sway.set_time(time_s)
            for window in self.dirty:
                self.now.part(*window).take(self.still.part(*window))
        else:
            self.sway.set_time(time_s, flow_between(optics, self.optics))
            np.copyto(self.now.spread, self.still.spread)
        self.dirty.clear()
        self.sway.apply(self.still, self.now)

    def _compose(self, regions: list[Window], shadows: list[Patch], items: list[Item]) -> float:
        """Lay everything over the regions of the canvas; returns the ball's contrast where nothing covers it."""
        for top, bottom, left, right in regions:
            self.sway.part(self.backdrop.light, (top, bottom, left, right), self.canvas[top:bottom, left:right])
        for shadow in shadows:
            lay(self.canvas, shadow)
        contrast = 0.0
        for index, item in enumerate(items):
            if not item.ball:
                lay(self.canvas, item.patch)
                continue
            behind = self._luma(item.patch.window)
            lay(self.canvas, item.patch)
            change = np.abs(self._luma(item.patch.window) - behind)
            clear = self._clear(item.patch, items[index + 1 :])
            contrast = float((clear * change).sum() / max(float(clear.sum()), 1e-6))
        return contrast

    def _luma(self, window: Window) -> Image:
        """Luma codes of the canvas as it is now, behind the veil."""
        top, bottom, left, right = window
        part = self.canvas[top:bottom, left:right].copy()
        self._veil(part, window)
        return np.asarray(self.sensor.codes(part) @ LUMA.astype(np.float32), np.float32)

    def _veil(self, part: Image, window: Window) -> None:
        """Lay the veil, which turns with the still scene, over a part of the picture."""
        if self.hand is None or self.veil.blank:
            self.veil.lay(part, window)
            return
        light, cover = np.empty_like(part), np.empty(part.shape[:2], np.float32)
        self.sway.part(self.veil.light, window, light, False)
        self.sway.part(self.veil.cover, window, cover, False)
        part *= 1.0 - cover[..., None]
        part += light

    def _develop(self, region: Window) -> None:
        """Take a region of the canvas into the picture: its inside, whose surroundings are known."""
        top, bottom, left, right = region
        width, height = self.optics.size_px
        part = self.canvas[top:bottom, left:right]
        if not self.veil.blank:
            part = part.copy()
            self._veil(part, region)
        planes = self.sensor.develop(part)
        a, b = (0 if top == 0 else REACH), (0 if bottom == height else REACH)
        c, d = (0 if left == 0 else REACH), (0 if right == width else REACH)
        inside = (top + a, bottom - b, left + c, right - d)
        fresh = planes.part(a, bottom - top - b, c, right - left - d)
        if self.quiet > 0:
            quieten(fresh, self.still.part(*inside), self.quiet)
        self.now.part(*inside).take(fresh)
        self.dirty.append(inside)

    def _shadows(self, play: Play, actors: list[Actor], pts_s: float, optics: Optics, with_ball: bool) -> list[Patch]:
        """Soft darkening of the ground, one patch an actor: overlapping limbs must not darken twice."""
        moment = pts_s + 0.5 * optics.readout_s + 0.5 * optics.exposure_s
        groups = [actor.limbs(moment) for actor in actors if actor.shadow]
        if with_ball:
            spot = play.ball(np.array([moment]))[0]
            radius = self.paint.radius_m
            groups.append([Limb(spot, spot + 1e-4, radius, radius, np.zeros(3))])
        patches = (shadow_patch(limbs, self.sun, optics) for limbs in groups)
        return [patch for patch in patches if patch is not None]

    def _clear(self, ball: Patch, before: list[Item]) -> Image:
        """The ball's cover where nothing before it covers it."""
        a, b, c, d = ball.window
        clear = ball.cover.copy()
        for item in before:
            e, f, g, h = item.patch.window
            top, bottom, left, right = max(a, e), min(b, f), max(c, g), min(d, h)
            if bottom > top and right > left:
                hidden = item.patch.cover[top - e : bottom - e, left - g : right - g]
                clear[top - a : bottom - a, left - c : right - c] *= 1.0 - hidden
        if self.hand is None or self.veil.blank:
            self.veil.thin(clear, ball.window)
        else:
            cover = np.empty_like(clear)
            self.sway.part(self.veil.cover, ball.window, cover, False)
            clear *= 1.0 - cover
        return clear

    def _sighting(self, ball: BallView, items: list[Item], play: Play, contrast: float) -> Sighting | None:
        if ball.patch is None or ball.whole <= 0:
            return None
        order = [index for index, item in enumerate(items) if item.ball]
        clear = self._clear(ball.patch, items[order[0] + 1 :] if order else [])
        share = float(np.clip(clear.sum() / ball.whole, 0.0, 1.0))
        u, v = ball.centre_px
        return Sighting(
            ball.time_s, float(u), float(v), ball.diameter_px, share, ball.streak_px, play.phase(ball.time_s), contrast
        )


def frame_times(spec: SceneSpec, length_s: float, index: int) -> list[float]:
    """When frames are taken: at 1/90000 s exactly as stored, a little uneven, some dropped, as the lesson says."""
    rng = np.random.default_rng([spec.seed, 700 + index])
    count = int(length_s * spec.fps)
    times = np.arange(count) / spec.fps + np.clip(rng.normal(0, 1, count), -2.5, 2.5) * spec.uneven_s
    times[0] = 0.0
    keep = rng.random(count) >= spec.dropped
    keep[0] = True
    return [round(float(time) * TICKS_HZ) / TICKS_HZ for time in times[keep]]


def _around(windows: list[Window]) -> Window:
    edges: Floats = np.array(windows)
    return (int(edges[:, 0].min()), int(edges[:, 1].max()), int(edges[:, 2].min()), int(edges[:, 3].max()))


def _regions(windows: list[Window], size_px: tuple[int, int]) -> list[Window]:
    """Even-sided parts of the frame that hold the windows and their surroundings, joined where that saves work."""
    width, height = size_px
    left: list[Window] = [
        (
            max((a - 2 * REACH) // 2 * 2, 0), min((b + 2 * REACH + 1) // 2 * 2, height),
            max((c - 2 * REACH) // 2 * 2, 0), min((d + 2 * REACH + 1) // 2 * 2, width),
        )
        for a, b, c, d in windows
    ]  # fmt: skip
    done: list[Window] = []
    while left:
        now = left.pop()
        for other in left + done:
            joined = _around([now, other])
            if _area(joined) <= _area(now) + _area(other):
                (left if other in left else done).remove(other)
                left.append(joined)
                break
        else:
            done.append(now)
    return done


def _area(window: Window) -> int:
    return (window[1] - window[0]) * (window[3] - window[2])
