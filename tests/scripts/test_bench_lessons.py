"""The benchmark covers the set-ups that it claims to, repeats itself by seed, and keeps only whole lessons."""

from collections import Counter
from pathlib import Path

import bench.lessons
import pytest
from bench.lessons import DELIVERIES, DIFFICULTIES, NOT_HITS, ORDINARY, PLACES, RATES, lessons, rendered
from render.lesson import Take
from render.scene_spec import SceneSpec


def test_sixty_lessons_hold_every_place_at_every_rate_where_no_difficulty_asks_for_another() -> None:
    plain = [lesson for lesson in lessons(5, 60) if not lesson.difficulties]
    assert len(plain) == 36  # three in five
    # 60 lessons hold each of 6 x 10 pairs once; the hard ones (two in five) may take their place.
    assert Counter(lesson.spec.place for lesson in plain).keys() == set(PLACES)
    assert Counter(lesson.spec.fps for lesson in plain).keys() == set(RATES)
    assert all(getattr(lesson.spec, name) == each for lesson in plain for name, each in ORDINARY.items())
    assert {lesson.spec.light for lesson in plain} == {"sun", "overcast"}


def test_the_usual_run_covers_every_difficulty_ball_picture_codec_and_outcome() -> None:
    drawn = lessons(5, 48)
    specs = [lesson.spec for lesson in drawn]
    assert {name for lesson in drawn for name in lesson.difficulties} == set(DIFFICULTIES)
    assert {spec.ball_kind for spec in specs} == {"softball-12", "softball-11", "baseball"}
    assert {spec.ball_colour for spec in specs} == {"optic", "white", "worn"}
    assert {spec.lines for spec in specs} == {720, 1080, 2160}
    assert {spec.codec for spec in specs} == {"h264", "hevc", "hevc10"}
    assert {spec.venue for spec in specs} == {"field", "cage", "gym"}
    assert {spec.sound for spec in specs} == {"clear", "windy", "busy", "music", "none"}
    outcomes = Counter(take.outcome for lesson in drawn for take in lesson.takes)
    assert outcomes.keys() == {"hit", *NOT_HITS}
    assert 210 <= outcomes["hit"] <= 240  # enough to judge the coverage by, with a tenth not measured
    assert not any(spec.lines == 2160 and spec.fps > 60 for spec in specs)


def test_every_lesson_has_each_delivery_and_one_swing_that_is_no_hit() -> None:
    for lesson in lessons(5, 12):
        assert {take.delivery for take in lesson.takes if take.outcome == "hit"} == set(DELIVERIES)
        assert sum(take.outcome != "hit" for take in lesson.takes) == 1
        assert not any(take.outcome == "foul_tip" and take.delivery == "tee" for take in lesson.takes)
        assert [take.index for take in lesson.takes] == list(range(len(lesson.takes)))
        assert [take.block for take in lesson.takes] == sorted(take.block for take in lesson.takes)


def test_a_small_run_has_three_short_clips_of_small_pictures_a_lesson() -> None:
    for lesson in lessons(5, 2, small=True):
        assert (len(lesson.takes), lesson.spec.lines, lesson.difficulties) == (3, 720, ())
        assert lesson.spec.fps <= 60


def test_a_seed_repeats_itself_and_another_does_not() -> None:
    assert lessons(7, 5) == lessons(7, 9)[:5]
    assert lessons(7, 1)[0].spec.seed != lessons(8, 1)[0].spec.seed


def test_a_lesson_is_rendered_once_and_an_interrupted_one_not_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = []

    def make(folder: Path, spec: SceneSpec, takes: list[Take]) -> None:
        folder.mkdir()
        (folder / "lesson.toml").touch()
        calls.append(spec)
        if len(calls) == 1:
            raise KeyboardInterrupt

    monkeypatch.setattr(bench.lessons, "make_lesson", make)
    (lesson,) = lessons(1, 1)
    with pytest.raises(KeyboardInterrupt):
        rendered(lesson, tmp_path)
    assert not list(tmp_path.rglob("lesson.toml"))
    folder = rendered(lesson, tmp_path)
    assert (folder / "lesson.toml").is_file()
    assert rendered(lesson, tmp_path) == folder
    assert len(calls) == 2
