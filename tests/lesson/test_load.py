"""A lesson folder is read into SI, and every wrong entry is named with its line and what is allowed."""

from pathlib import Path

import pytest

from balltrack.errors import LessonError
from balltrack.lesson import check_pixels, load_lesson
from tests.lesson.lessons import GOOD, make_lesson


def error_of(folder: Path) -> str:
    with pytest.raises(LessonError) as caught:
        load_lesson(folder)
    return str(caught.value)


def test_a_good_lesson_is_read_into_si(tmp_path: Path) -> None:
    lesson = load_lesson(make_lesson(tmp_path))
    assert (lesson.player.name, lesson.player.bats) == ("Robin Example", "right")
    # Exact by definition: 65 ft = 19.812 m, 1 ft = 0.3048 m.
    assert lesson.base_path_m == pytest.approx(19.812, abs=1e-9)
    assert [mark.name for mark in lesson.marks] == [
        "plate_tip",
        "plate_left",
        "at_m [0, 5, 0]",
        "second_base_center",
        "plate_right",
        "at_m [2, 4, 0]",
        "at_m [-2, 4, 0]",
    ]
    assert lesson.marks[0].point_field_m == (0.0, 0.0, 0.0)
    assert lesson.marks[0].pixel_px == (959.5, 939.5)
    assert lesson.readout is not None
    assert lesson.readout.readout_s == pytest.approx(0.012)
    assert (lesson.clips[0].name, lesson.clips[0].block, lesson.clips[0].delivery) == (
        "clips/01-tee/001.mp4",
        "01-tee",
        "tee",
    )
    assert lesson.blocks[0].title == "Tee, middle"
    assert lesson.notices == ()


def test_second_base_stands_where_the_diagonal_of_65_ft_bases_puts_it(tmp_path: Path) -> None:
    lesson = load_lesson(make_lesson(tmp_path))
    # Source: published field tables, 65 ft bases: 91 ft 11.09 in from home to second base; within 1 mm.
    assert lesson.marks[3].point_field_m[1] == pytest.approx(91 * 0.3048 + 11.09 * 0.0254, abs=1e-3)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('bats = "right"', 'bats = "rihgt"', ("line 3: player.bats", '"rihgt"', '"right" or "left"')),
        ('bats = "right"\n', "", ("line 1: player.bats is missing", '"right" or "left"')),
        ('name = "Robin Example"', "name = 7", ("line 2: player.name = 7", "a name in quotes")),
        ('kind = "softball-12"', 'kind = "tennis"', ("line 5: ball.kind", '"tennis"', '"softball-11"')),
        ('kind = "softball-12"', "circumference_in = 12", ("line 4: ball", "weight_oz")),
        ('kind = "softball-12"', 'kind = "baseball"\nweight_oz = 5', ("line 6: ball.weight_oz", "kind")),
        ("temperature_c = 20", "temperature_c = 68", ("line 7: air.temperature_c = 68", "-30 to 55")),
        (
            "temperature_c = 20",
            "altitude_m = 5\npressure_hpa = 990",
            ("line 8: air.pressure_hpa", "altitude_m", "one of the two"),
        ),
        ("temperature_c = 20", "wind_mps = [1]", ("line 7: air.wind_mps = [1]", "two numbers")),
        ("temperature_c = 20", "wind_mps = [1, nan]", ("line 7: air.wind_mps[2] = nan", "two numbers")),
        ("base_path_ft = 65", "base_path_ft = 650", ("line 9: field.base_path_ft = 650", "30 to 120")),
        ("base_path_ft = 65", 'base_path_ft = "65"', ("line 9: field.base_path_ft", '"65"', "feet")),
        ("base_path_ft = 65", "base_path_ft = true", ("line 9: field.base_path_ft = true", "feet")),
        ("base_path_ft = 65", "base_path_fet = 65", ("line 9: field.base_path_fet", "did you mean base_path_ft?")),
        ("fence_ft = 275", "fence_ft = [200, 220]", ("line 10: field.fence_ft = [200, 220]", "left center")),
        ("fence_ft = 275", 'fence_ft = "far"', ("line 10: field.fence_ft", '"far"', "one number")),
        ("horizontal_fov_deg = 61.93", "horizontal_fov_deg = 620", ("line 13: camera.horizontal_fov_deg = 620",)),
        ("horizontal_fov_deg = 61.93", "horizontal_fov_sd_pct = 1", ("line 13: camera.horizontal_fov_sd_pct",)),
        ("readout_ms = 12.0", "readout_ms = 0.5e3", ("line 14: camera.readout_ms = 500", "milliseconds")),
        ("readout_ms = 12.0", 'lens = "lens.toml"', ("line 14: camera.lens", "horizontal_fov_deg")),
        ('point = "plate_tip"', 'point = "plate_tp"', ("line 16", '"plate_tp"', "did you mean plate_tip?")),
        ('point = "plate_tip"', 'point = "plate_left"', ("line 19", "plate_left", "line 16", "twice")),
        ('point = "plate_tip"\n', "", ("line 15: camera.marks[1]", "point", "at_m")),
        ('point = "plate_tip"', 'point = "plate_tip"\nat_m = [0, 0, 0]', ("line 17: camera.marks[1].at_m", "point")),
        ("at_m = [0.0, 5.0, 0.0]", "at_m = [0.0, 5.0]", ("line 22: camera.marks[3].at_m", "three numbers")),
        ("pixel = [903.9, 925.6]", "pixel = [903.9]", ("line 20: camera.marks[2].pixel", "two numbers")),
        ("pixel = [903.9, 925.6]", "pixel = [-903.9, 925.6]", ("line 20: camera.marks[2].pixel[1] = -903.9", "inside")),
        ("pixel = [903.9, 925.6]", 'pixel = "here"', ("line 20: camera.marks[2].pixel", '"here"', "two numbers")),
        ("pixel = [903.9, 925.6]\n", "", ("line 18: camera.marks[2].pixel is missing", "two numbers")),
        (
            "readout_ms = 12.0",
            "image_size_px = [640, 480]",
            ("line 17: camera.marks[1].pixel", "[959.5, 939.5]", "640 x 480"),
        ),
        ('delivery = "tee"', 'delivery = "machine"', ('blocks.01-tee.delivery = "machine"', '"tee", "toss" or "live"')),
        ("reps = 10", "reps = 2.5", ("reps = 2.5", "whole number")),
        ("[player]", "[palyer]", ("line 1: palyer is not known here; did you mean player?", "player is missing")),
        ("[player]", "[player", ("not valid TOML", "line 1")),
    ],
)
def test_a_wrong_entry_is_named_with_its_line_and_what_is_allowed(
    tmp_path: Path, old: str, new: str, words: tuple[str, ...]
) -> None:
    assert old in GOOD
    said = error_of(make_lesson(tmp_path, GOOD.replace(old, new)))
    for word in words:
        assert word in said


def test_each_of_several_wrong_entries_gets_its_own_line(tmp_path: Path) -> None:
    text = GOOD.replace('bats = "right"', 'bats = "both"').replace("reps = 10", "reps = 0")
    lines = error_of(make_lesson(tmp_path, text)).splitlines()
    assert [line.split(":")[0] for line in lines] == ["lesson.toml line 3", "lesson.toml line 39"]


@pytest.mark.parametrize(
    ("text", "word"),
    [(b"", "player is missing"), (b"\xff\xfe\x00", "UTF-8"), (b"name = 'x", "not valid TOML")],
)
def test_a_file_that_is_no_lesson_says_what_it_is(tmp_path: Path, text: bytes, word: str) -> None:
    assert word in error_of(make_lesson(tmp_path, text))


def test_a_folder_without_lesson_toml_says_so_in_one_line(tmp_path: Path) -> None:
    said = error_of(tmp_path)
    assert "lesson.toml is missing" in said
    assert "\n" not in said


def test_a_folder_that_is_not_there_says_so(tmp_path: Path) -> None:
    assert "no such folder" in error_of(tmp_path / "nowhere")


def test_no_clips_are_one_clear_line(tmp_path: Path) -> None:
    assert "clips is missing" in error_of(make_lesson(tmp_path, clips=()))
    (tmp_path / "clips" / "01-tee").mkdir(parents=True)
    assert "holds no clips" in error_of(tmp_path)


def test_clips_come_by_block_then_as_a_person_counts(tmp_path: Path) -> None:
    names = ("02-toss/1.MOV", "01-tee/10.mp4", "01-tee/9.mp4", "01-tee/a2.mp4", "01-tee/a10.mp4")
    lesson = load_lesson(make_lesson(tmp_path, clips=names))
    assert [clip.name.removeprefix("clips/") for clip in lesson.clips] == [
        "01-tee/9.mp4",
        "01-tee/10.mp4",
        "01-tee/a2.mp4",
        "01-tee/a10.mp4",
        "02-toss/1.MOV",
    ]
    assert lesson.clips[-1].delivery is None


def test_what_is_left_out_is_said(tmp_path: Path) -> None:
    names = ("01-tee/001.mp4", "loose.mp4", "01-tee/notes.txt", "01-tee/deep/002.mp4", "01-tee/.hidden.mp4")
    lesson = load_lesson(make_lesson(tmp_path, GOOD + '[blocks."09-never"]\n', clips=names))
    assert len(lesson.clips) == 1
    said = "\n".join(lesson.notices)
    for word in ("clips/loose.mp4", "clips/01-tee/notes.txt", "clips/01-tee/deep/", "09-never"):
        assert word in said
    assert "hidden" not in said


def test_stills_are_left_out_with_a_word_also_beside_their_film(tmp_path: Path) -> None:
    names = ("01-tee/IMG_1.MOV", "01-tee/IMG_1.HEIC", "01-tee/board.jpg", "01-tee/plan.pdf")
    lesson = load_lesson(make_lesson(tmp_path, clips=names))
    assert [clip.name for clip in lesson.clips] == ["clips/01-tee/IMG_1.MOV"]
    said = "\n".join(lesson.notices)
    assert "IMG_1.HEIC left out: a still picture; IMG_1.MOV is the film that goes with it" in said
    assert "board.jpg left out: a still picture\n" in said
    assert "plan.pdf left out: not a video" in said


def test_the_capture_rate_of_a_block_goes_before_that_of_the_lesson(tmp_path: Path) -> None:
    text = GOOD.replace("readout_ms = 12.0", "readout_ms = 12.0\ncapture_fps = 240")
    text = text.replace("reps = 10", "capture_fps = 120")
    names = ("01-tee/001.mp4", "02-toss/001.mp4")
    lesson = load_lesson(make_lesson(tmp_path / "said", text, clips=names))
    assert [clip.capture_fps for clip in lesson.clips] == [120.0, 240.0]
    plain = load_lesson(make_lesson(tmp_path / "plain", clips=names))
    assert [clip.capture_fps for clip in plain.clips] == [None, None]
    assert lesson.settings_hash != plain.settings_hash  # what was measured with another rate is measured again
    assert "10 to 2000" in error_of(make_lesson(tmp_path / "wrong", text.replace("120", "0")))


def test_two_clips_that_would_share_results_are_refused(tmp_path: Path) -> None:
    assert "rename" in error_of(make_lesson(tmp_path, clips=("01-tee/001.mp4", "01-tee/001.mov")))


def test_a_clip_whose_track_would_be_taken_for_hand_corrections_is_refused(tmp_path: Path) -> None:
    assert "001.hand.mp4" in error_of(make_lesson(tmp_path, clips=("01-tee/001.mp4", "01-tee/001.hand.mp4")))


@pytest.mark.parametrize("inside", [False, True])
def test_a_link_may_not_lead_out_of_the_lesson_folder(tmp_path: Path, inside: bool) -> None:
    folder = make_lesson(tmp_path / "lesson")
    target = folder / "clips" / "01-tee" / "001.mp4" if inside else tmp_path / "private.mp4"
    target.touch()
    (folder / "clips" / "01-tee" / "002.mp4").symlink_to(target)
    if inside:
        assert len(load_lesson(folder).clips) == 2
    else:
        assert "link out of the lesson folder" in error_of(folder)


def test_a_lens_file_gives_angle_and_distortion(tmp_path: Path) -> None:
    folder = make_lesson(tmp_path, GOOD.replace("horizontal_fov_deg = 61.93", 'lens = "lens.toml"'))
    assert "lens.toml" in error_of(folder)
    (folder / "lens.toml").write_text("horizontal_fov_deg = 60\nk1 = -0.02\n")
    # f = w / (2 tan 30°) = 960 √3 = 1662.7688 px for w = 1920
    prior = load_lesson(folder).lens.prior(1920)
    assert prior.focal_px == pytest.approx(1662.7688, abs=1e-3)
    assert prior.k1 == -0.02
    (folder / "lens.toml").write_text("horizontal_fov_deg = 60\nk2 = 1\n")
    assert "lens.toml line 2: k2 is not known here" in load_lesson(folder).notices[0]


def test_what_is_not_known_is_left_out_with_a_word_so_that_a_newer_file_still_measures(tmp_path: Path) -> None:
    text = GOOD.replace("fence_height_ft = 6\n", "").replace("readout_ms = 12.0", "readout_mss = 12.0")
    lesson = load_lesson(make_lesson(tmp_path, text + "[weather]\nmood = 'fine'\n"))
    assert lesson.readout is None
    said = "\n".join(lesson.notices)
    for words in ("camera.readout_mss is not known here; did you mean readout_ms?", "weather", "6 ft high"):
        assert words in said
    assert lesson.fence is not None
    assert lesson.fence.height_m == pytest.approx(1.8288)  # 6 ft of 0.3048 m


def test_a_lens_file_outside_the_folder_is_refused(tmp_path: Path) -> None:
    folder = make_lesson(tmp_path / "l", GOOD.replace("horizontal_fov_deg = 61.93", 'lens = "../lens.toml"'))
    (tmp_path / "lens.toml").write_text("horizontal_fov_deg = 60\n")
    assert "line 13: camera.lens" in error_of(folder)


def test_one_per_cent_of_the_angle_is_a_little_more_of_the_focal_length(tmp_path: Path) -> None:
    text = GOOD.replace("horizontal_fov_deg = 61.93", "horizontal_fov_deg = 60\nhorizontal_fov_sd_pct = 1")
    prior = load_lesson(make_lesson(tmp_path, text)).lens.prior(1920)
    # Differences of f = w / (2 tan(a/2)) at 60.6° and 59.4°, half of them: 20.108 px, by hand; within 0.1 %.
    assert prior.focal_sd_px == pytest.approx(20.108, rel=1e-3)


def test_the_settings_hash_follows_the_lesson_and_nothing_else(tmp_path: Path) -> None:
    first = load_lesson(make_lesson(tmp_path / "a"))
    same = load_lesson(make_lesson(tmp_path / "b", clips=("02-toss/x.mp4",)))
    other = load_lesson(make_lesson(tmp_path / "c", GOOD.replace("275", "276")))
    assert first.settings_hash == same.settings_hash != other.settings_hash


def test_a_pixel_outside_the_clips_picture_is_named_with_its_line(tmp_path: Path) -> None:
    lesson = load_lesson(make_lesson(tmp_path))
    check_pixels(lesson, (1920, 1080))
    with pytest.raises(LessonError) as caught:
        check_pixels(lesson, (1280, 720))
    assert str(caught.value).startswith("lesson.toml line 17: the pixel of plate_tip = [959.5, 939.5]")
    assert "1280 x 720" in str(caught.value)
