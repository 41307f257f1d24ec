"""What a coach reads of a player in the terminal: the lessons, a table for each kind of swing, what changed."""

from collections.abc import Sequence

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from balltrack.records import wording
from balltrack.records.logbook.read import KeptLesson
from balltrack.records.table import ANGLE, DEPTH, DISTANCE, SPEED, Scale, Units
from balltrack.review.change_words import change_words
from balltrack.review.history import COMPARED, FOLLOWED, Kind, Point, Series, delivered
from balltrack.review.quantity import FEWEST, Quantity, quantity_name
from balltrack.review.stat import Stat

SHOWN_ID = 8  # digits of a lesson's id: enough to tell a player's lessons apart
MEDIANS_MEAN = (
    "Medians; in brackets what holds them nine times in ten, the camera's own error of that day included; "
    f"no brackets below {FEWEST} swings."
)
CHANGES_MEAN = (
    "Of ten such comparisons of swings that did not change, about one speaks of a change. Another field, ball, bat or "
    "day of wind changes numbers too."
)


def print_history(lessons: Sequence[KeptLesson], series: Sequence[Series], units: Units) -> None:
    """Print one player's lessons, by day, and what changed over them."""
    console = Console(width=None if Console().is_terminal else 110, highlight=False)
    player = lessons[0].player
    console.print(f"[bold]{escape(player.name)}[/] ({escape(player.code)})")
    for lesson in lessons:
        console.print(f"  {escape(_lesson_words(lesson))}", soft_wrap=True)
    for each in series:
        console.print(f"\n[bold]{escape(_kind_words(each.kind))}[/]")
        console.print(_table(each, units))
        for line in _changes(each, units):
            console.print(f"  {escape(line)}", soft_wrap=True)
    if series:
        console.print(f"\n{MEDIANS_MEAN}\n{wording.DIRECTION_MEANS}", style="dim")
    if any(len(each.points) > 1 for each in series):
        console.print(CHANGES_MEAN, style="dim")


def _lesson_words(lesson: KeptLesson) -> str:
    count = len(lesson.swings)
    swings = f"{count} swing" if count == 1 else f"{count} swings"
    left_out = sum(bool(swing.excluded) for swing in lesson.swings)
    counts = f"{swings}, {left_out} left out" if left_out else swings
    return f"{lesson.held_on}  {lesson.id[:SHOWN_ID]}  {counts}  {lesson.folder}"


def _kind_words(kind: Kind) -> str:
    return f"{delivered(kind.delivery)}, {kind.ball}, from the {kind.bats} side"


def _table(series: Series, units: Units) -> Table:
    """One row a lesson; the heading carries the unit."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("Day\n", no_wrap=True)
    table.add_column("Swings\n", justify="right", no_wrap=True)
    table.add_column("Misses\n", justify="right", no_wrap=True)
    for quantity in FOLLOWED:
        table.add_column(f"{_HEADINGS[quantity]}\n{_unit(quantity, units)}", justify="right", no_wrap=True)
    for point in series.points:
        table.add_row(*_row(point, units))
    return table


def _row(point: Point, units: Units) -> list[str]:
    numbers = [_stat(point.median(quantity), quantity, units) for quantity in FOLLOWED]
    return [f"{point.lesson.held_on}", f"{len(point.group.swings)}", f"{point.misses}", *numbers]


_HEADINGS: dict[Quantity, str] = {
    "exit_speed": "Exit speed",
    "launch": "Launch",
    "spray": "Direction",
    "depth": "Contact",
    "carry": "Carry",
}


def _scale(quantity: Quantity, units: Units) -> Scale:
    of_unit = {"exit_speed": SPEED, "depth": DEPTH, "carry": DISTANCE}.get(quantity)
    return ANGLE if of_unit is None else of_unit[units]


def _unit(quantity: Quantity, units: Units) -> str:
    unit = _scale(quantity, units).unit
    return f"{unit} ahead" if quantity == "depth" else unit


def _stat(stat: Stat, quantity: Quantity, units: Units) -> str:
    """58.2 over (56.9 .. 59.6); of directions L and R."""
    if stat.value is None or stat.low is None or stat.high is None:
        return wording.NOTHING if stat.value is None else _number(stat.value, quantity, units)
    low, high = (_number(end, quantity, units) for end in (stat.low, stat.high))
    return f"{_number(stat.value, quantity, units)}\n({low} .. {high})"


def _number(value: float, quantity: Quantity, units: Units) -> str:
    scale = _scale(quantity, units)
    shown = f"{value / scale.si_per_unit:.{scale.decimals}f}"
    if float(shown) == 0:
        return shown.removeprefix("-")
    if quantity == "spray":
        return shown.removeprefix("-") + (" L" if value < 0 else " R")
    return shown


def _changes(series: Series, units: Units) -> list[str]:
    """From the first lesson to the last, and from the one before: a sentence for each quantity."""
    lines = []
    for before in dict.fromkeys((0, len(series.points) - 2)) if len(series.points) > 1 else ():
        lines.append(f"From {series.points[before].lesson.held_on} to {series.points[-1].lesson.held_on}:")
        changes = [series.change_since(before, quantity) for quantity in COMPARED]
        said = {
            quantity_name(change.quantity): change_words(change, units)
            for change in changes
            if change.before.numbers or change.after.numbers
        }
        if len(set(said.values())) == 1 < len(said):  # too few swings, whatever is asked of them
            said = {"All": next(iter(said.values()))}
        lines += [f"  {name}: {words}" for name, words in said.items()]
    return lines
