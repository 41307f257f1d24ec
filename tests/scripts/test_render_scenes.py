"""Outcomes, venues and veils of the renderer: what they do to the ball, the bat, the sound and the picture."""

import json
import tomllib
from pathlib import Path

import numpy as np
import pytest
from render.cast import Cast
from render.figure import SWEET_M, bat_pose, batter_stance
from render.impact import impact_of, rippling
from render.lamps import flicker_light
from render.lesson import swing_truth, takes_of, visible_marks, write_lesson_toml
from render.netting import GAP_M, Mesh, mesh_cover, threads
from render.play import OUTCOMES, plan
from render.scene_spec import SceneSpec, draw
from render.sound import hear
from render.standing import camera_of
from render.stops import MITT_Y_M, NET_Y_M
from render.veil import veil_of

OUTDOORS = {"venue": "field", "net": False, "veil": "none"}


def test_takes_have_the_outcomes_that_were_asked_for() -> None:
    takes = takes_of(draw(3), 5, ("toss",), (1,), others={2: "foul_tip", 4: "checked"})
    assert [take.outcome for take in takes] == ["hit", "miss", "foul_tip", "hit", "checked"]
    with pytest.raises(ValueError, match="no such outcome: bunt"):
        takes_of(draw(3), 5, ("toss",), (), others={0: "bunt"})


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_only_a_hit_has_exit_numbers_in_the_truth(outcome: str) -> None:
    spec = draw(5, **OUTDOORS)
    (take,) = takes_of(spec, 1, ("live",), (), others={0: outcome})
    line = json.loads(json.dumps(swing_truth(spec, take, plan(spec, "live", 0, outcome))))
    assert line["outcome"] == outcome
    assert line["contact_s"] > 0
    assert ("exit_speed_mps" in line) == (outcome == "hit")


def test_a_foul_tip_keeps_most_of_the_pitchs_speed_and_is_not_a_flight() -> None:
    for index in range(12):
        spec = draw(7 + index, **OUTDOORS, catcher=False)
        play = plan(spec, "live", index, "foul_tip")
        at = play.ball(play.contact_s + np.array([-2e-3, -1e-3, 1e-3, 2e-3]))
        before, after = np.linalg.norm(at[1] - at[0]), np.linalg.norm(at[3] - at[2])
        # 0.75 to 0.95 is what was asked for; 1 % for what gravity and drag change in a few milliseconds.
        assert 0.74 < after / before < 0.96
        assert play.phase(play.contact_s + 0.01) == "tip"
        knob, way = bat_pose(play.swing, play.contact_s)
        # Ball and barrel just touch: radii of 36 to 49 mm and 29 mm.
        assert 0.055 < np.linalg.norm(knob + SWEET_M * way - play.contact_m) < 0.080


@pytest.mark.parametrize("delivery", ["tee", "live"])
def test_a_checked_bat_stops_before_the_ball_and_comes_back(delivery: str) -> None:
    spec = draw(11, **OUTDOORS, catcher=False)
    play = plan(spec, delivery, 0, "checked")
    times = play.contact_s + np.linspace(-0.6, 0.9, 301)
    poses = [bat_pose(play.swing, float(time)) for time in times]
    tips = np.array([knob + SWEET_M * way for knob, way in poses])
    away = np.linalg.norm(tips - play.contact_m, axis=1)
    assert away.min() > 0.25
    # Nearest at contact_s, where it stays for 0.12 s; steps are 5 ms. A fast barrel moves at 35 m/s.
    assert -0.006 < times[np.argmin(away)] - play.contact_s < 0.13
    assert np.linalg.norm(np.diff(tips, axis=0), axis=1).max() / 0.005 < 35
    assert tips[-1, 2] > 1.7  # back above the shoulder
    assert play.phase(play.contact_s + 0.05) == ("rest" if delivery == "tee" else "pitch")


def test_the_barrels_way_and_the_batters_pose_are_smooth_through_contact_and_follow_through() -> None:
    spec = draw(12, **OUTDOORS)
    play, build = plan(spec, "tee", 0, "hit"), Cast(spec).batter
    times = play.contact_s + np.arange(-0.5, 0.8, 0.002)
    hands = np.array([batter_stance(play.swing, build, float(time)).left_hand for time in times])
    assert np.linalg.norm(np.diff(hands, axis=0), axis=1).max() / 0.002 < 16  # hands reach some 10 m/s


def test_a_tip_ticks_quieter_and_duller_than_a_crack_and_a_checked_swing_is_all_but_silent() -> None:
    spec = draw(2, **OUTDOORS, sound="clear", catcher=False, bat_kind="metal")
    optics, loud, bright = camera_of(spec), {}, {}
    for outcome in ("hit", "foul_tip", "checked"):
        play = plan(spec, "tee", 1, outcome)
        sound = hear(spec, [play], optics, 1)
        assert sound is not None
        first = int((play.contact_s + np.linalg.norm(play.contact_m - optics.position_m) / 343.2) * 48000)
        part = sound[first : first + 960]
        power = np.abs(np.fft.rfft(part)) ** 2
        loud[outcome] = float(np.abs(part).max())
        bright[outcome] = float(power @ np.fft.rfftfreq(960, 1 / 48000) / power.sum())
    assert loud["hit"] > 2 * loud["foul_tip"] > 2 * loud["checked"]
    assert bright["hit"] > 1.5 * bright["foul_tip"]


def test_music_has_a_steady_beat_above_the_quiet() -> None:
    spec = draw(2, **OUTDOORS, sound="music", tail_s=3.0)
    quiet = draw(2, **OUTDOORS, sound="clear", tail_s=3.0)
    play, optics = plan(spec, "tee", 1, "checked"), camera_of(spec)
    songs = [hear(which, [play], optics, 1) for which in (spec, quiet)]
    assert songs[0] is not None and songs[1] is not None
    assert np.std(songs[0]) > 4 * np.std(songs[1])


@pytest.mark.parametrize("venue", ["cage", "gym"])
def test_indoors_the_ball_stays_in_and_the_truth_says_how_far_it_would_have_gone(venue: str) -> None:
    for seed in range(8):
        spec = draw(seed, venue=venue, net=False)
        play = plan(spec, "tee", seed, "hit")
        times = np.linspace(play.contact_s, play.length_s, 800)
        path = play.ball(times)
        half, tall = (spec.cage_half_m, spec.cage_high_m) if venue == "cage" else (10.6, 6.7)
        assert path[:, 1].max() < spec.stop_m
        assert np.abs(path[:, 0]).max() < half and path[:, 2].max() < tall
        assert play.carry_m == pytest.approx(plan(draw(seed, venue=venue, net=True), "tee", seed, "hit").carry_m)
        ends = [piece.start_s for piece in play.pieces if piece.phase == "bounce"]
        if venue == "cage":
            assert ends[0] - play.contact_s < 0.5
            dropping = play.ball(np.array([ends[0] + 0.25]))[0]
            assert np.linalg.norm(dropping - play.ball(np.array(ends[:1]))[0]) < 1.0  # caught, not thrown back


def test_a_catcher_holds_what_the_bat_lets_pass() -> None:
    kept = 0
    for index in range(8):
        play = plan(draw(20 + index, **OUTDOORS, catcher=True, fastpitch=True), "live", index, "miss")
        if play.mitt_m is None:
            continue  # it bounced, or went wide
        kept += 1
        assert play.mitt_m[1] == pytest.approx(MITT_Y_M, abs=0.03)  # a step of the search at 27 m/s is 14 mm
        assert play.ball(np.array([play.length_s]))[0] == pytest.approx(play.mitt_m)
        assert play.phase(play.length_s) == "rest"
    assert kept >= 4


def test_indoors_only_plate_and_boxes_can_be_marked(tmp_path: Path) -> None:
    spec = draw(4, venue="gym", place="behind")
    (tmp_path / "truth").mkdir()
    write_lesson_toml(tmp_path, spec, camera_of(spec), takes_of(spec, 2, ("tee", "live"), ()))
    names = {mark["point"] for mark in tomllib.loads((tmp_path / "lesson.toml").read_text())["camera"]["marks"]}
    assert {"plate_tip", "left_box_inner_front"} <= names
    assert not names & {"first_base_back", "second_base_center", "pitchers_plate_front", "left_pole_base"}
    outdoors = draw(4, **OUTDOORS, light="sun", place="behind")
    assert set(visible_marks(outdoors, camera_of(outdoors), False)) > names - {"tee_base"}


def test_venue_and_light_follow_each_other_and_contradictions_are_refused() -> None:
    assert draw(1, venue="gym").light == "lamps"
    assert draw(1, light="sun").venue == "field"
    assert draw(1, light="lamps").venue in ("cage", "gym")
    assert draw(1, place="screen", venue="field").veil == "chain_link"
    with pytest.raises(ValueError, match="lamps light"):
        draw(1, venue="gym", light="sun")
    with pytest.raises(ValueError, match="none of"):
        draw(1, veil="curtain")


def test_what_was_drawn_lies_within_what_phones_and_coaches_do() -> None:
    drawn = [draw(seed) for seed in range(400)]
    assert all(0.005 <= spec.focal_sd <= 0.04 and 0.4 <= spec.mark_sd_px <= 1.2 for spec in drawn)
    # Of 400, 4 sd of a share: 0.08 to 0.09.
    assert np.mean([spec.venue == "field" for spec in drawn]) == pytest.approx(0.75, abs=0.09)
    assert np.mean([not spec.give_fov for spec in drawn]) == pytest.approx(0.2, abs=0.08)
    open_places = [spec.veil != "none" for spec in drawn if spec.place != "screen"]
    assert np.mean(open_places) == pytest.approx(0.15, abs=0.08)


def test_a_mesh_covers_the_share_that_its_threads_cover_near_and_far() -> None:
    # Closed form: two families that cover d/g each, 1 - (1 - d/g)².
    x = np.linspace(0, 20 * GAP_M, 1601, dtype=np.float32)[:-1]
    p, q = (part.ravel() for part in np.meshgrid(x, x))
    zero, one = np.zeros(p.shape), np.ones(p.shape)
    for foot in (0.0005, 0.005, 0.03, 0.2):
        cover = mesh_cover(p, q, (zero, zero, one), np.full(p.shape, foot, np.float32), Mesh(GAP_M, 0.003, False))
        assert cover.mean() == pytest.approx(1 - (1 - 0.003 / GAP_M) ** 2, rel=0.02)
    assert threads(x, np.full(x.shape, 1e-4, np.float32), GAP_M, 0.003).max() == pytest.approx(1.0)


@pytest.mark.parametrize("veil", ["netting", "chain_link"])
def test_a_veil_lies_thinly_over_the_whole_picture_and_hides_that_share(veil: str) -> None:
    spec = draw(6, place="screen", lines=720, venue="field", light="sun", veil=veil)
    found = veil_of(spec, camera_of(spec))
    assert not found.blank
    assert 0.03 < found.cover.mean() < 0.25
    picture = np.ones((40, 60, 3), np.float32)
    clear = np.ones((40, 60), np.float32)
    window = (100, 140, 200, 260)
    found.lay(picture, window)
    found.thin(clear, window)
    cover, light = found.cover[100:140, 200:260], found.light[100:140, 200:260]
    assert picture == pytest.approx(1 - cover[..., None] + light, abs=1e-6)
    assert clear == pytest.approx(1 - cover, abs=1e-6)
    assert veil_of(draw(6, **OUTDOORS, place="side", lines=720), camera_of(draw(6, place="side", lines=720))).blank


def test_flicker_swings_about_the_mean_at_its_own_rate() -> None:
    spec = draw(6, venue="gym", lines=720, flicker=0.1, flicker_hz=100.0, exposure_s=1 / 2000, readout_s=0.020)
    light = flicker_light(spec, camera_of(spec), 0.0)
    # Two whole waves in a readout of 20 ms; 0.4 % is what an exposure of 1/20 of a wave averages away.
    assert light.mean() == pytest.approx(1.0, abs=1e-3)
    assert np.abs(light - 1).max() == pytest.approx(0.1, rel=0.01)
    assert np.sum(np.diff(light >= 1)) in (3, 4)


def look_alikes(spec: SceneSpec, delivery: str) -> list[np.ndarray]:
    play = plan(spec, delivery, 0, "hit")
    balls = [actor for actor in Cast(spec).actors(play) if len(actor.limbs(0.0)) == 1]
    return [np.array([ball.limbs(play.contact_s + k / 50)[0].start_m for k in range(90)]) for ball in balls]


@pytest.mark.parametrize("delivery", ["tee", "toss", "live"])
def test_the_next_ball_is_tossed_while_the_hit_one_flies(delivery: str) -> None:
    spec = draw(6, **OUTDOORS, next_ball=True)
    (path,) = look_alikes(spec, delivery)
    steps = np.linalg.norm(np.diff(path, axis=0), axis=1) * 50
    assert 2.0 < steps.max() < 9.0
    assert path[-1, 2] < 0.06  # let drop
    assert not look_alikes(draw(6, **OUTDOORS, next_ball=False), delivery)


def test_spare_balls_lie_on_the_ground_and_some_near_the_plate() -> None:
    from render.things import props

    spec = draw(6, **OUTDOORS, spare_balls=9)
    balls = [limb for limb in props(spec, ("tee",)) if limb.start_m[2] == pytest.approx(limb.start_radius_m)]
    assert len(balls) == 9
    assert sum(np.hypot(*limb.start_m[:2]) < 3.0 for limb in balls) >= 3
    assert NET_Y_M > 3.5


def test_a_net_bulges_where_the_ball_meets_it_and_hangs_still_again() -> None:
    spec = draw(4, venue="cage")
    play = plan(spec, "tee", 0, "hit")
    impact = impact_of(play.pieces, spec, play.contact_s)
    assert impact is not None and impact.soft
    axis = int(np.argmax(np.abs(impact.velocity_mps)))

    def depth(after_s: float) -> float:
        ends = np.array([limb.start_m for limb in rippling(impact, impact.time_s + after_s)])
        return float(np.abs(ends[:, axis] - impact.place_m[axis]).max())

    assert 0.05 < depth(0.12) < 0.4
    assert depth(1.5) < 0.02
    before = np.array([limb.start_m for limb in rippling(impact, impact.time_s - 0.1)])
    assert before[:, 2].max() < -900  # nothing shows where the ball will go
