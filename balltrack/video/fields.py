"""One field of an interlaced picture: the lines of one instant, the others put between them."""

import cv2
import numpy as np

from balltrack.video.orientation import Bytes


def first_field(plane: Bytes, top_first: bool) -> Bytes:
    """(h, w) a plane as the field that was exposed first shows it, each of its lines where it was.

    An interlaced picture holds two instants half a frame apart, on alternate lines: a ball between them is a comb, and
    its middle belongs to neither. One field halves the lines but is true. The time stamp is that of the first field.
    """
    first = 0 if top_first else 1
    lines = plane[first::2]
    if len(lines) < 2:
        return plane
    shown = np.empty_like(plane)
    shown[first::2] = lines
    between = cv2.addWeighted(lines[:-1], 0.5, lines[1:], 0.5, 0)
    shown[first + 1 : first + 2 * len(lines) - 1 : 2] = between
    if first:
        shown[0] = lines[0]
    if (len(plane) - first) % 2 == 0:
        shown[-1] = lines[-1]
    return shown
