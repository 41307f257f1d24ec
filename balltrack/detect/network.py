"""The learned detector: a small network that finds balls in flight in three frames laid over each other.

Its weights are an ONNX file, run by onnxruntime. Motion between the frames is what it goes by most: a ball at rest, a
head or a lamp looks the same and does not fly.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from balltrack.detect.background import Bytes
from balltrack.errors import DetectorError
from balltrack.units import Floats

if TYPE_CHECKING:
    from onnxruntime import InferenceSession

NEIGHBOUR_S = 1 / 60  # the frames before and after lie so far from the middle one, or one frame where that is more
STRIDE_PX = 16  # sides of what the network is given are multiples of it
PAD_PX = 3.0  # its boxes stand so far off the ball: a ball of four pixels then covers a few of its cells
LEAST_SCORE = 0.25
OVERLAP = 0.4  # of two boxes that share more than this the better one stands


@dataclass(frozen=True, slots=True, eq=False)
class Finds:
    """Balls found in one picture, the surest first."""

    box_px: Floats  # (n, 4) left, top, right, bottom of the ball's streak; the top-left pixel's centre is (0, 0)
    score: Floats  # (n,) 0 to 1

    def __len__(self) -> int:
        return len(self.score)

    @property
    def centre_px(self) -> Floats:
        """(n, 2) middle of each streak."""
        return np.asarray(0.5 * (self.box_px[:, :2] + self.box_px[:, 2:]))


class Network:
    """A detector, by its weights file. Each process opens it for itself, when it first looks."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.digest = hashlib.sha256(path.read_bytes()).hexdigest()[:8]
        self._opened: InferenceSession | None = None

    @property
    def name(self) -> str:
        """Its file, and what tells the weights in it from any others."""
        return f"{self.path.name} {self.digest}"

    def __reduce__(self) -> tuple[type["Network"], tuple[Path]]:
        return Network, (self.path,)

    def open(self) -> "InferenceSession":
        """The runtime with these weights, opened once; DetectorError if they are no detector of this kind."""
        if self._opened is None:
            self._opened = _open(self.path)
        return self._opened

    def look(self, patches: Bytes, least_score: float = LEAST_SCORE) -> list[Finds]:
        """Find balls in several patches at once.

        Parameters
        ----------
        patches : (n, 3, h, w) array of bytes
            Luma before, now and after; sides are multiples of ``STRIDE_PX``.
        least_score : float
            Surer finds than this are given.
        """
        if not len(patches):
            return []
        session = self.open()
        raw = session.run(None, {session.get_inputs()[0].name: patches.astype(np.float32) / np.float32(255)})[0]
        return [_finds(np.asarray(each), least_score) for each in np.asarray(raw)]

    def find(self, before: Bytes, now: Bytes, after: Bytes, least_score: float = LEAST_SCORE, shrink: int = 1) -> Finds:
        """Find balls in a whole picture: three luma planes (h, w) of any one size.

        Each is first made so many times smaller as ``shrink`` says: where balls stay wide enough, as much is found in
        a quarter of the time or less. The boxes are the picture's own.
        """
        planes = [_shrunk(plane, shrink) for plane in (before, now, after)]
        down, right = (-length % STRIDE_PX for length in planes[1].shape)
        stack = np.stack([np.pad(plane, ((0, down), (0, right)), mode="edge") for plane in planes])
        finds = self.look(stack[None], least_score)[0]
        return Finds(shrink * (finds.box_px + 0.5) - 0.5, finds.score)


def _shrunk(plane: Bytes, times: int) -> Bytes:
    if times == 1:
        return plane
    height, width = plane.shape[0] // times, plane.shape[1] // times
    whole = plane[: height * times, : width * times]
    return np.asarray(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA), dtype=np.uint8)


def load_network(path: Path | None = None) -> Network:
    """Load weights: those given, else a person's own that ``balltrack train`` made, else the package's.

    Raises
    ------
    DetectorError
        If there is no such file, or it is not a detector of this kind.
    """
    path = path or (own_weights() if own_weights().is_file() else shipped_weights())
    if not path.is_file():
        raise DetectorError(f"there are no detector weights at {path}; give another file, or measure with --no-network")
    network = Network(path)
    network.open()
    return network


def _open(path: Path) -> "InferenceSession":
    try:
        from onnxruntime import InferenceSession, SessionOptions
    except ImportError as error:
        raise DetectorError(f"the detector needs onnxruntime ({error}): pip install onnxruntime") from None
    options = SessionOptions()
    options.intra_op_num_threads = 1  # one process a clip: its threads would fight with the others
    options.inter_op_num_threads = 1
    options.log_severity_level = 3
    try:
        session = InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
    except Exception as error:  # its exceptions have no common base
        raise DetectorError(f"{path.name} cannot be read as detector weights: {str(error).splitlines()[0]}") from None
    _check(session, path)
    return session


def own_weights() -> Path:
    """Where a person's own weights lie, there or not: in the person's data folder."""
    from platformdirs import user_data_path

    return user_data_path("balltrack", appauthor=False) / "own-ball.onnx"


def shipped_weights() -> Path:
    """Where the package's own weights lie: inside a wheel, or beside the package in a checkout."""
    package = Path(__file__).resolve().parents[1]
    inside = package / "models" / "ball.onnx"
    return inside if inside.is_file() else package.parent / "models" / "ball.onnx"


def neighbours(times_s: Sequence[float] | Floats, index: int) -> tuple[int, int]:
    """Which frames lie nearest to ``NEIGHBOUR_S`` before and after one; at the clip's ends the frame itself."""
    times = np.asarray(times_s)
    before, after = times[:index], times[index + 1 :]
    first = int(np.argmin(np.abs(before - times[index] + NEIGHBOUR_S))) if len(before) else index
    last = index + 1 + int(np.argmin(np.abs(after - times[index] - NEIGHBOUR_S))) if len(after) else index
    return first, last


def _check(session: "InferenceSession", path: Path) -> None:
    takes, gives = [each.shape for each in session.get_inputs()], [each.shape for each in session.get_outputs()]
    fits = len(takes) == 1 and len(gives) == 1 and len(takes[0]) == 4 and takes[0][1] == 3
    if not fits or len(gives[0]) != 3 or gives[0][1] != 5:
        raise DetectorError(
            f"{path.name} takes {takes} and gives {gives}: not a detector of balls in three frames; take weights that "
            "balltrack train has made"
        )


def _finds(raw: NDArray[np.float32], least_score: float) -> Finds:
    """From (5, cells) middle, size and score of each cell's box."""
    sure = raw[:, raw[4] > least_score].astype(np.float64)
    sure = sure[:, np.argsort(-sure[4], kind="stable")]
    half = np.maximum(sure[2:4] / 2 - PAD_PX, 0.5)
    corner = sure[:2] - half - 0.5  # the network counts from the corner of the top-left pixel
    boxes: list[Any] = np.concatenate([sure[:2] - sure[2:4] / 2, sure[2:4]]).T.tolist()
    kept = np.asarray(cv2.dnn.NMSBoxes(boxes, sure[4].tolist(), least_score, OVERLAP), dtype=np.intp).ravel()
    return Finds(np.concatenate([corner, corner + 2 * half]).T[kept], sure[4, kept])
