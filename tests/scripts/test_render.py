"""The renderer's truth, checked against closed forms, OpenCV and its own decoded pictures."""

import json
import tomllib
from dataclasses import replace
from pathlib import Path

import av
import cv2
import numpy as np
import pytest
from render.air_path import GRAVITY, Air, Ball, aim, fly, rebound
from render.arrays import MPH
from render.cast import Cast
from render.diamond import PLATE, named_points
from render.encode import SAMPLE_HZ, Format, Writer
from render.film import Studio
from render.lesson import takes_of, write_camera, write_lesson_toml
from render.optics import expose, project, rays
from render.play import Play, chain, plan, tee_place
from render.scene_spec import PLACES, SIZES, SceneSpec, ball_of, diamond_of, draw
from render.sound import SOUND_MPS, hear
from render.standing import camera_of
from render.world import Backdrop

VACUUM = Air(0.0, (0.0, 0.0), "constant", 0.3, "none")
BASEBALL = Ball(0.0365, 0.145)


def dark_studio(spec: SceneSpec) -> Studio:
    width, height = SIZES[spec.lines]
    dark = Backdrop(np.full((height, width, 3), 0.004, np.float32), np.zeros((height, width), np.float32))
    return Studio(spec, camera_of(spec), dark)


class Nobody(Cast):
    """An empty field."""

    def actors(self, play: Play) -> list[object]:  # type: ignore[override]
        return []


def test_a_ball_in_a_vacuum_flies_the_textbook_parabola() -> None:
    # Source: R = v² sin 2θ / g and H = (v sin θ)² / 2g, level ground; 40 m/s, 30°.
    speed, angle = 40.0, np.radians(30.0)
    start = np.array([0.0, 0.0, BASEBALL.radius_m + 1e-9])
    path = fly(start, speed * np.array([0.0, np.cos(angle), np.sin(angle)]), np.zeros(3), VACUUM, BASEBALL)
    assert path.y[1, -1] == pytest.approx(speed**2 * np.sin(2 * angle) / GRAVITY, abs=1e-6)
    assert path.sol(speed * np.sin(angle) / GRAVITY)[2] - start[2] == pytest.approx(
        (speed * np.sin(angle)) ** 2 / 2 / GRAVITY, abs=1e-6
    )


def test_a_ball_with_drag_lands_where_a_published_worked_example_says() -> None:
    # Source: Downey, Modeling and Simulation in Python, ch. 22: 0.145 kg, 73 mm, Cd 0.33, 40 m/s at 45° from 1 m
    # flies "about 99 m". Half a metre is what "about" leaves open.
    air = Air(1.2, (0.0, 0.0), "constant", 0.33, "none")
    path = fly(np.array([0, 0, 1.0]), 40 * np.array([0.0, np.sqrt(0.5), np.sqrt(0.5)]), np.zeros(3), air, BASEBALL)
    assert path.y[1, -1] == pytest.approx(99.3, abs=0.5)


def test_backspin_lifts_and_sidespin_bends_to_its_side() -> None:
    air = Air(1.2, (0.0, 0.0), "constant", 0.33, "nathan")
    start, velocity = np.array([0.0, 0.0, 1.0]), np.array([0.0, 35.0, 8.0])
    plain = fly(start, velocity, np.zeros(3), air, BASEBALL).y[:2, -1]
    back = fly(start, velocity, np.array([200.0, 0.0, 0.0]), air, BASEBALL).y[:2, -1]
    side = fly(start, velocity, np.array([0.0, 0.0, -200.0]), air, BASEBALL).y[:2, -1]
    assert back[1] > plain[1] + 5
    assert side[0] > plain[0] + 2


def test_a_bounce_takes_energy_and_a_rolling_ball_does_not_slip() -> None:
    # A solid sphere: friction acts until its lowest point stops (2/7 of the slip): mechanics textbooks, from memory.
    velocity, spin = np.array([3.0, 12.0, -6.0]), np.array([20.0, -5.0, 8.0])
    after, turned = rebound(velocity, spin, BASEBALL, 0.42, 5.0)
    slip = after[:2] + BASEBALL.radius_m * np.array([-turned[1], turned[0]])
    inertia = 0.4 * BASEBALL.radius_m**2
    assert np.allclose(slip, 0.0, atol=1e-9)
    assert after[2] == pytest.approx(0.42 * 6.0)
    assert after @ after + inertia * turned @ turned < velocity @ velocity + inertia * spin @ spin


def test_an_aimed_pitch_arrives_at_its_place_and_moment() -> None:
    air, goal = Air(1.2, (0.5, -0.5), "constant", 0.35, "none"), np.array([0.1, 0.5, 0.8])
    start = np.array([0.2, 14.7, 0.9])
    velocity = aim(start, goal, 1.4, air, BASEBALL)
    assert np.allclose(fly(start, velocity, np.zeros(3), air, BASEBALL, 2.0).sol(1.4)[:3], goal, atol=1e-6)


@pytest.mark.parametrize("place", PLACES)
def test_projection_agrees_with_opencv_and_inverts(place: str) -> None:
    optics = camera_of(draw(5, place=place))
    points = np.random.default_rng(0).uniform([-4, 1, 0], [4, 25, 6], (200, 3))
    ours = project(points, optics)
    keep = np.isfinite(ours).all(axis=1)
    matrix = np.array(
        [[optics.focal_px, 0, optics.principal_px[0]], [0, optics.focal_px, optics.principal_px[1]], [0, 0, 1]]
    )
    turn, _ = cv2.Rodrigues(optics.rotation)
    theirs, _ = cv2.projectPoints(
        points[keep], turn, -optics.rotation @ optics.position_m, matrix, np.array([optics.k1, 0.0, 0, 0, 0])
    )
    assert np.abs(ours[keep] - theirs[:, 0]).max() < 1e-6
    seen = keep & (ours > 0).all(axis=1) & (ours < optics.size_px).all(axis=1)
    sight = points[seen] - optics.position_m
    sight /= np.linalg.norm(sight, axis=1, keepdims=True)
    assert np.abs(rays(ours[seen], optics) - sight).max() < 1e-9


def test_what_lies_outside_the_view_is_not_folded_into_the_picture() -> None:
    optics = replace(camera_of(draw(5, place="side")), k1=-0.06)
    sideways = optics.position_m + 0.2 * optics.rotation[2] + np.outer(np.linspace(0.5, 8, 40), optics.rotation[0])
    pixels = project(sideways, optics)[:, 0]
    seen = pixels[np.isfinite(pixels)]
    assert not ((seen > 0) & (seen < optics.size_px[0])).any()


def test_a_moving_point_is_imaged_when_its_own_row_is_exposed() -> None:
    optics = camera_of(draw(8, place="side"))

    def path(times: np.ndarray) -> np.ndarray:
        return np.array([0.0, 1.0, 1.0]) + np.outer(times, [0.0, 20.0, 6.0])

    times, pixels = expose(path, 0.01, np.array([0.0, 0.5, 1.0]), optics)
    row = optics.readout_s * pixels[:, 1] / optics.size_px[1]
    assert np.allclose(times, 0.01 + row + np.array([0.0, 0.5, 1.0]) * optics.exposure_s, atol=1e-9)


def test_the_plate_has_the_rule_books_sides() -> None:
    # Source: Official Baseball Rules 2.02: 17 in front, 8.5 in sides, 12 in (12.02 in where the tip is square) edges.
    sides = np.linalg.norm(np.roll(PLATE, -1, axis=0) - PLATE, axis=1) / 0.0254
    assert np.allclose(sides, [12.02, 8.5, 17.0, 8.5, 12.02], atol=0.01)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("bats", ["left", "right"])
def test_plate_and_boxes_are_in_the_picture_and_the_flight_has_room(place: str, bats: str) -> None:
    for seed in range(6):
        spec = draw(seed, place=place, bats=bats)
        optics = camera_of(spec)
        points = named_points(diamond_of(spec))
        corners = project(np.array([p for name, p in points.items() if "box" in name or "plate_" in name[:6]]), optics)
        width, height = optics.size_px
        inside = (corners > 0).all(axis=1) & (corners[:, 0] < width) & (corners[:, 1] < height)
        assert inside.mean() > 0.8
        if place == "side":
            tip = project(points["plate_tip"][None], optics)[0, 0]
            ahead = project(np.array([[0.0, 1.0, 0.0]]), optics)[0, 0]
            assert (width - tip if ahead > tip else tip) > 0.4 * width


def ball_centroid(with_ball: np.ndarray, without: np.ndarray, middle: np.ndarray, reach: float) -> np.ndarray:
    low = np.maximum(np.floor(middle - reach).astype(int), 0)
    high = np.ceil(middle + reach).astype(int) + 1
    part = (slice(low[1], high[1]), slice(low[0], high[0]))
    change = np.abs(with_ball[part].astype(float) - without[part].astype(float)).sum(axis=2)
    change = np.clip(change - 30.0, 0.0, 60.0)
    y, x = np.mgrid[part]
    return np.asarray(np.array([(change * x).sum(), (change * y).sum()]) / change.sum())


def test_the_decoded_balls_centre_is_the_truths(tmp_path: Path) -> None:
    # 0.3 px: what noise and compression leave of the centre of a ball some 10-20 px wide at 20 Mb/s.
    spec = draw(21, place="side", lines=720, fps=60.0, light="overcast", exposure_s=1 / 500, net=False, codec="h264")
    spec = replace(spec, ball_colour="optic", noise=0.7, walkers=0, birds=0)
    studio, play, nobody = dark_studio(spec), plan(spec, "toss", 0, "hit"), Nobody(spec)
    times = [play.contact_s + 0.02 + k / 60 for k in range(5)]
    form = Format(SIZES[720], 60.0, "h264", 20.0)
    # A ball that shines: its outline counts then, not how the light falls on it.
    studio.paint = replace(studio.paint, colour=np.full(3, 30.0))
    seen, pictures = [], {}
    for ball in (True, False):
        rng = np.random.default_rng(3)
        path = tmp_path / f"{ball}.mp4"
        with Writer(path, form, None) as writer:
            for time in times:
                picture, sighting = studio.frame(play, nobody, time, rng, ball)
                writer.add(picture, time - times[0])
                seen += [sighting] if ball else []
        with av.open(str(path)) as box:
            pictures[ball] = [frame.to_ndarray(format="rgb24") for frame in box.decode(video=0)]
    checked = 0
    for index, sighting in enumerate(seen):
        if sighting is None or sighting.visible < 0.999:
            continue
        middle = np.array([sighting.u_px, sighting.v_px])
        found = ball_centroid(
            pictures[True][index], pictures[False][index], middle, sighting.diameter_px + sighting.streak_px
        )
        assert np.abs(found - middle).max() < 0.3
        checked += 1
    assert checked >= 3


def test_the_ball_covers_the_area_that_its_diameter_says() -> None:
    spec = replace(draw(4, place="behind", lines=720, fps=60.0, net=False), walkers=0, birds=0)
    studio, play = dark_studio(spec), plan(spec, "tee", 0, "hit")
    items = studio.ball_view(play, 0.1)
    assert items.patch is not None
    # A still ball: the sum of its cover is the disc's area; 2 % for the soft edge.
    assert items.patch.cover.sum() == pytest.approx(np.pi / 4 * items.diameter_px**2, rel=0.02)


def test_the_crack_is_heard_late_by_the_sounds_way() -> None:
    # Source: 343.2 m/s in dry air at 20 °C. A tenth of a millisecond is five samples of a sharp attack.
    spec = draw(2, place="high", sound="clear")
    play, optics = plan(spec, "tee", 0, "hit"), camera_of(spec)
    sound = hear(spec, [play], optics, 0)
    assert sound is not None
    due = play.contact_s + float(np.linalg.norm(play.contact_m - optics.position_m)) / SOUND_MPS
    onset = np.flatnonzero(np.abs(sound) > 0.06)[0] / SAMPLE_HZ
    assert onset == pytest.approx(due, abs=3e-4)


def test_a_miss_has_no_crack_and_its_ball_flies_on() -> None:
    spec = draw(2, place="behind", sound="clear", net=False)
    play = plan(spec, "live", 3, "miss")
    before, after = play.ball(np.array([play.contact_s - 0.01, play.contact_s + 0.1]))
    assert after[1] < before[1]
    assert play.phase(play.contact_s + 0.02) == "pitch"
    sound = hear(spec, [play], camera_of(spec), 3)
    assert sound is not None
    early = sound[: int((play.contact_s + 0.03) * SAMPLE_HZ)]
    assert np.abs(early).max() < 0.2


def test_the_barrel_meets_the_ball_at_contact() -> None:
    from render.figure import SWEET_M, bat_pose

    for index in range(5):
        play = plan(draw(9), "live", index, "hit")
        knob, way = bat_pose(play.swing, play.contact_s)
        assert np.allclose(knob + SWEET_M * way, play.contact_m, atol=1e-6)


def test_swings_follow_each_other_without_a_jump_of_the_batter() -> None:
    spec = draw(9, place="behind", net=False)
    first, second = chain(spec, "tee", 0, ("hit", "miss"))
    cast = Cast(spec)
    end = cast.actors(first)[0].limbs(first.length_s)
    begin = cast.actors(second)[0].limbs(0.0)
    assert second.start_s == first.length_s
    for a, b in zip(end, begin, strict=True):
        assert np.abs(a.start_m - b.start_m).max() < 1e-6


def test_without_a_swing_the_ball_stays_and_the_bat_waits() -> None:
    (play,) = chain(draw(9, net=False), "tee", 0, ())
    assert np.allclose(play.ball(np.array([0.0, play.length_s])), play.contact_m)
    assert play.swing.contact_s > play.length_s + 10


def test_speeds_and_angles_of_the_plan_are_those_of_the_game() -> None:
    plays = [plan(draw(seed), "live", 0, "hit") for seed in range(15)]
    speeds = [float(np.linalg.norm(play.velocity)) / MPH for play in plays]
    assert min(speeds) >= 45 and max(speeds) <= 105
    assert all(play.ball(np.array([play.contact_s]))[0] == pytest.approx(play.contact_m, abs=1e-6) for play in plays)


def test_a_lessons_entries_name_what_is_in_the_picture(tmp_path: Path) -> None:
    spec = draw(6, place="behind")
    optics = camera_of(spec)
    takes = takes_of(spec, 3, ("tee", "toss", "live"), (2,))
    (tmp_path / "truth").mkdir()
    write_lesson_toml(tmp_path, spec, optics, takes)
    write_camera(tmp_path, spec, optics, takes)
    lesson = tomllib.loads((tmp_path / "lesson.toml").read_text())
    points = named_points(diamond_of(spec)) | {"tee_base": tee_place(spec)}
    for mark in lesson["camera"]["marks"]:
        assert np.abs(project(points[mark["point"]][None], optics)[0] - mark["pixel"]).max() < 6 * spec.mark_sd_px
    assert json.loads((tmp_path / "truth" / "camera.json").read_text())["size_px"] == list(optics.size_px)
    assert set(lesson["blocks"]) == {"01-tee", "02-toss", "03-live"}


def test_the_same_seed_gives_the_same_lesson_and_wrong_choices_are_refused() -> None:
    assert draw(3) == draw(3)
    assert draw(3) != draw(4)
    assert ball_of(draw(3, ball_kind="baseball")).mass_kg == pytest.approx(0.1453, abs=1e-3)
    with pytest.raises(ValueError, match="no such choice"):
        draw(3, colour="blue")
    with pytest.raises(ValueError, match="none of"):
        draw(3, place="moon")
