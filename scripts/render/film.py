"""Films one clip: lays everything that moves over the still backdrop, frame by frame, and notes the truth."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from .arrays import Bytes, Floats
from .ball_paint import COLOURS, BallView, Paint, view_ball
from .brush import Limb, Patch, Window, average, lay, limb_patch
from .cast import Cast, LimbsAt
from .encode import TICKS_HZ, Format, Writer, phone_megabits
from .lamps import flicker_codes
from .optics import Optics, depths, project, row_time
from .play import Play
from .scene_spec import SceneSpec, ball_of
from .sensor import Sensor
from .shadow import shadow_patch
from .sound import hear
from .sun import sun_of
from .sway import Sway
from .textures import tile
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


@dataclass(frozen=True, slots=True, eq=False)
class Item:
    """Something to lay over the frame, at a distance."""

    depth_m: float
    patch: Patch
    ball: bool = False


class Studio:
    """A lesson's still scene, ready to film clips."""

    def __init__(self, spec: SceneSpec, optics: Optics, backdrop: Backdrop) -> None:
        self.spec, self.optics, self.backdrop = spec, optics, backdrop
        self.sun = sun_of(spec)
        self.sensor = Sensor(spec.seed, optics.size_px, spec.noise)
        self.veil = veil_of(spec, optics)
        self.code, self.spread = self.sensor.develop(self.veil.over(backdrop.light))
        self.now_code, self.now_spread = np.empty_like(self.code), np.empty_like(self.spread)
        self.picture = np.empty(self.code.shape, np.uint8)
        self.sway = Sway(spec.seed, self.veil.calm(backdrop.leaves), spec.sway_px * optics.size_px[1] / 1080)
        self.cloth = tile(spec.seed + 8, 1.6)
        toward = optics.rotation @ self.sun.toward
        self.limb_light = (toward, self.sun.direct, self.sun.ambient)
        red = spec.ball_kind == "baseball"
        self.paint = Paint(optics, self.sun, ball_of(spec).radius_m, COLOURS[spec.ball_colour], red)

    def film(self, plays: list[Play], cast: Cast, index: int, path: Path) -> list[Sighting]:
        """Render a clip of one or more swings to a file and return where the ball truly was, in clip time."""
        spec, size_px = self.spec, self.optics.size_px
        megabits = spec.bit_share * phone_megabits(size_px, spec.fps, spec.codec)
        form = Format(size_px, spec.fps, spec.codec, megabits, spec.stretched)
        rng = np.random.default_rng([self.spec.seed, 500 + index])
        seen: list[Sighting] = []
        sound = None if spec.stretched else hear(spec, plays, self.optics, index)
        with Writer(path, form, sound) as writer:
            for time_s in frame_times(spec, plays[-1].start_s + plays[-1].length_s, index):
                play = next(play for play in reversed(plays) if time_s >= play.start_s)
                picture, sighting = self.frame(play, cast, time_s - play.start_s, rng)
                writer.add(picture, time_s)
                if sighting is not None:
                    seen.append(replace(sighting, time_s=sighting.time_s + play.start_s))
        return seen

    def frame(
        self, play: Play, cast: Cast, pts_s: float, rng: np.random.Generator, with_ball: bool = True
    ) -> tuple[Bytes, Sighting | None]:
        """One 8-bit frame, in a buffer that the next frame reuses, and the ball in it."""
        items = self._limbs(play, cast, pts_s)
        ball = self.ball_view(play, pts_s)
        if ball.patch is not None and with_ball:
            items.append(Item(ball.depth_m, ball.patch, True))
        items.sort(key=lambda item: -item.depth_m)
        shadows = self._shadows(play, cast, pts_s, with_ball)
        np.copyto(self.now_code, self.code)
        np.copyto(self.now_spread, self.spread)
        self.sway.set_time(pts_s + play.start_s)
        self.sway.apply(self.code, self.now_code)
        for window in _merge([patch.window for patch in shadows] + [item.patch.window for item in items]):
            self._repaint(window, shadows, items)
        flicker = flicker_codes(self.spec, self.optics, pts_s + play.start_s)
        if flicker is not None:
            self.now_code *= flicker
        self.sensor.noisy(self.now_code, self.now_spread, rng, self.picture)
        return self.picture, self._sighting(ball, items, play)

    def ball_view(self, play: Play, pts_s: float) -> BallView:
        """The ball in the frame at ``pts_s``, as if nothing stood before it."""
        return view_ball(play.ball, pts_s, self.paint, play.spin_at(pts_s))

    def _repaint(self, window: Window, shadows: list[Patch], items: list[Item]) -> None:
        top, bottom, left, right = window
        part = self.sway.part(self.backdrop.light, window)
        for patch in [*shadows, *(item.patch for item in items)]:
            a, b, c, d = patch.window
            if a >= top and b <= bottom and c >= left and d <= right:
                lay(part, Patch((a - top, b - top, c - left, d - left), patch.colour, patch.cover, patch.shade))
        self.veil.lay(part, window)
        code, spread = self.sensor.develop(part)
        self.now_code[top:bottom, left:right], self.now_spread[top:bottom, left:right] = code, spread

    def _limbs(self, play: Play, cast: Cast, pts_s: float) -> list[Item]:
        items = []
        height = self.optics.size_px[1]
        for actor in cast.actors(play):
            rough = project(actor.centre_m(pts_s)[None], self.optics)[0]
            row = float(np.clip(np.nan_to_num(rough[1], nan=height / 2), 0, height))
            if actor.fast:
                items += self._blurred(actor.limbs, pts_s)
                continue
            moment = float(row_time(pts_s, np.array([row]), 0.5, self.optics)[0])
            items += [item for limb in actor.limbs(moment) if (item := self._limb_item(limb)) is not None]
        return items

    def _blurred(self, limbs_at: LimbsAt, pts_s: float) -> list[Item]:
        """A fast thing: each limb averaged over the exposure, each end at its own row's time."""
        still = limbs_at(pts_s + 0.5 * self.optics.readout_s)
        moved = limbs_at(pts_s + 0.5 * self.optics.readout_s + self.optics.exposure_s)
        ends = project(np.array([limb.end_m for limb in still]), self.optics)
        later = project(np.array([limb.end_m for limb in moved]), self.optics)
        travel = np.nan_to_num(np.hypot(*(later - ends).T), nan=0.0).max()
        count = int(np.clip(np.ceil(travel / 2.5), 1, 24))
        samples: list[list[Patch]] = [[] for _ in still]
        far = [float(depths(0.5 * (limb.start_m + limb.end_m), self.optics)[0]) for limb in still]
        for share in (np.arange(count) + 0.5) / count:
            for index, limb in enumerate(self._rolled(limbs_at, pts_s, float(share), ends)):
                item = self._limb_item(limb)
                if item is not None:
                    samples[index].append(item.patch)
        out = []
        for index, patches in enumerate(samples):
            merged = average(patches)
            if merged is not None:
                scale = np.float32(len(patches) / count)
                out.append(Item(far[index], Patch(merged.window, merged.colour * scale, merged.cover * scale)))
        return out

    def _rolled(self, limbs_at: LimbsAt, pts_s: float, share: float, ends: Floats) -> list[Limb]:
        """The limbs with each end where it is when its own row is exposed."""
        out = []
        rows = np.clip(np.nan_to_num(ends[:, 1]), 0, self.optics.size_px[1])
        times = row_time(pts_s, np.concatenate([rows[:1], rows]), share, self.optics)
        poses = [limbs_at(float(time)) for time in times]
        for index in range(len(rows)):
            a, b = poses[index][index], poses[index + 1][index]
            out.append(Limb(a.start_m, b.end_m, a.start_radius_m, a.end_radius_m, a.colour, a.texture, a.gloss, a.seed))
        return out

    def _limb_item(self, limb: Limb) -> Item | None:
        points = np.stack([limb.start_m, limb.end_m])
        far = depths(points, self.optics)
        if far.min() < 0.3:
            return None
        facing = float(np.dot(limb.thin_axis, self.optics.rotation[0]))
        side_on = np.sqrt(1.0 - (1.0 - limb.thin**2) * facing**2)
        radii = self.optics.focal_px * side_on * np.array([limb.start_radius_m, limb.end_radius_m]) / far
        patch = limb_patch(
            project(points, self.optics), (float(radii[0]), float(radii[1])), limb, self.limb_light, self.cloth,
            self.optics.size_px,
        )  # fmt: skip
        return None if patch is None else Item(float(far.mean()), patch)

    def lay_limbs(self, limbs: list[Limb]) -> None:
        """Lay still things into the backdrop, far ones first."""
        items = [item for limb in limbs if (item := self._limb_item(limb)) is not None]
        for item in sorted(items, key=lambda item: -item.depth_m):
            lay(self.backdrop.light, item.patch)

    def _shadows(self, play: Play, cast: Cast, pts_s: float, with_ball: bool) -> list[Patch]:
        """Soft darkening of the ground, one patch an actor: overlapping limbs must not darken twice."""
        moment = pts_s + 0.5 * self.optics.readout_s + 0.5 * self.optics.exposure_s
        out = []
        groups = [actor.limbs(moment) for actor in cast.actors(play) if actor.shadow]
        if with_ball:
            spot = play.ball(np.array([moment]))[0]
            radius = self.paint.radius_m
            groups.append([Limb(spot, spot + 1e-4, radius, radius, np.zeros(3))])
        for limbs in groups:
            patch = shadow_patch(limbs, self.sun, self.optics)
            if patch is not None:
                out.append(patch)
        return out

    def _sighting(self, ball: BallView, items: list[Item], play: Play) -> Sighting | None:
        if ball.patch is None or ball.whole <= 0:
            return None
        a, b, c, d = ball.patch.window
        clear = ball.patch.cover.copy()
        before = False
        for item in items:
            if item.ball:
                before = True
                continue
            if before:
                e, f, g, h = item.patch.window
                top, bottom, left, right = max(a, e), min(b, f), max(c, g), min(d, h)
                if bottom > top and right > left:
                    clear[top - a : bottom - a, left - c : right - c] *= (
                        1.0 - item.patch.cover[top - e : bottom - e, left - g : right - g]
                    )
        self.veil.thin(clear, ball.patch.window)
        share = float(np.clip(clear.sum() / ball.whole, 0.0, 1.0))
        u, v = ball.centre_px
        return Sighting(
            ball.time_s, float(u), float(v), ball.diameter_px, share, ball.streak_px, play.phase(ball.time_s)
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


def _merge(windows: list[Window]) -> list[Window]:
    """Join overlapping windows until none overlap, so that each is painted once."""
    left = list(windows)
    done: list[Window] = []
    while left:
        a, b, c, d = left.pop()
        hit = [w for w in left + done if w[0] < b and w[1] > a and w[2] < d and w[3] > c]
        if not hit:
            done.append((a, b, c, d))
            continue
        left = [w for w in left if w not in hit]
        done = [w for w in done if w not in hit]
        joined = [*hit, (a, b, c, d)]
        left.append(
            (min(w[0] for w in joined), max(w[1] for w in joined), min(w[2] for w in joined), max(w[3] for w in joined))
        )
    return done
