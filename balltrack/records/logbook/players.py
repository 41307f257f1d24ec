"""Players in the logbook: found by name or code, two of one name told apart."""

import itertools
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, delete, func, insert, select, update

from balltrack.errors import LogbookError
from balltrack.records.logbook.tables import LESSONS, PLAYERS

_APOSTROPHES = str.maketrans("’‘ʼ´`", "'''''")


@dataclass(frozen=True, slots=True)
class Player:
    id: int
    code: str  # what a person types to mean this one: robin-example-2
    name: str


def name_key(name: str) -> str:
    """The same for one name however it is typed: letters composed or not, small or large, any apostrophe or space."""
    plain = unicodedata.normalize("NFKC", name).translate(_APOSTROPHES)
    return " ".join(unicodedata.normalize("NFKC", plain.casefold()).split())


def find_player(connection: Connection, words: str) -> Player:
    """The player of a code or a name.

    Raises
    ------
    LogbookError
        If there is none, or the name is that of several: with the codes.
    """
    row = connection.execute(select(PLAYERS).where(PLAYERS.c.code == words)).one_or_none()
    named = [_player(row)] if row else players_named(connection, words)
    if not named:
        raise LogbookError(f'no player "{words}" is in the logbook; balltrack logbook list shows who is')
    if len(named) > 1:
        codes = ", ".join(player.code for player in named)
        raise LogbookError(f'the logbook has {len(named)} players called "{words}"; say which: {codes}')
    return named[0]


def players_named(connection: Connection, name: str) -> list[Player]:
    """All players of a name, the first one first."""
    rows = connection.execute(select(PLAYERS).where(PLAYERS.c.name_key == name_key(name)).order_by(PLAYERS.c.id))
    return [_player(row) for row in rows]


def player_of(connection: Connection, lesson: str) -> Player:
    """Whose a lesson is that the logbook has."""
    joined = select(PLAYERS).join(LESSONS, LESSONS.c.player_id == PLAYERS.c.id)
    return _player(connection.execute(joined.where(LESSONS.c.id == lesson)).one())


def make_player(connection: Connection, name: str) -> Player:
    """Enter a new player, whoever has that name already."""
    taken = set(connection.execute(select(PLAYERS.c.code)).scalars())
    base = _code(name)
    code = next(code for code in _codes(base) if code not in taken)
    values = {"code": code, "name": name, "name_key": name_key(name)}
    made = connection.execute(insert(PLAYERS).values(values).returning(PLAYERS.c.id))
    return Player(made.scalar_one(), code, name)


def rename(connection: Connection, player: Player, name: str) -> Player:
    """Write the name as it is written now."""
    if player.name == name:
        return player
    values = {"name": name, "name_key": name_key(name)}
    connection.execute(update(PLAYERS).where(PLAYERS.c.id == player.id).values(values))
    return Player(player.id, player.code, name)


def lesson_count(connection: Connection, player: Player) -> int:
    """How many lessons a player has."""
    count = select(func.count()).select_from(LESSONS).where(LESSONS.c.player_id == player.id)
    return connection.execute(count).scalar_one()


def drop_without_lessons(connection: Connection) -> None:
    """Take players out whose last lesson went to another, or was erased."""
    connection.execute(delete(PLAYERS).where(PLAYERS.c.id.not_in(select(LESSONS.c.player_id))))


def _player(row: Row[Any]) -> Player:
    return Player(row.id, row.code, row.name)


def _code(name: str) -> str:
    """Letters and digits of any script, dashes between: robin-example."""
    return re.sub(r"[\W_]+", "-", name_key(name).replace("'", "")).strip("-") or "player"


def _codes(base: str) -> Iterator[str]:
    yield base
    yield from (f"{base}-{number}" for number in itertools.count(2))
