"""From a film of a board to the lens of the phone that filmed it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from balltrack.camera.board import Board, Corners
from balltrack.camera.board_views import BoardView, choose_views, sharpness
from balltrack.camera.calibrate import Calibration, calibrate
from balltrack.errors import CalibrationError
from balltrack.lesson.lens_mode import Mode, mode_of
from balltrack.video.clip import ClipInfo, probe
from balltrack.video.frames import read_frames

LOOK_EVERY_S = 0.2
MOST_LOOKS = 200  # a frame takes 0.05 to 0.2 s to look through; a film of 40 s is looked at every 0.2 s
BETWEEN_CLIPS_S = 1000.0


@dataclass(frozen=True, slots=True, eq=False)
class FilmedLens:
    """A calibration, and for which phone and mode it holds. Its pixels are those of the picture as stored."""

    mode: Mode
    calibration: Calibration
    focus_locked: bool
    looks: int  # frames that were looked at
    seen: int  # frames in which the board was found


def film_lens(paths: Sequence[Path], board: Board, focus_locked: bool = False) -> FilmedLens:
    """Calibrate from one or several films of a board.

    Raises
    ------
    VideoError
        If a clip cannot be read.
    CalibrationError
        If the clips are not of one phone and mode, show no board, or not in ways that tell the lens.
    """
    infos = [probe(path) for path in paths]
    modes = [mode_of(info) for info in infos]
    _check_alike(infos, modes)
    seen: list[BoardView] = []
    looks = 0
    for number, info in enumerate(infos):
        found, looked = _views(info, board)
        seen += [replace(view, time_s=view.time_s + number * BETWEEN_CLIPS_S) for view in found]
        looks += looked
    if not seen:
        raise CalibrationError(
            f"{paths[0].name}: none of the {looks} frames looked at shows the board; film the sheet that balltrack "
            "lens board prints, whole, sharp and in good light (a plain chessboard needs --chessboard)"
        )
    chosen = choose_views(seen, infos[0].size_px)
    stored = [
        Corners(view.points_m, infos[0].orientation.stored_points(view.pixels, infos[0].stored_size_px), view.numbers)
        for view in chosen
    ]
    calibration = calibrate(stored, infos[0].stored_size_px, focus_locked)
    return FilmedLens(modes[0], calibration, focus_locked, looks, len(seen))


def _check_alike(infos: Sequence[ClipInfo], modes: Sequence[Mode]) -> None:
    for info, mode in zip(infos, modes, strict=True):
        if mode != modes[0] or info.orientation != infos[0].orientation:
            raise CalibrationError(
                f"{info.path.name} was filmed by another phone, in another mode or held otherwise than "
                f"{infos[0].path.name} ({mode.words}, {modes[0].words}); calibrate each by itself"
            )


def _views(info: ClipInfo, board: Board) -> tuple[list[BoardView], int]:
    """The board in frames a fifth of a second apart or more, and how many frames were looked at."""
    step_s = max(LOOK_EVERY_S, info.duration_s / MOST_LOOKS)
    next_s, looked = -np.inf, 0
    views = []
    for frame in read_frames(info.path, info=info):
        if frame.time_s < next_s or looked >= MOST_LOOKS:
            continue
        next_s, looked = frame.time_s + 0.999 * step_s, looked + 1  # 0.999: times are rounded
        if (corners := board.find(frame.luma)) is not None:
            views.append(BoardView(frame.time_s, corners, sharpness(frame.luma, corners)))
    return views, looked
