"""One block, or the whole lesson, as the page prints it."""

from dataclasses import dataclass

from balltrack.records.table import ANGLE, DEPTH, DISTANCE, SPEED, Units
from balltrack.review.shown import Shown, counted, expected_count, of_share, of_spread, of_stat
from balltrack.review.tally import Tally


@dataclass(frozen=True, slots=True)
class BlockRow:
    """A tally in the reader's units; words are ready to print."""

    key: str
    title: str
    notes: str  # the coach's
    swings: Shown
    measured: Shown
    misses: Shown
    not_measured: Shown
    excluded: Shown
    exit_speed: Shown
    exit_speed_best: Shown
    launch: Shown
    launch_spread: tuple[Shown, Shown] | None
    depth: Shown
    carry: Shown
    carry_best: Shown
    sides: tuple[tuple[str, Shown], ...]
    flights: tuple[tuple[str, Shown], ...]
    timings: tuple[tuple[str, Shown], ...]  # those that occur, where any can be told
    hard: Shown | None
    well_hit: Shown | None
    over_fence: Shown | None


def block_row(tally: Tally, units: Units, notes: str = "") -> BlockRow:
    """Put a tally in the reader's units."""
    speed, far, near = SPEED[units], DISTANCE[units], DEPTH[units]
    return BlockRow(
        key=tally.key,
        title=tally.title,
        notes=notes,
        swings=counted("swings", tally.swings),
        measured=counted("measured", tally.measured),
        misses=counted("no_contact", tally.misses),
        not_measured=counted("not_measured", tally.not_measured),
        excluded=counted("excluded", tally.excluded),
        exit_speed=of_stat(tally.exit_speed, "exit_speed_mps", "median", speed),
        exit_speed_best=of_stat(tally.exit_speed_best, "exit_speed_mps", "best", speed),
        launch=of_stat(tally.launch, "launch_deg", "median", ANGLE),
        launch_spread=of_spread(tally.launch_spread, "launch_deg", ANGLE),
        depth=of_stat(tally.depth, "contact_depth_m", "median", near),
        carry=of_stat(tally.carry, "carry_m", "median", far),
        carry_best=of_stat(tally.carry_best, "carry_m", "best", far),
        sides=tuple((share.name, of_share(share)) for share in tally.sides),
        flights=tuple((share.name, of_share(share)) for share in tally.flights),
        timings=tuple((share.name, of_share(share)) for share in tally.timings if share.count),
        hard=None if tally.hard is None else of_share(tally.hard),
        well_hit=None if tally.well_hit is None else of_share(tally.well_hit),
        over_fence=None if tally.over_fence is None else expected_count(tally.over_fence),
    )
