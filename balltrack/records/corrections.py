"""All that a person put right in one clip, and to which of its swings each correction belongs."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from balltrack.errors import RecordError
from balltrack.plain_file import read_plain
from balltrack.records.hand import HandRow, hand_path, read_hand, write_hand
from balltrack.records.verdict import Verdict, read_verdicts, verdict_path, write_verdicts

SAME_SWING_S = 0.45  # half of what two swings by one batter lie apart
ADDED = "swing added"
EARLY_S = 0.3  # a ball may be set so long before the moment at which the program saw the swing


@dataclass(frozen=True, slots=True)
class Fix:
    """What a person put right in one swing."""

    rows: tuple[HandRow, ...] = ()
    contact_s: float | None = None
    miss: bool = False
    excluded: str = ""
    added: bool = False  # the program saw no swing there

    @property
    def words(self) -> tuple[str, ...]:
        """For the record."""
        placed = sum(row.centre_px is not None for row in self.rows)
        emptied = len(self.rows) - placed
        found = [ADDED] if self.added else []
        found += [_count(placed, "set"), _count(emptied, "taken out")]
        found += ["contact"] if self.contact_s is not None else []
        found += ["miss"] if self.miss else []
        found += ["excluded"] if self.excluded else []
        return tuple(word for word in found if word)

    @property
    def touches_flight(self) -> bool:
        """Whether the flight must be fitted anew for it."""
        return bool(self.rows) or self.contact_s is not None


@dataclass(frozen=True, slots=True)
class Corrections:
    """Of one clip."""

    rows: tuple[HandRow, ...] = ()
    verdicts: tuple[Verdict, ...] = ()

    def verdict_at(self, time_s: float) -> Verdict | None:
        """The verdict on the swing that the program saw at this clip time."""
        near = [(abs(each.near_s - time_s), k) for k, each in enumerate(self.verdicts)]
        off_s, k = min(near, default=(SAME_SWING_S, -1))
        return self.verdicts[k] if off_s < SAME_SWING_S else None

    def fixes(self, times_s: Sequence[float]) -> tuple[Fix, ...]:
        """What belongs to each of a clip's swings, told by the clip times at which the program saw them, in order."""
        rows: list[list[HandRow]] = [[] for _ in times_s]
        for row in self.rows if times_s else ():
            rows[self._owner(row, times_s)].append(row)
        found = []
        for time_s, own in zip(times_s, rows, strict=True):
            said = self.verdict_at(time_s)
            fix = Fix(tuple(own))
            found.append(Fix(fix.rows, said.contact_s, said.miss, said.excluded, said.added) if said else fix)
        return tuple(found)

    def homeless(self, times_s: Sequence[float]) -> str:
        """One line on corrections that belong to no swing; empty where all do."""
        lost = [each for each in self.verdicts if all(abs(each.near_s - time_s) >= SAME_SWING_S for time_s in times_s)]
        words = [f"{each.swing} at {each.near_s:.2f} s" for each in lost]
        words += [_count(len(self.rows), "set or taken out")] if self.rows and not times_s else []
        return f"corrections by hand fit no swing that was found: {', '.join(words)}" if words else ""

    def with_fix(self, times_s: Sequence[float], which: int, fix: Fix, swing: str) -> "Corrections":
        """The same with another word on one swing.

        Parameters
        ----------
        times_s : sequence of float
            Clip times at which the program saw the clip's swings, in order. [s]
        which : int
            The swing's place among them.
        fix : Fix
            All that is put right in it from now on. One that was added stays added.
        swing : str
            Its id, for who reads the file.
        """
        before = self.verdict_at(times_s[which])
        said = Verdict(
            swing=swing,
            near_s=times_s[which] if before is None else before.near_s,
            contact_s=fix.contact_s,
            miss=fix.miss,
            excluded=fix.excluded,
            added=before is not None and before.added,
        )
        others = self.without(times_s, which)
        verdicts = (*others.verdicts, said) if said.says_something else others.verdicts
        return Corrections((*others.rows, *fix.rows), verdicts)

    def without(self, times_s: Sequence[float], which: int) -> "Corrections":
        """The same without a word on one swing; parameters as for `with_fix`."""
        before = self.verdict_at(times_s[which])
        return Corrections(
            tuple(row for row in self.rows if self._owner(row, times_s) != which),
            tuple(each for each in self.verdicts if each is not before),
        )

    def with_swing(self, swing: str, contact_s: float) -> "Corrections":
        """The same with a swing more, which a person saw and the program did not."""
        said = Verdict(swing=swing, near_s=contact_s, contact_s=contact_s, added=True)
        return Corrections(self.rows, (*self.verdicts, said))

    def added_to(self, times_s: Sequence[float]) -> tuple[Verdict, ...]:
        """The swings that a person added, but for those that the program now sees by itself at these clip times."""
        return tuple(
            each
            for each in self.verdicts
            if each.added and all(abs(each.near_s - time_s) >= SAME_SWING_S for time_s in times_s)
        )

    @staticmethod
    def _owner(row: HandRow, times_s: Sequence[float]) -> int:
        """The swing that a row belongs to: the last one that it does not come before."""
        return max(sum(time_s - EARLY_S <= row.time_s for time_s in times_s) - 1, 0)


NO_CORRECTIONS = Corrections()


def read_corrections(results: Path, clip: str) -> Corrections:
    """What a person put right in a clip such as ``clips/01-tee/001.mp4``.

    Raises
    ------
    RecordError
        If a file of corrections is wrong, in one line.
    """
    return Corrections(read_hand(results / hand_path(clip)), read_verdicts(results / verdict_path(clip)))


def write_corrections(results: Path, clip: str, corrections: Corrections) -> None:
    """Keep a person's word on a clip. Raises RecordError where it cannot be written."""
    write_hand(results / hand_path(clip), corrections.rows)
    write_verdicts(results / verdict_path(clip), corrections.verdicts)


def corrections_version(results: Path, clip: str) -> str:
    """Changes whenever a correction of the clip does: 16 hex digits. Raises RecordError if it cannot be read."""
    digest = hashlib.sha256()
    for path in (results / hand_path(clip), results / verdict_path(clip)):
        try:
            data = read_plain(path) if path.exists() else b""
        except OSError as error:
            raise RecordError(f"{path} cannot be read ({error}); repair it or move it away") from None
        digest.update(len(data).to_bytes(8, "big") + data)
    return digest.hexdigest()[:16]


def _count(number: int, what: str) -> str:
    return f"{number} ball position{'' if number == 1 else 's'} {what}" if number else ""
