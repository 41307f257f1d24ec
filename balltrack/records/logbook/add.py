"""Adding a lesson: new, or in place of what the logbook had of it. One transaction, whole or not at all."""

import uuid
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from balltrack.errors import LogbookError
from balltrack.records.logbook.entry import LessonEntry
from balltrack.records.logbook.identity import Known, is_same, known_lessons, read_id, write_id
from balltrack.records.logbook.open import Logbook
from balltrack.records.logbook.players import (
    Player,
    drop_without_lessons,
    find_player,
    lesson_count,
    make_player,
    name_key,
    player_of,
    players_named,
    rename,
)
from balltrack.records.logbook.tables import BLOCKS, CLIPS, LESSONS, SWINGS


@dataclass(frozen=True, slots=True)
class Added:
    """What came of adding a lesson."""

    lesson: str  # its id
    player: Player
    swings: int
    swings_before: int | None  # that the logbook had of this lesson; None where it is new
    player_lessons: int  # of this player, with this one
    id_kept: bool  # whether the lesson folder could be written, so that the lesson is known again by its id


@dataclass(frozen=True, slots=True)
class PlayerWish:
    """Whose lesson it is, where the name in lesson.toml does not tell: a code or a name, or somebody new."""

    words: str | None = None
    new: bool = False


NAMED = PlayerWish()  # whom lesson.toml names


def add_lesson(logbook: Logbook, entry: LessonEntry, wish: PlayerWish = NAMED) -> Added:
    """Add a lesson, or bring the logbook's record of it up to date.

    Raises
    ------
    LogbookError
        If the name is that of several players and ``wish`` does not say which, there is no such player, or the database
        fails. Nothing is changed then.
    """
    fingerprints = frozenset(clip.fingerprint for clip in entry.clips)
    found = Known(read_id(entry.folder), entry.player, Path(entry.lies_at), fingerprints)
    with logbook.writing() as connection:
        kept = _kept(connection, found)
        player = _whose(connection, entry, kept, wish)
        lesson = kept.lesson if kept and kept.lesson else _free_id(connection, found.lesson)
        before = _take_out(connection, lesson) if kept else None
        _put_in(connection, lesson, player, entry, kept is not None)
        drop_without_lessons(connection)
        count = lesson_count(connection, player)
    return Added(lesson, player, len(entry.swings), before, count, write_id(entry.folder, lesson))


def _kept(connection: Connection, found: Known) -> Known | None:
    """What the logbook has of the lesson: by its id if it can be, else the one that shares most clips."""
    same = [known for known in known_lessons(connection, found) if is_same(known, found)]
    shared = {known: len(known.fingerprints & found.fingerprints) for known in same}
    return max(same, key=lambda known: (known.lesson == found.lesson, shared[known]), default=None)


def _free_id(connection: Connection, wanted: str | None) -> str:
    """The id that the folder keeps, which another logbook may know it by, unless it is another lesson's here."""
    taken = select(LESSONS.c.id).where(LESSONS.c.id == wanted)
    return wanted if wanted and connection.execute(taken).first() is None else uuid.uuid4().hex


def _whose(connection: Connection, entry: LessonEntry, kept: Known | None, wish: PlayerWish) -> Player:
    owner = player_of(connection, kept.lesson) if kept and kept.lesson else None
    if wish.new:
        alone = owner is not None and lesson_count(connection, owner) == 1
        return owner if owner and alone else make_player(connection, entry.player)
    if wish.words is not None:
        return find_player(connection, wish.words)
    if kept and owner and name_key(kept.name) == name_key(entry.player):
        return rename(connection, owner, entry.player) if name_key(owner.name) == name_key(entry.player) else owner
    named = players_named(connection, entry.player)
    if len(named) > 1:
        codes = ", ".join(player.code for player in named)
        raise LogbookError(
            f"the logbook has {len(named)} players called {entry.player}; say whose lesson this is with --player and "
            f"one of {codes}, or --new-player"
        )
    return rename(connection, named[0], entry.player) if named else make_player(connection, entry.player)


def _take_out(connection: Connection, lesson: str) -> int:
    """Remove what a lesson had; returns how many swings."""
    removed = connection.execute(delete(SWINGS).where(SWINGS.c.lesson_id == lesson)).rowcount
    for table in (CLIPS, BLOCKS):
        connection.execute(delete(table).where(table.c.lesson_id == lesson))
    return removed


def _put_in(connection: Connection, lesson: str, player: Player, entry: LessonEntry, is_kept: bool) -> None:
    values: dict[str, Any] = {
        "player_id": player.id,
        "name_as_entered": entry.player,
        "held_on": entry.held_on,
        "date_source": entry.date_source,
        "bats": entry.bats,
        "ball": entry.ball,
        "folder": entry.lies_at,
    }
    if is_kept:
        connection.execute(update(LESSONS).where(LESSONS.c.id == lesson).values(values))
    else:
        connection.execute(insert(LESSONS).values(values | {"id": lesson}))
    of_lesson = {"lesson_id": lesson}
    clips = [of_lesson | asdict(clip) for clip in entry.clips]
    blocks = [of_lesson | asdict(block) | {"position": at} for at, block in enumerate(entry.blocks, start=1)]
    swings = [of_lesson | asdict(swing) | {"number": at} for at, swing in enumerate(entry.swings, start=1)]
    for table, rows in ((CLIPS, clips), (BLOCKS, blocks), (SWINGS, swings)):
        if rows:
            connection.execute(insert(table), rows)
