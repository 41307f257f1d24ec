"""The labels of real footage: well formed, in the pictures, and as smooth as falling balls are."""

from pathlib import Path

import numpy as np
import pytest
from footage.clips import LABELS, WITH_BALL, FootageClip
from footage.labels import COLUMNS, Label, read_labels

from balltrack.units import Floats
from balltrack.video.clip import probe
from balltrack.video.frames import read_frames
from tests.video.encode import FOOTAGE

each_clip = pytest.mark.parametrize("clip", WITH_BALL, ids=lambda clip: clip.name)


@each_clip
def test_labels_are_well_formed(clip: FootageClip) -> None:
    labels = read_labels(clip.labels)
    assert len({each.frame for each in labels}) == len(labels)
    assert all(np.diff([each.frame for each in labels]) > 0)
    assert all(np.diff([each.time_s for each in labels]) > 0)
    for each in labels:
        assert 0 <= each.visible <= 1, each
        placed = np.isfinite([each.u_px, each.v_px, each.diameter_px, each.streak_px])
        assert placed.all() or (each.state == "hidden" and not placed.any()), each
        if placed.all():
            assert 0 < each.diameter_px <= each.streak_px, each
        if each.state == "flight":  # the README's own words: at least half of it to be seen
            assert each.visible >= 0.5, each


def test_every_label_file_belongs_to_a_clip() -> None:
    assert {path.stem for path in LABELS.glob("*.csv")} == {clip.name for clip in WITH_BALL}


@each_clip
def test_labels_lie_in_the_pictures_and_bear_their_times(clip: FootageClip) -> None:
    path = FOOTAGE / clip.path
    if not path.exists():
        pytest.skip("the real clips of ../shared/footage are absent")
    width, height = probe(path).size_px
    times_s = [frame.time_s for frame in read_frames(path)]
    for each in read_labels(clip.labels):
        assert each.time_s == pytest.approx(times_s[each.frame], abs=6e-5)  # written with four decimals
        if each.state != "hidden":  # half of the ball is to be seen: its middle is in the picture, or just beyond
            assert -2 <= each.u_px <= width + 1, each
            assert -2 <= each.v_px <= height + 1, each


# Source of each stretch: where the labels turn (release, floor or table, top) or the ball is cut by an edge. Halves of
# a fall or bounce, because perspective bends a whole one; phone 122 to 139 was itself smoothed and would prove nothing.
@pytest.mark.parametrize(
    ("name", "axis", "first", "last"),
    [
        ("phone_drop_120fps_rot90", "v", 140, 169),
        ("phone_drop_120fps_rot90", "v", 170, 199),
        ("phone_drop_120fps_rot90", "v", 204, 240),
        ("phone_drop_120fps_rot90", "v", 241, 276),
        ("tennis_drop_100fps_rotated", "u", 8, 29),
        ("tennis_drop_100fps_rotated", "u", 30, 50),
        ("tennis_drop_100fps_rotated", "u", 54, 91),
        ("tennis_drop_100fps_rotated", "u", 92, 129),
        ("tennis_drop_100fps_rotated", "u", 135, 163),
        ("tennis_drop_100fps_rotated", "u", 164, 191),
        ("tennis_drop_100fps_rotated", "u", 198, 219),
        ("tennis_drop_100fps_rotated", "u", 220, 240),
        ("classroom_toss_stick_vp9", "v", 8, 69),
        ("classroom_toss_stick_vp9", "v", 70, 130),
        ("classroom_toss_stick_vp9", "v", 142, 186),
        ("classroom_toss_stick_vp9", "v", 187, 230),
        ("classroom_toss_stick_vp9", "v", 250, 290),
    ],
)
def test_a_ball_in_free_flight_leaves_its_parabola_by_less_than_the_labels_error(
    name: str, axis: str, first: int, last: int
) -> None:
    times_s, places_px = _stretch(name, axis, first, last)
    fit = np.polynomial.Polynomial.fit(times_s, places_px, 2)
    assert np.std(places_px - fit(times_s)) < 1.0  # px; the README: exact to about 1 px


def test_a_bounce_is_pulled_down_with_gravity() -> None:
    # Source: 2.32 m from release (frame 118) to the floor (frame 201), by eye to about 3 %; the release has the height
    # of the held ball. Standard gravity 9.80665 m/s². Twice 3 %, since perspective changes the scale on the way.
    labels = {each.frame: each for each in read_labels(LABELS / "phone_drop_120fps_rot90.csv")}
    metres_per_px = 2.32 / (labels[201].v_px - labels[118].v_px)
    times_s, heights_px = _stretch("phone_drop_120fps_rot90", "v", 204, 276)
    pull_px = 2 * np.polynomial.Polynomial.fit(times_s, heights_px, 2).convert().coef[2]
    assert pull_px * metres_per_px == pytest.approx(9.80665, rel=0.06)


def test_a_wrong_label_file_is_refused_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(",".join(COLUMNS) + "\n0,0.0,flight,1,2,3,4,1\n1,0.1,flying,1,2,3,4,1\n")
    with pytest.raises(ValueError, match=r"a\.csv, line 3: state 'flying' is none of flight"):
        read_labels(path)
    path.write_text(",".join(COLUMNS) + "\n0,0.0,flight,one,2,3,4,1\n")
    with pytest.raises(ValueError, match=r"a\.csv, line 2: could not convert"):
        read_labels(path)
    path.write_text("frame,u\n")
    with pytest.raises(ValueError, match=r"a\.csv has columns \['frame', 'u'\]"):
        read_labels(path)


def test_a_find_on_the_streak_or_within_the_labels_error_of_the_disc_is_the_ball() -> None:
    # Hand calculation: 3 px at least; half of 10 and 2 px error; half of 30.
    assert [Label(0, 0, "flight", 0, 0, d, s, 1).reach_px for d, s in ((1, 1), (10, 10), (10, 30))] == [3, 7, 15]


def _stretch(name: str, axis: str, first: int, last: int) -> tuple[Floats, Floats]:
    rows = [each for each in read_labels(LABELS / f"{name}.csv") if first <= each.frame <= last]
    assert len(rows) == last - first + 1
    assert all(each.state == "flight" for each in rows)
    places = [each.u_px if axis == "u" else each.v_px for each in rows]
    return np.array([each.time_s for each in rows]), np.array(places)
