"""A lesson from Python: its swings as a data frame, its charts as figures, its numbers, camera and tracks.

`balltrack.open_lesson` opens what was measured, `balltrack.measure_lesson` measures first. See docs/tutorial.md.
Charts, films and the network are imported only when they are asked for.
"""

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from balltrack.camera.model import Camera
from balltrack.camera.solve import SolvedCamera
from balltrack.errors import RecordError
from balltrack.lesson import Lesson, load_lesson
from balltrack.lesson.settings import as_measured
from balltrack.records.alone import alone
from balltrack.records.basis_file import basis_path, read_bases
from balltrack.records.camera_file import read_camera
from balltrack.records.data_frame import swings_frame, track_frame
from balltrack.records.store import read_swings
from balltrack.records.swing import Swing
from balltrack.records.table import Units
from balltrack.review.bands import Bands
from balltrack.review.change import Change, compare
from balltrack.review.groups import Group, first_and_last, groups_of
from balltrack.review.own_best import own_best
from balltrack.review.practice import Takeaway
from balltrack.review.quantity import Quantity
from balltrack.review.takeaways import takeaways
from balltrack.review.tally import Tally, tally

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from pandas import DataFrame

ChartName = Literal["spray", "exit_launch", "contact", "order", "side"]

_Draw = Callable[[Lesson, tuple[Swing, ...], Units], "Figure"]
_Words = Callable[[Lesson, tuple[Swing, ...], Units], str]


@dataclass(frozen=True, eq=False)
class MeasuredLesson:
    """A measured lesson. SI and degrees; swings have the numbers of swings.jsonl, from 1, as in the review.

    Swings that a person left out keep their number and stand in `records` and `swings`, and count nowhere else.
    """

    folder: Path
    entered: Lesson  # player, ball, field, marks, blocks: what lesson.toml says
    records: tuple[Swing, ...]  # the truth from which all else is made
    solved: SolvedCamera  # the camera that the marks gave, and how well each mark agrees
    notices: tuple[str, ...]  # words for a person, one line each

    def swings(self) -> "DataFrame":
        """One row a swing, indexed by ``number``: every field of the record, SI.

        A vector has a column for each of its numbers: ``contact_x_m``, ``contact_y_m``, ``contact_z_m``. Beside the
        fields stand ``block_title`` and ``counts`` (False where a person left the swing out; ``excluded`` says why).
        ``attrs["units"]`` has the unit of each column. What could not be had is NaN. Each call makes a new frame.

        Raises
        ------
        RecordError
            If pandas is not installed.
        """
        return swings_frame(self.records, {block.name: block.title for block in self.entered.blocks})

    def track(self, number: int) -> "DataFrame":
        """Where the ball of one swing was seen: one row for each frame in which it was sought.

        Columns ``time_s`` (clip time), ``u_px``, ``v_px``, ``diameter_px``, ``used`` (whether the flight is fitted to
        it), ``source`` (motion, network, both, hand), ``reason`` (why it is not used). NaN where it was not found; no
        rows where no ball was followed. Pixels of the upright picture, right and down, the top left pixel's centre is
        (0, 0).

        Raises
        ------
        RecordError
            If there is no such swing, its file cannot be read, or pandas is not installed.
        """
        return track_frame(self.folder / "results", self._swing(number))

    def camera(self, number: int) -> Camera:
        """The camera as the phone stood in the clip of one swing: a knocked tripod makes it another than `solved`'s.

        Raises
        ------
        RecordError
            If there is no such swing, or its clip could not be measured at all.
        """
        swing = self._swing(number)
        bases, _, stood = read_bases(self.folder / "results" / basis_path(swing.clip))
        if stood is not None:
            return stood.camera
        if not bases:
            raise RecordError(f"swing {number}: {swing.clip} could not be measured, so its camera is not known")
        return bases[0].camera

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """The swings that count: the whole lesson first ("lesson"), then each block by its name."""
        return groups_of(self.entered, self.records)

    def group(self, key: str = "lesson") -> Group:
        """One group: "lesson", the name of a block, "first" or "last" (of each kind of delivery as many).

        Raises
        ------
        RecordError
            If there is no such group.
        """
        whole = self.groups[0]
        known = {group.key: group for group in (*first_and_last(whole), *self.groups)}
        if key not in known:
            raise RecordError(f'there is no group "{key}" in this lesson; it has {_listed(list(known))}')
        return known[key]

    def tally(self, key: str = "lesson", bands: Bands | None = None) -> Tally:
        """One group in numbers, each with those of the swings behind it; hard and well hit by this lesson's own hits.

        Parameters
        ----------
        key : str
            As in `group`.
        bands : Bands, optional
            What counts as a ground ball, as hit hard, as met early; as usual where not given.
        """
        bands = bands or Bands()
        return tally(self.group(key), bands, own_best(self.groups[0], bands))

    def change(self, quantity: Quantity, before: str = "first", after: str = "last") -> Change:
        """What changed from one group to another, with its interval of nine in ten. SI or degrees; misses as a share.

        For two lessons: ``compare(a.group(), b.group(), quantity, same_camera=False)``. `change_words` says it.
        """
        return compare(self.group(before), self.group(after), quantity)

    def takeaways(self, units: Units = "us", bands: Bands | None = None) -> tuple[Takeaway, ...]:
        """The three sentences of the review, each with the numbers of its swings."""
        return takeaways(self.entered, self.records, units, bands)

    def chart(self, name: ChartName, units: Units = "us") -> "Figure":
        """One of the review's charts, drawn on a figure of its own (no window, no shared state).

        Parameters
        ----------
        name : "spray", "exit_launch", "contact", "order" or "side"
        units : "us" or "metric"
            Of what is read on it.

        Raises
        ------
        RecordError
            If there is no such chart.
        """
        return _chart(name)[0](self.entered, self.records, units)

    def chart_words(self, name: ChartName, units: Units = "us") -> str:
        """What that chart shows, for who does not see it. Raises RecordError if there is no such chart."""
        return _chart(name)[1](self.entered, self.records, units)

    def write_review(self, units: Units | None = None, pdf: bool = True, clips: bool = False) -> tuple[Path, ...]:
        """Write results/review anew from what is on disk now, with the coach's words; returns the files.

        Parameters
        ----------
        units : "us" or "metric", optional
            As measured where not given.
        pdf : bool
            Also as review.pdf. Where the PDF cannot be made, the page is written all the same.
        clips : bool
            Also a film of each swing; takes longest.

        Raises
        ------
        MeasureError
            If the lesson is being measured just now, or results cannot be read or written.
        """
        from balltrack.review.make import Wish, make_review

        return make_review(self.folder, Wish(units, pdf, clips)).files

    def _swing(self, number: int) -> Swing:
        if not 1 <= number <= len(self.records):
            raise RecordError(f"there is no swing {number}; this lesson has {len(self.records)}, from 1")
        return self.records[number - 1]


def open_lesson(folder: str | os.PathLike[str]) -> MeasuredLesson:
    """Open a measured lesson.

    Parameters
    ----------
    folder : path
        With lesson.toml, clips/ and results/.

    Raises
    ------
    LessonError
        If the folder or its lesson.toml is wrong: one line for each wrong entry.
    RecordError
        If it was not measured yet, is being measured just now, or its results cannot be read.
    """
    place = Path(folder)
    lesson, results = as_measured(load_lesson(place)), place / "results"
    if not (results / "swings.jsonl").exists():
        raise RecordError(f"{place} was not measured yet; measure it first: balltrack.measure_lesson")
    with alone(results):
        records, solved = read_swings(results / "swings.jsonl"), read_camera(results / "camera.json")
    stale = any(swing.settings_hash != lesson.settings_hash for swing in records)
    words = ("the numbers are of before lesson.toml was last changed; measure again",) if stale else ()
    return MeasuredLesson(place, lesson, records, solved, (*lesson.notices, *words))


def measure_lesson(
    folder: str | os.PathLike[str], units: Units = "us", workers: int | None = None, network: bool = True
) -> MeasuredLesson:
    """Measure all clips of a lesson into its results folder, as ``balltrack measure`` does, and open it.

    A program that calls this at its top level needs ``if __name__ == "__main__":`` before the call, since worker
    processes are started that read the program again.

    Parameters
    ----------
    folder : path
        With lesson.toml and clips/.
    units : "us" or "metric"
        Of the spreadsheet and the review; the records are SI.
    workers : int, optional
        Clips measured at the same time; as many as there are cores where not given.
    network : bool
        Whether the network that knows what flies like a ball helps; without it the ball is found by motion alone.

    Returns
    -------
    MeasuredLesson
        Its `notices` also name the clips that could not be measured.

    Raises
    ------
    MeasureError
        If the lesson or its marks are wrong, it is being measured already, or results cannot be written.
    KeyboardInterrupt
        If it was stopped; what was done is kept.
    """
    from balltrack.batch import measure_lesson as measure_all
    from balltrack.detect.network import load_network

    outcome = measure_all(Path(folder), workers, units, network=load_network() if network else None)
    if outcome.stopped:
        raise KeyboardInterrupt
    notices = (*outcome.notes, *outcome.problems)
    return MeasuredLesson(Path(folder), outcome.lesson, outcome.swings, outcome.solved, notices)


def _chart(name: ChartName) -> tuple[_Draw, _Words]:
    from balltrack.review import contact_chart, exit_launch_chart, order_chart, side_chart, spray_chart

    charts: dict[ChartName, tuple[_Draw, _Words]] = {
        "spray": (spray_chart.draw_spray_chart, spray_chart.words_of_spray_chart),
        "exit_launch": (exit_launch_chart.draw_exit_launch_chart, exit_launch_chart.words_of_exit_launch_chart),
        "contact": (contact_chart.draw_contact_chart, contact_chart.words_of_contact_chart),
        "order": (order_chart.draw_order_chart, order_chart.words_of_order_chart),
        "side": (side_chart.draw_side_chart, side_chart.words_of_side_chart),
    }
    if name not in charts:
        raise RecordError(f'there is no chart "{name}"; there are {_listed(list(charts))}')
    return charts[name]


def _listed(names: Sequence[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}"
