"""Two stills side by side, read back from their file."""

import cv2
import numpy as np
import pytest

from balltrack.camera.apart import GAP_PX, SIDE_PX, STRIP_PX, apart_jpeg


def read(file: bytes) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    picture = cv2.imdecode(np.frombuffer(file, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert picture is not None
    return np.asarray(picture, np.uint8)


@pytest.mark.parametrize("size", [(1920, 1080), (1080, 1920)])
def test_each_still_is_on_its_side_under_its_name_and_above_the_word(size: tuple[int, int]) -> None:
    marked, now = np.full(size[::-1], 60, np.uint8), np.full(size[::-1], 180, np.uint8)
    picture = read(apart_jpeg(marked, now))
    height = round(SIDE_PX * size[1] / size[0])
    assert picture.shape == (STRIP_PX + height + STRIP_PX, 2 * SIDE_PX + GAP_PX)
    stills = picture[STRIP_PX + 8 : STRIP_PX + height - 8]
    # Of 255 levels: JPEG at this quality costs a flat picture one or two.
    assert np.abs(stills[:, 8 : SIDE_PX - 8].astype(int) - 60).max() < 3
    assert np.abs(stills[:, SIDE_PX + GAP_PX + 8 : -8].astype(int) - 180).max() < 3
    for strip in (picture[:STRIP_PX, :SIDE_PX], picture[:STRIP_PX, SIDE_PX:], picture[-STRIP_PX:]):
        assert (strip < 100).sum() > 200  # letters
