"""The picture sheet of a clip's misses: each as three frames side by side, small."""

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.detect.network import LEAST_SCORE
from balltrack.video.orientation import Bytes
from footage.score import Miss

SIDE_PX, CAPTION_PX, GAP_PX = 64, 11, 3
ACROSS = 7
GREY_STEP = 8  # greys are rounded to it: the ball is as plain, the file a third
LABEL_BGR, FIND_BGR = (80, 220, 80), (60, 140, 255)


def miss_sheet(misses: tuple[Miss, ...]) -> bytes:
    """A PNG of every miss: before, now, after; a green ring round the label, orange boxes where something was found."""
    tiles = [_tile(miss) for miss in misses]
    tiles += [np.full_like(tiles[0], 255)] * (-len(tiles) % min(ACROSS, len(tiles)))
    rows = [np.hstack(tiles[at : at + ACROSS]) for at in range(0, len(tiles), ACROSS)]
    _, png = cv2.imencode(".png", np.vstack(rows), [cv2.IMWRITE_PNG_COMPRESSION, 9])
    return png.tobytes()


def instead(miss: Miss) -> str:
    """What was found where a ball was missed, in a few words."""
    off_px = np.hypot(*(miss.finds.centre_px - miss.label.centre_px).T)
    on, sure = off_px <= miss.label.reach_px, miss.finds.score > LEAST_SCORE
    if on.any():
        return f"score {miss.finds.score[on].max():.2f}"
    return f"found {off_px[sure].min():.0f} px off" if sure.any() else "nothing"


def _tile(miss: Miss) -> Bytes:
    zoom = SIDE_PX / miss.crops.shape[1]
    views = [_view(crop, zoom) for crop in miss.crops]
    now = views[1]
    for box, score in zip(miss.finds.box_px, miss.finds.score, strict=True):
        if score > LEAST_SCORE:
            left, top, right, bottom = box - np.tile(miss.corner_px, 2)
            cv2.rectangle(now, _at(left, top, zoom), _at(right, bottom, zoom), FIND_BGR, 1)
    middle = miss.label.centre_px - miss.corner_px
    cv2.circle(now, _at(middle[0], middle[1], zoom), round((0.5 * miss.label.streak_px + 3) * zoom), LABEL_BGR, 1)
    caption = np.full((CAPTION_PX, 3 * SIDE_PX, 3), 255, np.uint8)
    text = f"{miss.label.frame}: {instead(miss)}"
    cv2.putText(caption, text, (1, CAPTION_PX - 2), cv2.FONT_HERSHEY_SIMPLEX, 0.33, (0, 0, 0), 1)
    tile = np.vstack([np.hstack(views), caption])
    return cv2.copyMakeBorder(tile, 0, GAP_PX, 0, GAP_PX, cv2.BORDER_CONSTANT, value=(255, 255, 255)).astype(np.uint8)


def _view(crop: Bytes, zoom: float) -> NDArray[np.uint8]:
    how = cv2.INTER_CUBIC if zoom > 1 else cv2.INTER_AREA
    grey = cv2.resize(crop // GREY_STEP * GREY_STEP, (SIDE_PX, SIDE_PX), interpolation=how)
    return cv2.cvtColor((grey // GREY_STEP * GREY_STEP).astype(np.uint8), cv2.COLOR_GRAY2BGR).astype(np.uint8)


def _at(u: float, v: float, zoom: float) -> tuple[int, int]:
    return round((u + 0.5) * zoom - 0.5), round((v + 0.5) * zoom - 0.5)
