"""Swings made without the package: scipy's DOP853 flies a spinning ball, OpenCV projects it.

Nothing here uses the package's forces, paths or projection; only its contracts (Camera, BallTrack, priors).
"""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from scipy.integrate import solve_ivp

from balltrack.air import Air
from balltrack.camera.model import Camera
from balltrack.field import Ball
from balltrack.flight.evidence import ContactPrior, Setting
from balltrack.track.ball import BallTrack
from balltrack.units import Floats

Position = Callable[[float], Floats]
"""Time since contact [s] -> (3,) centre of the ball [m]."""

WIDTH, HEIGHT = 1920, 1080
FOCAL_PX = 1598.0  # 62 degrees across 1920 columns
DENSITY = 1.2
BALL_DIAMETER_M, BALL_MASS_KG = 0.09702, 0.1885
CENTRE_SD_PX = 0.5
MEASURED = 0.985  # of a ball's width, on the whole: see docs/decisions/0018
DIAMETER_SD_PX = 0.5
MARK_SD_PX = 1.0

# Plate and batter's boxes by the rule book (softball: 3 x 7 ft, 6 in from the plate, 4 ft ahead of its centre).
PLATE = [(0.0, 0.0), (-0.2159, 0.2159), (0.2159, 0.2159), (-0.2159, 0.4318), (0.2159, 0.4318)]
BOXES = [(side * x, y) for side in (-1, 1) for x in (0.3683, 1.2827) for y in (-0.6985, 1.4351)]


@dataclass(frozen=True)
class SetUp:
    """Where the phone stands and looks."""

    position_m: tuple[float, float, float]
    target_m: tuple[float, float, float]


SET_UPS = {
    "behind": SetUp((0.3, -5.0, 1.7), (0.0, 20.0, 0.6)),
    "45 degrees": SetUp((3.6, -3.6, 1.7), (0.6, 2.8, 1.0)),
    "side-on": SetUp((6.0, 1.6, 1.5), (0.0, 2.3, 1.2)),
}


@dataclass(frozen=True, eq=False)
class Truth:
    """A flown ball."""

    position_m: Floats
    velocity_mps: Floats
    contact_s: float
    carry_m: float
    hang_s: float
    landing_m: Floats

    @property
    def numbers(self) -> Floats:
        """Exit speed [m/s], launch and spray [deg]."""
        x, y, z = self.velocity_mps
        angles = np.degrees([np.arctan2(z, np.hypot(x, y)), np.arctan2(x, y)])
        return np.array([np.linalg.norm(self.velocity_mps), *angles])


@dataclass(frozen=True, eq=False)
class Swing:
    """What the fit is given, and what it should find."""

    truth: Truth
    track: BallTrack
    contact: ContactPrior
    setting: Setting


def true_camera(place: SetUp, readout_s: float = 0.012) -> Floats:
    """(11,) parameters of a level phone that looks at a target."""
    position, target = np.array(place.position_m), np.array(place.target_m)
    ahead = (target - position) / np.linalg.norm(target - position)
    right = np.cross(ahead, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    rotation = np.array([right, np.cross(ahead, right), ahead])
    vector = cv2.Rodrigues(rotation)[0].ravel()
    return np.array([*vector, *position, FOCAL_PX, -0.02, WIDTH / 2 - 0.5, HEIGHT / 2 - 0.5, readout_s])


def see(points_m: Floats, camera: Floats) -> Floats:
    """(n, 2) pixels by OpenCV, NaN behind the lens or outside the picture."""
    rotation = cv2.Rodrigues(camera[:3])[0]
    shift = -rotation @ camera[3:6]
    matrix = np.array([[camera[6], 0, camera[8]], [0, camera[6], camera[9]], [0, 0, 1.0]])
    distortion = np.array([camera[7], 0, 0, 0, 0])
    pixels = cv2.projectPoints(points_m.reshape(-1, 1, 3), camera[:3], shift, matrix, distortion)[0][:, 0]
    local = points_m @ rotation.T + shift
    ahead = local[:, 2] > np.abs(local[:, :2]).max(axis=1)  # 45 degrees; beyond, distortion folds back
    inside = (pixels > 0).all(axis=1) & (pixels < [WIDTH, HEIGHT]).all(axis=1) & ahead
    return np.where(inside[:, None], pixels, np.nan)


def camera_covariance(camera: Floats, lens_sd: float, marks: list[tuple[float, float]]) -> Floats:
    """(11, 11) what marks clicked to 1 px and a lens known to ``lens_sd`` leave open."""
    points = np.array([(x, y, 0.0) for x, y in marks])
    steps = np.array([1e-6] * 3 + [1e-6] * 3 + [1e-2, 1e-6, 1e-3, 1e-3, 1.0])
    columns = []
    for step in np.diag(steps):
        columns.append(((see(points, camera + step) - see(points, camera - step)) / (2 * step.sum())).ravel())
    slope = np.stack(columns, axis=1)
    slope = slope[np.isfinite(slope).all(axis=1)] / MARK_SD_PX
    prior_sd = np.array([10.0] * 3 + [100.0] * 3 + [lens_sd * camera[6], 0.01, 4.0, 4.0, 0.001])
    return np.linalg.inv(slope.T @ slope + np.diag(prior_sd**-2))


def fly_truth(rng: np.random.Generator, velocity: Floats, position: Floats, contact_s: float) -> tuple[Truth, Position]:
    """Fly a ball with spin: drag drawn about 0.32, backspin grows with launch angle, one of three lift laws."""
    laws: tuple[Callable[[float], float], ...] = (
        lambda s: 1.5 * s if s <= 0.1 else 0.09 + 0.6 * s,
        lambda s: s / (2.32 * s + 0.4),
        lambda s: 1.12 * s / (0.583 + 2.333 * s),
    )
    law, drag = laws[rng.integers(3)], rng.normal(0.32, 0.03)
    elevation = np.degrees(np.arctan2(velocity[2], np.hypot(velocity[0], velocity[1])))
    back, side = rng.normal(30 * elevation + 300, 400) * 2 * np.pi / 60, rng.normal(0, 500) * 2 * np.pi / 60
    level = np.array([velocity[1], -velocity[0], 0.0]) / np.hypot(velocity[0], velocity[1])
    spin = back * level - side * np.array([0.0, 0.0, 1.0])
    k = DENSITY * np.pi * BALL_DIAMETER_M**2 / 8 / BALL_MASS_KG

    def rhs(t: float, y: Floats) -> Floats:
        v = y[3:]
        speed = float(np.linalg.norm(v))
        turning = spin * np.exp(-t / 30)
        turn_across = np.cross(turning, v / speed)
        rate = float(np.linalg.norm(turn_across))
        lift = law(BALL_DIAMETER_M / 2 * rate / speed) * turn_across / max(rate, 1e-9)
        return np.concatenate([v, k * speed**2 * (lift - drag * v / speed) - [0, 0, 9.80665]])

    def ground(_t: float, y: Floats) -> float:
        return float(y[2] - BALL_DIAMETER_M / 2)

    setattr(ground, "terminal", True)  # noqa: B010 scipy reads these from the function itself
    setattr(ground, "direction", -1)  # noqa: B010
    flown = solve_ivp(
        rhs, (0, 12), [*position, *velocity], "DOP853", rtol=1e-9, atol=1e-9, dense_output=True, events=ground
    )
    landing = flown.y[:3, -1]
    carry = float(np.hypot(landing[0], landing[1]))
    place = flown.sol
    assert place is not None
    truth = Truth(position, velocity, contact_s, carry, float(flown.t[-1]), landing[:2])
    return truth, lambda t: np.asarray(place(t)[:3])


@dataclass(frozen=True)
class Filming:
    """How a simulated swing is filmed."""

    place: SetUp
    fps: float = 60.0
    lens_sd: float = 0.003
    marks: tuple[tuple[float, float], ...] = tuple(PLATE + BOXES)
    speed_mps: float = 33.53  # 75 mph
    hidden_s: float = 0.03  # the batter and bat hide the ball so long
    longest_s: float = 0.7
    contact_sd_m: float = 0.04  # a ball on a tee whose foot is marked


def swing(rng: np.random.Generator, filming: Filming) -> Swing:
    """Draw a swing: a tee or soft toss, hit at about the given speed, filmed by a camera known with error."""
    launch, spray = np.radians(rng.uniform(-5, 40)), np.radians(rng.uniform(-30, 30))
    speed = filming.speed_mps * rng.uniform(0.85, 1.15)
    velocity = speed * np.array([np.cos(launch) * np.sin(spray), np.cos(launch) * np.cos(spray), np.sin(launch)])
    position = np.array([0.0, 0.6, 0.85]) + rng.normal(0, 0.15, 3)
    truth, path = fly_truth(rng, velocity, position, 1.0 + rng.uniform(0, 1 / filming.fps))
    camera = true_camera(filming.place)
    covariance = camera_covariance(camera, filming.lens_sd, list(filming.marks))
    believed = Camera(rng.multivariate_normal(camera, covariance), covariance, (WIDTH, HEIGHT))
    track = film(rng, truth, path, camera, believed, filming)
    sd_m = filming.contact_sd_m
    contact = ContactPrior(
        time_s=truth.contact_s + rng.normal(0, 0.004),
        time_sd_s=0.004,
        position_m=position + rng.normal(0, sd_m, 3),
        position_sd_m=np.full(3, sd_m),
    )
    ball = Ball(BALL_DIAMETER_M, diameter_sd_m=0.0006, mass_kg=BALL_MASS_KG, mass_sd_kg=0.004, drag=0.32, drag_sd=0.04)
    air = Air(density_kg_m3=DENSITY, temperature_c=20.0, wind_mps=(0.0, 0.0))
    return Swing(truth, track, contact, Setting(believed, ball, air))


def film(
    rng: np.random.Generator, truth: Truth, path: Position, camera: Floats, believed: Camera, how: Filming
) -> BallTrack:
    """The track that a perfect detector with Gaussian noise would give."""
    frames = np.arange(1.0, truth.contact_s + min(how.longest_s, truth.hang_s) - 0.02, 1 / how.fps)
    rotation = cv2.Rodrigues(camera[:3])[0]
    times: list[float] = []
    pixels: list[Floats] = []
    sizes: list[float] = []
    for frame in frames[frames >= truth.contact_s + how.hidden_s]:
        row = HEIGHT / 2
        for _ in range(6):  # the ball's row says when it is exposed, hence where it is
            pixel = see(path(frame + camera[10] * row / HEIGHT - truth.contact_s)[None], camera)[0]
            row = pixel[1]
        if not np.isfinite(pixel).all():
            continue
        away = path(frame - truth.contact_s) - camera[3:6]
        distance = float(np.linalg.norm(away))
        # Circle of the area of a sphere's perspective image, small-angle form: f D / distance / cos(t)^1.5.
        size = float(camera[6] * BALL_DIAMETER_M / distance / ((rotation @ away)[2] / distance) ** 1.5)
        if size < 5.0:
            break
        times.append(float(frame))
        pixels.append(pixel)
        sizes.append(size)
    n = len(times)
    centre = np.array(pixels).reshape(-1, 2) + rng.normal(0, CENTRE_SD_PX, (n, 2))
    bias = MEASURED + rng.normal(0, 0.02)
    return BallTrack(
        time_s=np.array(times) + believed.readout_s * centre[:, 1] / HEIGHT,
        centre_px=centre,
        centre_sd_px=np.full((n, 2), CENTRE_SD_PX),
        diameter_px=np.array(sizes) * bias + rng.normal(0, DIAMETER_SD_PX, n),
        diameter_sd_px=np.full(n, DIAMETER_SD_PX),
        used=np.ones(n, dtype=bool),
        source=("simulated",) * n,
        reason=("",) * n,
    )
