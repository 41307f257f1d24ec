"""The results folder of a lesson, written clip by clip so that an interruption loses only the clip in work."""

import csv
import io
import math
from collections.abc import Mapping, Sequence
from pathlib import Path, PurePosixPath

from balltrack.errors import RecordError
from balltrack.plain_file import read_plain
from balltrack.records.atomic import write_atomic
from balltrack.records.swing import Swing, from_json, to_json
from balltrack.records.table import Units, swings_csv
from balltrack.track.ball import BallTrack

TRACK_COLUMNS = ("swing", "time_s", "u_px", "v_px", "diameter_px", "used", "source", "reason")


def read_swings(path: Path) -> tuple[Swing, ...]:
    """All swings of a swings.jsonl; none where there is no such file.

    Raises
    ------
    RecordError
        If a line cannot be read, with its number.
    """
    try:
        text = read_plain(path).decode()
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise RecordError(
            f"{path} cannot be read ({error.strerror or error}); move it away and measure again"
        ) from None
    except UnicodeDecodeError as error:
        raise RecordError(f"{path} cannot be read ({error}); move it away and measure again") from None
    swings: list[Swing] = []
    lines = text.removesuffix("\n").split("\n") if text else []  # text may hold other line ends; none where no swing is
    for number, line in enumerate(lines, start=1):
        try:
            swings.append(from_json(line))
        except RecordError as error:
            raise RecordError(f"{path} line {number}: {error}; move the file away and measure again") from None
    return tuple(swings)


class ResultStore:
    """Swings and tracks of one lesson on disk. What an earlier run wrote for a clip stays until it is done anew."""

    def __init__(self, folder: Path, clip_names: Sequence[str]) -> None:
        """Open ``folder`` (made at the first write) for the clips named, in their order.

        Records of clips that are no longer in the lesson are dropped at the first write.
        Raises RecordError if an earlier swings.jsonl cannot be read.
        """
        self.folder = folder
        self._by_clip: dict[str, tuple[Swing, ...]] = dict.fromkeys(clip_names, ())
        self._lines: dict[str, str] = dict.fromkeys(clip_names, "")  # kept: a lesson may have thousands
        earlier: dict[str, list[Swing]] = {}
        for swing in read_swings(folder / "swings.jsonl"):
            if swing.clip in self._by_clip:
                earlier.setdefault(swing.clip, []).append(swing)
        self._take(earlier)

    @property
    def swings(self) -> tuple[Swing, ...]:
        """All swings known so far, in the order of the clips."""
        return tuple(swing for swings in self._by_clip.values() for swing in swings)

    def write_clip(self, clip: str, swings: Sequence[Swing], tracks: Sequence[tuple[str, BallTrack]]) -> None:
        """Keep one clip's result: its tracks first, then swings.jsonl, so that no record lacks its track."""
        self.write_tracks(clip, tracks)
        self.write_swings({clip: swings})

    def write_tracks(self, clip: str, tracks: Sequence[tuple[str, BallTrack]]) -> None:
        """Keep the tracks of one clip anew, by swing id."""
        write_atomic(self.folder / track_path(clip), tracks_csv(tracks))

    def write_swings(self, by_clip: Mapping[str, Sequence[Swing]]) -> None:
        """Keep the swings of some clips anew, in one step."""
        self._take(by_clip)
        write_atomic(self.folder / "swings.jsonl", "".join(self._lines.values()))

    def _take(self, by_clip: Mapping[str, Sequence[Swing]]) -> None:
        self._by_clip |= {clip: tuple(swings) for clip, swings in by_clip.items()}
        self._lines |= {clip: "".join(to_json(each) + "\n" for each in swings) for clip, swings in by_clip.items()}

    def write_table(self, units: Units) -> None:
        """Write swings.csv from all swings. The byte-order mark makes spreadsheets read it as UTF-8."""
        write_atomic(self.folder / "swings.csv", swings_csv(self.swings, units), encoding="utf-8-sig")


def track_path(clip: str) -> Path:
    """``clips/01-tee/001.mp4`` -> ``tracks/01-tee/001.csv``."""
    path = PurePosixPath(clip)
    return Path("tracks", *path.parts[1:-1], f"{path.stem}.csv")


def tracks_csv(tracks: Sequence[tuple[str, BallTrack]]) -> str:
    """All tracks of a clip, one row for each frame in which a ball was sought; empty cells where none was found."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(TRACK_COLUMNS)
    for swing, track in tracks:
        for row in range(len(track.time_s)):
            u_px, v_px = track.centre_px[row]
            writer.writerow(
                [
                    swing,
                    _number(track.time_s[row], 6),
                    _number(u_px, 3),
                    _number(v_px, 3),
                    _number(track.diameter_px[row], 3),
                    int(track.used[row]),
                    track.source[row],
                    track.reason[row],
                ]
            )
    return text.getvalue()


def _number(value: float, decimals: int) -> str:
    return f"{value:.{decimals}f}" if math.isfinite(value) else ""
