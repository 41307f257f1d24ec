"""The picture for a clip that could not be matched: the marked still and the clip's own, side by side, with a word."""

import cv2
import numpy as np
from numpy.typing import NDArray

SIDE_PX = 960  # width of each still
GAP_PX, STRIP_PX = 12, 44
PAPER, INK = 255, 40
LETTER_SHARE = 0.75  # of OpenCV's plain letters, which are 22 px high
MARKED, NOW = "As the field was marked", "This clip"
WORD = "Same place, same lens: all is well. Otherwise mark the field again for this clip, as a lesson of its own."
QUALITY = 85

Picture = NDArray[np.uint8]


def apart_jpeg(marked: Picture, now: Picture) -> bytes:
    """Put two stills of the same size side by side, each under its name, and below them what a person should look for.

    Parameters
    ----------
    marked, now : (h, w) arrays
        Luma.

    Returns
    -------
    bytes
        A JPEG file.
    """
    sides = [np.vstack([_strip(name, SIDE_PX), _narrowed(still)]) for name, still in ((MARKED, marked), (NOW, now))]
    gap = np.full((len(sides[0]), GAP_PX), PAPER, np.uint8)
    both = np.hstack([sides[0], gap, sides[1]])
    _, file = cv2.imencode(".jpg", np.vstack([both, _strip(WORD, both.shape[1])]), [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    return bytes(file)


def _narrowed(still: Picture) -> Picture:
    height = max(round(SIDE_PX * still.shape[0] / still.shape[1]), 1)
    return np.asarray(cv2.resize(still, (SIDE_PX, height), interpolation=cv2.INTER_AREA), np.uint8)


def _strip(words: str, width: int) -> Picture:
    strip = np.full((STRIP_PX, width), PAPER, np.uint8)
    cv2.putText(strip, words, (GAP_PX, STRIP_PX - 14), cv2.FONT_HERSHEY_SIMPLEX, LETTER_SHARE, INK, 1, cv2.LINE_AA)
    return strip
