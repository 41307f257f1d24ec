"""A lesson's charts drawn side by side, by processes that begin when the last clips leave a core free."""

import contextlib
import signal
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import repeat
from types import TracebackType
from typing import TYPE_CHECKING

from balltrack.lesson import Lesson
from balltrack.nursery import born, context
from balltrack.records.swing import Swing
from balltrack.records.table import Units

if TYPE_CHECKING:
    from balltrack.review.charts import Chart  # loaded only where it is drawn: workers need it not


class Drawers:
    """So many processes at most; with one, this process draws by itself."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> "Drawers":
        return self

    def __exit__(self, error: type[BaseException] | None, _value: object, _trace: TracebackType | None) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=error is None, cancel_futures=True)

    def begin(self) -> None:
        """Load what makes a review, here and in processes that wait for charts to draw; once."""
        from balltrack.review import charts, page

        if self._most > 1 and self._pool is None:
            most = min(self._most, len(charts.NAMES))
            self._pool = ProcessPoolExecutor(most, context(), _begin)
            with contextlib.suppress(OSError, EOFError, BrokenProcessPool), born():
                for _ in range(most):
                    self._pool.submit(charts.load)
        page.load()

    def draw(self, lesson: Lesson, swings: Sequence[Swing], units: Units) -> "tuple[Chart, ...]":
        """All charts, as `charts_of` draws them: by this process where the others cannot."""
        from balltrack.review.charts import NAMES, charts_of, draw_chart

        self.begin()
        if self._pool is not None:
            with contextlib.suppress(OSError, EOFError, BrokenProcessPool), born():
                return tuple(self._pool.map(draw_chart, NAMES, repeat(lesson), repeat(swings), repeat(units)))
        return charts_of(lesson, swings, units)


def _begin() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches all of a terminal; the parent ends what it began
