"""What a coach draws on a still is where it was drawn."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from balltrack.errors import ShapeError
from balltrack.records.drawings import Drawing
from balltrack.review.drawing import draw_on

GREY = 120


def still(width: int = 600, height: int = 450) -> bytes:
    return cv2.imencode(".jpg", np.full((height, width, 3), GREY, np.uint8))[1].tobytes()


def changed(jpeg: bytes) -> NDArray[np.bool_]:
    """(h, w) where a picture that was grey is no longer so: by more than JPEG's own noise."""
    picture = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None
    return np.asarray(np.abs(picture.astype(int) - GREY).max(axis=2) > 40)


def test_a_still_without_drawings_stays_byte_for_byte() -> None:
    assert draw_on(still(), []) == still()


def test_a_line_runs_through_its_points_and_nowhere_else() -> None:
    drawn = changed(draw_on(still(), [Drawing("line", ((100.0, 200.0), (500.0, 200.0)))]))
    assert drawn[200, 110:490].all()
    rows, columns = np.nonzero(drawn)
    assert rows.min() >= 192 and rows.max() <= 208  # the line and its rim, 16 px at most
    assert columns.min() >= 90 and columns.max() <= 510


def test_an_arrow_is_wider_at_its_tip() -> None:
    drawn = changed(draw_on(still(), [Drawing("arrow", ((100.0, 200.0), (500.0, 200.0)))]))
    near_tip, near_tail = drawn[:, 480:500].any(axis=1).sum(), drawn[:, 100:120].any(axis=1).sum()
    assert near_tip > 1.5 * near_tail


def test_words_begin_at_their_point_and_stay_inside_the_picture() -> None:
    drawn = changed(draw_on(still(), [Drawing("words", ((100.0, 50.0),), "hands first")]))
    rows, columns = np.nonzero(drawn)
    # The plate's corner is at the point, even pixels; its rim is rounded by a few pixels, JPEG blurs by 8.
    assert (columns.min(), rows.min()) == (pytest.approx(100, abs=8), pytest.approx(50, abs=8))
    at_rim = changed(draw_on(still(), [Drawing("words", ((590.0, 440.0),), "hands first")]))
    assert at_rim.sum() == pytest.approx(drawn.sum(), rel=0.05)  # moved in whole, not cut


@pytest.mark.parametrize(
    ("kind", "points", "words"),
    [
        ("line", ((1.0, 1.0),), ""),
        ("arrow", ((1.0, 1.0), (2.0, 2.0), (3.0, 3.0)), ""),
        ("words", ((1.0, 1.0),), "  "),
        ("line", ((1.0, 1.0), (2.0, 2.0)), "words"),
        ("line", ((1.0, 1.0), (float("nan"), 2.0)), ""),
    ],
)
def test_what_cannot_be_drawn_is_refused(kind: str, points: tuple[tuple[float, float], ...], words: str) -> None:
    with pytest.raises(ShapeError):
        Drawing(kind, points, words)  # type: ignore[arg-type]  # one of the kinds


def test_what_is_no_picture_is_refused() -> None:
    with pytest.raises(ShapeError, match="not a picture"):
        draw_on(b"no picture", [Drawing("line", ((1.0, 1.0), (2.0, 2.0)))])
