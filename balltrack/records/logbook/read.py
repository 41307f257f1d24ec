"""What the logbook holds: players with how much there is of each, and a player's lessons with their swings."""

import datetime
import json
from dataclasses import dataclass, fields
from typing import Any

from sqlalchemy import Connection, RowMapping, func, select

from balltrack.records.logbook.entry import BlockEntry
from balltrack.records.logbook.open import Logbook
from balltrack.records.logbook.players import Player, find_player
from balltrack.records.logbook.tables import BLOCKS, LESSONS, PLAYERS, SWINGS
from balltrack.records.swing import Swing, from_json


@dataclass(frozen=True, slots=True)
class PlayerLine:
    """A player in the list."""

    player: Player
    lessons: int
    swings: int
    first: datetime.date
    last: datetime.date


@dataclass(frozen=True, slots=True)
class KeptLesson:
    """A lesson as the logbook has it."""

    id: str
    player: Player
    held_on: datetime.date
    date_source: str
    bats: str
    ball: str
    folder: str
    blocks: tuple[BlockEntry, ...]
    swings: tuple[Swing, ...]  # number 1 first, as in swings.jsonl


def players(logbook: Logbook) -> tuple[PlayerLine, ...]:
    """All players, by name. Raises LogbookError where the database fails."""
    swings = select(func.count()).select_from(SWINGS).where(SWINGS.c.lesson_id == LESSONS.c.id).scalar_subquery()
    counted = (
        select(
            PLAYERS.c.id,
            PLAYERS.c.code,
            PLAYERS.c.name,
            func.count(LESSONS.c.id).label("lessons"),
            func.sum(swings).label("swings"),
            func.min(LESSONS.c.held_on).label("first"),
            func.max(LESSONS.c.held_on).label("last"),
        )
        .join(LESSONS, LESSONS.c.player_id == PLAYERS.c.id)
        .group_by(PLAYERS.c.id)
        .order_by(PLAYERS.c.name_key, PLAYERS.c.id)
    )
    with logbook.reading() as connection:
        return tuple(
            PlayerLine(Player(row.id, row.code, row.name), row.lessons, int(row.swings), row.first, row.last)
            for row in connection.execute(counted)
        )


def lessons_of(logbook: Logbook, words: str | None = None) -> tuple[KeptLesson, ...]:
    """The lessons of one player by code or name, or of all; by player, then by day.

    Raises
    ------
    LogbookError
        If there is no such player, the name is that of several, or the database fails.
    """
    with logbook.reading() as connection:
        wanted = (
            select(LESSONS, PLAYERS.c.code, PLAYERS.c.name)
            .join(PLAYERS, LESSONS.c.player_id == PLAYERS.c.id)
            .order_by(PLAYERS.c.name_key, PLAYERS.c.id, LESSONS.c.held_on, LESSONS.c.folder, LESSONS.c.id)
        )
        if words is not None:
            wanted = wanted.where(PLAYERS.c.id == find_player(connection, words).id)
        return tuple(_lesson(connection, row) for row in connection.execute(wanted).mappings().all())


def _lesson(connection: Connection, row: RowMapping) -> KeptLesson:
    blocks = select(BLOCKS).where(BLOCKS.c.lesson_id == row["id"]).order_by(BLOCKS.c.position)
    swings = select(SWINGS).where(SWINGS.c.lesson_id == row["id"]).order_by(SWINGS.c.number)
    return KeptLesson(
        id=row["id"],
        player=Player(row["player_id"], row["code"], row["name"]),
        held_on=row["held_on"],
        date_source=row["date_source"],
        bats=row["bats"],
        ball=row["ball"],
        folder=row["folder"],
        blocks=tuple(
            BlockEntry(each.name, each.title, each.delivery) for each in connection.execute(blocks)
        ),
        swings=tuple(_swing(each) for each in connection.execute(swings).mappings()),
    )


def _swing(row: RowMapping) -> Swing:
    """Read as a line of swings.jsonl is, so that what a server or a hand has spoilt is refused alike."""
    values: dict[str, Any] = {each.name: row[each.name] for each in fields(Swing)}
    return from_json(json.dumps(values))
