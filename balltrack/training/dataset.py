"""Examples on disk, as the trainer reads them: a picture of three frames, and a text file of boxes."""

from pathlib import Path

import cv2
import numpy as np

from balltrack.detect.background import Bytes
from balltrack.detect.network import PAD_PX
from balltrack.units import Floats


def write_example(folder: Path, split: str, name: str, frames: Bytes, box_px: Floats) -> None:
    """Write one example.

    Parameters
    ----------
    folder : Path
    split : str
        ``train`` or ``val``.
    name : str
        Of the example, unlike any other.
    frames : (3, side, side) array of bytes
        Luma before, now and after.
    box_px : (n, 4) array
        Left, top, right, bottom of each ball's streak now, counted from the corner of the top-left pixel.
    """
    side = frames.shape[1]
    picture = cv2.merge([frames[2], frames[1], frames[0]])  # OpenCV writes blue first; the network reads red first
    images, labels = folder / "images" / split, folder / "labels" / split
    images.mkdir(parents=True, exist_ok=True)
    labels.mkdir(parents=True, exist_ok=True)
    cv2.imwrite(str(images / f"{name}.png"), picture, [cv2.IMWRITE_PNG_COMPRESSION, 1])
    padded = np.clip(box_px + PAD_PX * np.array([-1, -1, 1, 1]), 0, side) / side
    lines = [
        f"0 {(left + right) / 2:.6f} {(top + bottom) / 2:.6f} {right - left:.6f} {bottom - top:.6f}\n"
        for left, top, right, bottom in padded.tolist()
    ]
    (labels / f"{name}.txt").write_text("".join(lines))


def write_index(folder: Path) -> Path:
    """Write the file that names the folder's parts, once all examples are there."""
    index = folder / "data.yaml"
    index.write_text(
        f"path: {folder.resolve()}\ntrain: images/train\nval: images/val\nnc: 1\nnames: [ball]\nchannels: 3\n"
    )
    return index
