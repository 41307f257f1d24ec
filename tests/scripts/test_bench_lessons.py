"""The benchmark covers the set-ups that it claims to, repeats itself by seed, and keeps only whole lessons."""

from collections import Counter
from pathlib import Path

import bench.lessons
import pytest
from bench.lessons import BALLS, DELIVERIES, PLACES, RATES, lessons, rendered
from render.lesson import Take
from render.scene_spec import SceneSpec


def test_twelve_lessons_hold_each_place_with_each_ball_once_and_each_rate_alike() -> None:
    drawn = [lesson.spec for lesson in lessons(5, 12)]
    assert Counter((spec.place, spec.ball_kind) for spec in drawn) == {(p, b): 1 for p in PLACES for b in BALLS}
    assert Counter(spec.fps for spec in drawn) == dict.fromkeys(RATES, 3)
    assert all((spec.mark_sd_px, spec.focal_sd) == (0.7, 0.003) for spec in drawn)


def test_every_lesson_has_a_hit_of_each_delivery_and_one_miss_in_turn() -> None:
    missed = []
    for lesson in lessons(5, 3):
        assert {take.delivery for take in lesson.takes if take.hit} == set(DELIVERIES)
        assert [take.index for take in lesson.takes] == list(range(4 if lesson.spec.fps > 100 else 5))
        assert [take.block for take in lesson.takes] == sorted(take.block for take in lesson.takes)
        missed += [take.delivery for take in lesson.takes if not take.hit]
    assert sorted(missed) == sorted(DELIVERIES)


def test_a_seed_repeats_itself_and_another_does_not() -> None:
    assert lessons(7, 2) == lessons(7, 3)[:2]
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
