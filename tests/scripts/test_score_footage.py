"""The score on labelled footage, on a clip and finds made by hand."""

from pathlib import Path

import cv2
import numpy as np
import pytest
import score_footage
from footage.clips import FootageClip
from footage.labels import Label
from footage.page import page, runs
from footage.score import FAINT_SCORE, ClipScore, score_clip
from footage.sheet import instead, miss_sheet

from balltrack.detect.network import Finds
from balltrack.errors import DetectorError
from balltrack.video.orientation import Bytes
from tests.video.encode import LOSSLESS, encode_luma, moving_square

CLIP = FootageClip("toss/made.mp4", "made by the test", publish=True)
FRAMES = 8
BALL = Label(0, 0.0, "flight", 60.0, 40.0, 10.0, 20.0, 1.0)  # found within 10 px: half of its streak


class Saying:
    """A finder that says what it was told to say, one frame after the other."""

    def __init__(self, finds: dict[int, list[tuple[float, float, float]]]) -> None:
        self.finds, self.frame, self.seen = finds, 0, list[tuple[Bytes, Bytes, Bytes]]()

    def find(self, before: Bytes, now: Bytes, after: Bytes, least_score: float) -> Finds:
        """The next frame's ``(u, v, score)``, each a box of 4 px."""
        said = [each for each in self.finds.get(self.frame, []) if each[2] > least_score]
        self.frame += 1
        self.seen.append((before, now, after))
        middles = np.array([each[:2] for each in said]).reshape(-1, 2)
        return Finds(np.hstack([middles - 2, middles + 2]), np.array([each[2] for each in said]))


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return encode_luma(tmp_path_factory.mktemp("clip") / "made.mp4", moving_square(FRAMES), *LOSSLESS, fps=30)


def _label(frame: int, state: str = "flight") -> Label:
    return Label(frame, frame / 30, state, BALL.u_px, BALL.v_px, BALL.diameter_px, BALL.streak_px, 1.0)


def _score(clip: Path, labels: list[Label], finds: dict[int, list[tuple[float, float, float]]]) -> ClipScore:
    return score_clip(CLIP, clip, labels, Saying(finds))


def test_a_find_near_enough_counts_and_one_beyond_is_a_miss_and_false(clip: Path) -> None:
    labels = [_label(1), _label(2), _label(3)]
    score = _score(clip, labels, {1: [(69.9, 40, 0.9)], 2: [(70.1, 40, 0.8)], 3: []})
    assert (score.frames, score.flights, score.found()) == (FRAMES, 3, 1)
    assert score.off_px[0] == pytest.approx(9.9)
    assert [miss.label.frame for miss in score.misses] == [2, 3]
    assert score.false_per_frame() == pytest.approx(1 / FRAMES)


def test_a_second_find_on_the_ball_is_neither_found_nor_false(clip: Path) -> None:
    score = _score(clip, [_label(1)], {1: [(62, 40, 0.5), (60, 40, 0.9)]})
    assert (score.found(), score.off_px.tolist(), score.false_per_frame()) == (1, [0.0], 0.0)
    assert score.double_scores.tolist() == [0.5]


@pytest.mark.parametrize("state", ["held", "rest", "hidden"])
def test_a_find_beside_a_ball_that_does_not_fly_freely_is_excused_and_one_far_off_is_false(
    clip: Path, state: str
) -> None:
    # Hand calculation: excused within 10 px (the streak's half) and one diameter of 10 px more.
    score = _score(clip, [_label(1, state)], {1: [(79.9, 40, 0.9), (80.1, 40, 0.8)]})
    assert (score.flights, score.excused_scores.tolist(), score.false_scores.tolist()) == (0, [0.9], [0.8])


def test_every_find_without_a_label_or_with_a_ball_out_of_sight_is_false(clip: Path) -> None:
    nowhere = Label(2, 2 / 30, "hidden", np.nan, np.nan, np.nan, np.nan, 0.0)
    score = _score(clip, [nowhere], {1: [(60, 40, 0.9)], 2: [(60, 40, 0.7)]})
    assert score.false_scores.tolist() == [0.9, 0.7]


def test_a_faint_find_is_a_miss_that_another_least_score_would_have_found(clip: Path) -> None:
    score = _score(clip, [_label(1)], {1: [(60, 40, 0.1), (60, 40, FAINT_SCORE / 2)]})
    assert (score.found(), score.found(0.08), len(score.misses)) == (0, 1, 1)
    assert instead(score.misses[0]) == "score 0.10"


def test_the_finder_sees_the_neighbours_and_at_the_ends_the_frame_itself(clip: Path) -> None:
    finder = Saying({})
    score_clip(CLIP, clip, [], finder)
    same = [(np.array_equal(before, now), np.array_equal(now, after)) for before, now, after in finder.seen]
    assert same == [(True, False)] + [(False, False)] * (FRAMES - 2) + [(False, True)]
    # At 30 frames/s the neighbour is the frame next to it, whatever 1/60 s would ask for.
    assert all(np.array_equal(finder.seen[at][2], finder.seen[at + 1][1]) for at in range(FRAMES - 1))


def test_the_sheet_shows_every_miss_with_its_label_and_what_was_found(clip: Path) -> None:
    edge = Label(3, 0.1, "flight", 127.4, 95.2, 10.0, 12.0, 0.5)  # the picture ends at 127.5, 95.5
    score = _score(clip, [_label(1), edge], {1: [(75, 40, 0.9)]})
    assert [instead(miss) for miss in score.misses] == ["found 15 px off", "nothing"]
    sheet = cv2.imdecode(np.frombuffer(miss_sheet(score.misses), np.uint8), cv2.IMREAD_COLOR)
    assert sheet is not None
    halves = np.split(sheet, 2, axis=1)
    green, orange = (80, 220, 80), (60, 140, 255)
    assert [bool((half == green).all(axis=2).any()) for half in halves] == [True, True]
    assert [bool((half == orange).all(axis=2).any()) for half in halves] == [True, False]


def test_a_crop_is_the_picture_round_the_label(clip: Path) -> None:
    (miss,) = _score(clip, [_label(2)], {}).misses
    finder = Saying({})
    score_clip(CLIP, clip, [], finder)
    left, top = miss.corner_px
    side = miss.crops.shape[1]
    assert (left + side // 2, top + side // 2) == (BALL.u_px, BALL.v_px)
    for crop, plane in zip(miss.crops, finder.seen[2], strict=True):
        assert np.array_equal(crop, plane[top : top + side, left : left + side])


def test_the_page_says_recall_false_finds_and_the_frames_missed(clip: Path) -> None:
    one = _score(clip, [_label(at) for at in range(4)], {0: [(60, 40, 0.9)], 5: [(9, 9, 0.9), (99, 9, 0.3)]})
    empty = _score(clip, [], {1: [(9, 9, 0.5)]})
    text = page([one, empty], "ball.onnx", "footage")
    assert "| made | 8 | 4 | 1 | 0.250 | 0.0 | 0.250 | 0 | 0 |" in text  # 1 of 4; 2 false in 8 frames
    assert "| made | 8 | - | - | - | - | 0.125 | 0 | 0 |" in text
    assert "| 0.4 | 0.250 | 0.125 |" in text  # one false find of each clip in 16 frames
    assert "made, 3 of 4: frames 1-3." in text
    assert "(footage/made.png)" in text


def test_a_clip_that_may_not_be_shown_gets_no_picture_in_the_report(clip: Path, tmp_path: Path) -> None:
    private = FootageClip("toss/own.mp4", "made by the test")
    scores = [score_clip(each, clip, [_label(1)], Saying({})) for each in (CLIP, private)]
    score_footage.write_sheets(scores, tmp_path, published_only=True)
    assert [path.name for path in tmp_path.iterdir()] == ["made.png"]
    assert "own.png" not in page(scores, "ball.onnx", "footage")
    score_footage.write_sheets(scores, tmp_path, published_only=False)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["made.png", "own.png"]
    score_footage.write_sheets([_score(clip, [], {})], tmp_path, published_only=True)  # nothing is missed any more
    assert [path.name for path in tmp_path.iterdir()] == ["own.png"]


def test_runs_of_frames_are_drawn_together() -> None:
    assert runs([3, 4, 5, 9, 11, 12]) == "3-5, 9, 11-12"
    assert runs([7]) == "7"


def test_the_script_says_in_one_line_what_is_wrong(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def refuse(path: Path | None) -> Saying:
        raise DetectorError(f"there are no detector weights at {path}")

    monkeypatch.setattr(score_footage, "load_network", refuse)
    assert score_footage.main([str(tmp_path), "--weights", "absent.onnx"]) == 1
    assert capsys.readouterr().err == "there are no detector weights at absent.onnx\n"
    monkeypatch.setattr(score_footage, "load_network", lambda _: Saying({}))
    assert score_footage.main([str(tmp_path)]) == 1
    assert capsys.readouterr().err.endswith("holds none of the clips that scripts/footage/clips.py names\n")


def test_the_script_scores_a_folder_and_writes_the_page(
    clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    footage = tmp_path / "footage"
    (footage / "toss").mkdir(parents=True)
    (footage / CLIP.path).write_bytes(clip.read_bytes())
    labels = tmp_path / "made.csv"
    labels.write_text(
        "frame,time_s,state,u_px,v_px,diameter_px,streak_px,visible\n"
        "1,0.0333,flight,60,40,10,20,1\n2,0.0667,flight,60,40,10,20,1\n"
    )
    monkeypatch.setattr(FootageClip, "labels", labels)
    monkeypatch.setattr(score_footage, "WITH_BALL", (CLIP,))
    monkeypatch.setattr(score_footage, "WITHOUT_BALL", ())
    monkeypatch.setattr(score_footage, "load_network", lambda _: Saying({1: [(60, 40, 0.9)]}))
    assert score_footage.main([str(footage), "--report", str(tmp_path / "docs")]) == 0
    line = "| made | 8 | 2 | 1 | 0.500 | 0.0 | 0.000 | 0 | 0 |"
    assert line in capsys.readouterr().out
    assert line in (tmp_path / "docs" / "footage.md").read_text()
    assert (tmp_path / "docs" / "footage" / "made.png").stat().st_size > 0
