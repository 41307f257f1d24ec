"""The swings of a recording put into blocks: by a time table, or by the pauses between them."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from balltrack.recording.begun import BlockStart
from balltrack.recording.contacts import Contact

LEAST_PAUSE_S = 40.0  # shorter ones pick up balls or talk about a swing (common practice, no source)
PAUSE_RISE = 3.0  # and a pause is so many times longer than the usual wait for the next swing


def by_pauses(contacts: Sequence[Contact]) -> list[list[Contact]]:
    """The swings between pauses, in order."""
    if not contacts:
        return []
    waits_s = [after.time_s - before.time_s for before, after in pairwise(contacts)]
    pause_s = max(LEAST_PAUSE_S, PAUSE_RISE * float(np.median(waits_s))) if waits_s else LEAST_PAUSE_S
    groups = [[contacts[0]]]
    for wait_s, contact in zip(waits_s, contacts[1:], strict=True):
        if wait_s >= pause_s:
            groups.append([])
        groups[-1].append(contact)
    return groups


def by_time_table(contacts: Sequence[Contact], starts_s: Sequence[float]) -> list[list[Contact]]:
    """The swings from each start to the next, one list a start, the first for those before all of them."""
    groups: list[list[Contact]] = [[] for _ in range(len(starts_s) + 1)]
    for contact in contacts:
        groups[int(np.searchsorted(starts_s, contact.time_s, side="right"))].append(contact)
    return groups


def starts_in(time_table: Sequence[BlockStart], begin_s: float, time_scale: float) -> list[float]:
    """Starts as a player shows them, in clip time of a film that begins at ``begin_s``. [s]"""
    return [begin_s + block.start_s * time_scale for block in time_table]
