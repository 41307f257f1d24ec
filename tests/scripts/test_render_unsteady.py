"""What an unsteady phone shows: hand shake, a knock, changing light, sharpening; picture and truth must agree."""

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from render import film
from render.arrays import Bytes, Floats
from render.cast import Cast
from render.film import Studio
from render.hand import Hand, flow_between, knocked, turned
from render.lesson import stages_of, takes_of, write_camera, write_track
from render.metering import Metering
from render.optics import project, rays
from render.play import plan
from render.scene_spec import SIZES, SceneSpec, draw
from render.sensor import Sensor, split
from render.standing import camera_of
from render.world import Backdrop
from scipy.ndimage import center_of_mass

STEADY = {
    "venue": "field", "light": "overcast", "veil": "none", "place": "side", "net": False, "walkers": 0, "birds": 0,
    "catcher": False, "next_ball": False, "like_cloth": False, "hand_px": 0.0, "bump_px": 0.0, "exposure_step": 0.0,
    "cloud": 0.0, "sharpen": 0.0, "still_denoise": 0.0, "lines": 720, "fps": 60.0, "noise": 0.0, "sway_px": 0.0,
}  # fmt: skip


def scene(seed: int, **chosen: object) -> SceneSpec:
    return draw(seed, **(STEADY | chosen))


def grey(spec: SceneSpec, light: float = 0.1) -> Backdrop:
    width, height = SIZES[spec.lines]
    return Backdrop(np.full((height, width, 3), light, np.float32), np.zeros((height, width), np.float32))


def dotted(spec: SceneSpec, spots: Floats) -> Studio:
    """A grey scene with bright soft dots at pixels (n, 2)."""
    backdrop = grey(spec, 0.02)
    y, x = np.mgrid[0 : backdrop.light.shape[0], 0 : backdrop.light.shape[1]]
    for u, v in spots:
        backdrop.light[...] += 0.1 * np.exp(-((x - u) ** 2 + (y - v) ** 2) / 18.0)[..., None].astype(np.float32)
    return Studio(spec, camera_of(spec), backdrop)


def centre_near(luma: Bytes, spot: Floats) -> Floats:
    u, v = np.round(spot).astype(int)
    part = luma[v - 12 : v + 13, u - 12 : u + 13].astype(float)
    down, across = center_of_mass(np.clip(part - np.median(luma) - 3, 0, None))
    return np.array([u - 12 + across, v - 12 + down])


class Nobody(Cast):
    """An empty field."""

    def actors(self, play: object) -> list[object]:  # type: ignore[override]
        return []


def test_a_shaken_picture_shows_still_things_where_the_turned_camera_sees_them() -> None:
    spec = scene(5, hand_px=3.0, k1=-0.05)
    optics = camera_of(spec)
    spots = np.array([[80.0, 70.0], [1200.0, 90.0], [640.0, 360.0], [90.0, 640.0], [1190.0, 650.0]])
    studio, play = dotted(spec, spots), plan(spec, "toss", 0, "hit")
    studio.begin(0, 3.0)
    studio.still.spread[...] = 0.0
    points = optics.position_m + 20.0 * rays(spots, optics)
    moved = 0.0
    for time_s in (0.1, 0.45, 1.3):
        picture, _ = studio.frame(play, Nobody(spec), time_s, np.random.default_rng(0), False)
        due = project(points, studio.optics_at(time_s))
        for spot, pixel in zip(spots, due, strict=True):
            # 0.08 px: the picture is warped in steps of 1/32 px and stored in whole codes.
            assert np.abs(centre_near(split(picture)[0], pixel) - pixel).max() < 0.08
            moved = max(moved, float(np.abs(pixel - spot).max()))
    assert moved > 1.0


def test_a_hand_wanders_as_far_as_the_lesson_says_and_smoothly() -> None:
    spec = scene(3, hand_px=2.0, lines=1080)
    optics = camera_of(spec)
    middle = optics.position_m + 10.0 * optics.rotation[2]
    hands = [Hand(spec, optics, index) for index in range(12)]
    times = np.arange(0, 8, 1 / 60)
    away = np.array([[project(middle[None], hand.optics_at(t))[0] for t in times] for hand in hands])
    away -= np.array(optics.principal_px)
    # A tenth: a dozen clips of 8 s hold few waves of the slowest kind.
    assert np.sqrt(np.mean(np.sum(away**2, axis=2))) == pytest.approx(2.0, rel=0.1)
    # No wave is quicker than 8 Hz: of an amplitude A, a frame of 1/60 s moves at most 2 pi 8 A / 60.
    assert np.abs(np.diff(away, axis=1)).max() < 2 * np.pi * 8 / 60 * np.abs(away).max()


def test_the_flow_of_a_turn_is_that_of_every_pixel_s_own_ray() -> None:
    optics = replace(camera_of(scene(8)), k1=0.06)
    now = turned(optics, np.array([0.004, -0.003, 0.002]))
    across, down = flow_between(now, optics)
    pixels = np.random.default_rng(1).integers([0, 0], optics.size_px, (300, 2))
    due = project(optics.position_m + rays(pixels.astype(float), now), optics)
    found = np.stack([across[pixels[:, 1], pixels[:, 0]], down[pixels[:, 1], pixels[:, 0]]], axis=1)
    assert np.abs(found - due).max() < 0.01


def test_a_knock_moves_the_picture_from_its_clip_on_and_the_truth_says_so(tmp_path: Path) -> None:
    spec = scene(6, bump_px=12.0, bump_from=2, container="mp4")
    optics, takes = camera_of(spec), takes_of(spec, 4, ("tee", "toss"), ())
    stages = stages_of(spec, optics, takes)
    assert [[take.index for take in stage.takes] for stage in stages] == [[0, 1], [2, 3]]
    ahead = optics.position_m + 10.0 * optics.rotation[2]
    before, after = (project(ahead[None], stage.optics)[0] for stage in stages)
    # 12 px at 1080 lines are 8 at 720.
    assert np.hypot(*(after - before)) == pytest.approx(8.0, abs=0.05)
    (tmp_path / "truth").mkdir()
    write_camera(tmp_path, spec, optics, takes)
    truth = json.loads((tmp_path / "truth" / "camera.json").read_text())
    assert truth["knock"]["first_clip"] == "02-toss/swing-03.mp4"
    assert np.allclose(truth["knock"]["rotation_field_to_camera"], knocked(spec, optics).rotation)
    assert np.allclose(truth["rotation_field_to_camera"], optics.rotation)
    assert len(stages_of(replace(spec, bump_px=0.0), optics, takes)) == 1


def test_the_ball_of_a_shaken_frame_is_where_its_sighting_says() -> None:
    spec = scene(21, hand_px=3.0, exposure_s=1 / 500, light="overcast")
    studio, play = Studio(spec, camera_of(spec), grey(spec, 0.004)), plan(spec, "toss", 0, "hit")
    studio.paint = replace(studio.paint, colour=np.full(3, 30.0))
    studio.begin(0, 3.0)
    off = []
    for k in range(6):
        time_s = play.contact_s + 0.02 + k / 60
        with_ball, seen = studio.frame(play, Nobody(spec), time_s, np.random.default_rng(0))
        luma = split(with_ball)[0].astype(float)
        bare = split(studio.frame(play, Nobody(spec), time_s, np.random.default_rng(0), False)[0])[0].astype(float)
        if seen is None or seen.visible < 0.999:
            continue
        change = np.clip(luma - bare - 20.0, 0.0, 60.0)
        down, across = center_of_mass(change)
        off.append((across - seen.u_px, down - seen.v_px))
    # 0.2 px, as on a tripod: noise, whole codes and the tone curve at a moving ball's ends. The shake is 2 px.
    assert len(off) >= 3
    assert np.abs(off).max() < 0.2
    assert np.abs(np.mean(off, axis=0)).max() < 0.1


def test_light_that_grows_shows_as_if_the_scene_were_brighter() -> None:
    spec = scene(4, exposure_step=0.2)
    play = plan(spec, "toss", 0, "hit")
    studio = Studio(spec, camera_of(spec), grey(spec, 0.2))
    studio.begin(0, 1.0)
    rng = np.random.default_rng(0)
    before, after = (float(np.median(split(studio.frame(play, Nobody(spec), t, rng, False)[0])[0])) for t in (0.0, 1.6))
    brighter = Studio(replace(spec, exposure_step=0.0), camera_of(spec), grey(spec, 0.24))
    due = float(np.median(split(brighter.frame(play, Nobody(spec), 0.0, rng, False)[0])[0]))
    assert before < due
    assert after == pytest.approx(due, abs=1.0)  # a whole code


def test_metering_ramps_and_clouds_stay_within_what_the_lesson_says() -> None:
    spec = scene(4, exposure_step=-0.2, cloud=0.3)
    clip = Metering(spec, camera_of(spec), 0, 2.0)
    gains = np.array([clip.gains(t) for t in np.arange(0, 2, 1 / 60)], float)
    assert gains.min() >= 0.8 * 0.7 - 1e-9 and gains.max() <= 1.0 + 1e-9
    # A ramp of 0.2 s at least: 1.5/12 of the step a frame at its steepest, and the cloud's slow part.
    assert np.abs(np.diff(gains[:, 0])).max() < 0.2 * 1.5 / 12 + 0.3 * np.pi * 0.21 / 60
    assert Metering(scene(4), camera_of(spec), 0, 2.0).gains(0.5) is None


def test_regions_give_the_same_picture_as_painting_the_whole_frame(monkeypatch: pytest.MonkeyPatch) -> None:
    spec = scene(7, sharpen=0.6, walkers=2, light="sun", place="behind", sway_px=1.0)
    rng = np.random.default_rng(2)
    light = np.asarray(cv2.GaussianBlur(rng.uniform(0.02, 0.5, (720, 1280, 3)), (0, 0), 2.0), np.float32)
    leaves = np.zeros((720, 1280), np.float32)
    leaves[100:260] = 1.0
    studio, play, cast = (
        Studio(spec, camera_of(spec), Backdrop(light, leaves)),
        plan(spec, "live", 0, "hit"),
        Cast(spec),
    )
    studio.frame(play, cast, play.contact_s - 0.2, np.random.default_rng(0))
    by_parts, _ = studio.frame(play, cast, play.contact_s + 0.03, np.random.default_rng(0))
    by_parts = by_parts.copy()
    monkeypatch.setattr(film, "_regions", lambda windows, size_px: [(0, size_px[1], 0, size_px[0])])
    whole, _ = studio.frame(play, cast, play.contact_s + 0.03, np.random.default_rng(0))
    different = np.abs(by_parts.astype(int) - whole.astype(int))
    # Swaying leaves are shifted before the tone curve in one, after it in the other: a few codes there at most.
    assert different[300:720].max() <= 1
    assert different.max() <= 8


def test_contrast_is_the_change_of_code_and_falls_where_the_ball_smears() -> None:
    spec = scene(21, exposure_s=1 / 4000)
    play = plan(spec, "tee", 0, "hit")
    found = {}
    for name, exposure_s, time_s in (("still", 1 / 4000, 0.1), ("smeared", 1 / 120, play.contact_s + 0.04)):
        now = replace(spec, exposure_s=exposure_s)
        studio = Studio(now, camera_of(now), grey(now, 0.004))
        studio.paint = replace(studio.paint, colour=np.full(3, 30.0))
        _, seen = studio.frame(play, Nobody(now), time_s, np.random.default_rng(0))
        assert seen is not None
        found[name] = seen.contrast
    sensor = Sensor(1, SIZES[720], 0.0)
    codes = sensor.codes(np.array([[[0.004] * 3, [30.0] * 3]], np.float32))
    full = float(codes[0, 1, 0] - codes[0, 0, 0])
    # The rim is partly covered: it holds a tenth or so of a ball this size.
    assert 0.85 * full < found["still"] < full
    assert found["smeared"] < found["still"]


def test_chroma_is_sited_on_the_left_of_each_pair() -> None:
    # Source: ITU-T H.264 figure 6-1, 4:2:0 of type 0: chroma lies on even columns, half way between two rows.
    sensor = Sensor(1, (64, 32), 0.0)
    across = np.arange(64) * 0.4
    code = np.stack([100 + across, 100 + across, 100 - across], axis=1)  # blueness falls evenly
    light = np.interp(code, sensor.tone, sensor.light).astype(np.float32)
    planes = sensor.develop(np.repeat(light[None], 32, axis=0))
    blueness = (code[:, 2] - code @ [0.2126, 0.7152, 0.0722]) / 1.8556 * 224 / 255 + 128  # BT.709-6
    assert planes.u[5, 1:-1] == pytest.approx(blueness[2:-2:2], abs=0.02)


def test_sharpening_draws_a_halo_and_leaves_even_parts_alone() -> None:
    light = np.full((32, 64, 3), 0.05, np.float32)
    light[:, 32:] = 0.3
    plain, sharp = (Sensor(1, (64, 32), 0.0, share).develop(light).y for share in (0.0, 0.6))
    assert sharp.max() > plain.max() + 3 and sharp.min() < plain.min() - 3
    assert sharp[:, :24] == pytest.approx(plain[:, :24], abs=0.01)


def test_a_phone_that_filters_noise_leaves_it_where_things_move() -> None:
    spec = scene(9, noise=1.0, still_denoise=0.5)
    studio, play = Studio(spec, camera_of(spec), grey(spec)), plan(spec, "tee", 0, "hit")
    plain = Studio(replace(spec, still_denoise=0.0), camera_of(spec), grey(spec))
    _, seen = studio.frame(play, Nobody(spec), 0.1, np.random.default_rng(0))
    assert seen is not None
    row, column = round(seen.v_px), round(seen.u_px)
    assert studio.now.spread[10, 10] == pytest.approx(0.5 * plain.now.spread[10, 10], rel=1e-4)
    plain.frame(play, Nobody(spec), 0.1, np.random.default_rng(0))
    assert studio.now.spread[row, column] == pytest.approx(plain.now.spread[row, column], rel=1e-4)


def test_tracks_say_the_contrast_of_each_sighting(tmp_path: Path) -> None:
    spec = scene(9)
    studio, play = Studio(spec, camera_of(spec), grey(spec)), plan(spec, "tee", 0, "hit")
    _, seen = studio.frame(play, Nobody(spec), 0.1, np.random.default_rng(0))
    assert seen is not None
    (take,) = takes_of(replace(spec, container="mp4"), 1, ("tee",), ())
    write_track(tmp_path, take, [seen])
    head, row = (tmp_path / "truth" / "tracks" / "01-tee" / "swing-01.csv").read_text().splitlines()
    said = dict(zip(head.split(","), row.split(","), strict=True))
    assert list(said)[-3:] == ["streak_px", "phase", "contrast"]
    assert float(said["contrast"]) == pytest.approx(seen.contrast, abs=0.05)
    assert seen.contrast > 10
