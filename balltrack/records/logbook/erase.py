"""Taking a player or a lesson out of the logbook, so that nothing of it stays in the database's files.

The lesson folder with its videos and results is not touched: it is the person's to delete. Nor are copies that a server
keeps for itself, such as its backups.
"""

from dataclasses import dataclass

from sqlalchemy import delete, select

from balltrack.errors import LogbookError
from balltrack.records.logbook.open import Logbook
from balltrack.records.logbook.players import Player, drop_without_lessons, find_player
from balltrack.records.logbook.tables import LESSONS, PLAYERS


@dataclass(frozen=True, slots=True)
class Erased:
    player: Player
    folders: tuple[str, ...]  # of the lessons that were erased; what lies there is still there


def erase(logbook: Logbook, words: str, lesson: str | None = None) -> Erased:
    """Erase all of a player, by code or name, or one of the player's lessons, by the beginning of its id.

    Raises
    ------
    LogbookError
        If there is no such player or lesson, or several, or the database fails.
    """
    with logbook.writing() as connection:
        player = find_player(connection, words)
        rows = connection.execute(
            select(LESSONS.c.id, LESSONS.c.folder).where(LESSONS.c.player_id == player.id).order_by(LESSONS.c.held_on)
        ).all()
        if lesson is None:
            connection.execute(delete(PLAYERS).where(PLAYERS.c.id == player.id))  # lessons and swings go with it
        else:
            rows = [row for row in rows if lesson and row.id.startswith(lesson)]
            if len(rows) != 1:
                raise LogbookError(
                    f"{len(rows)} lessons of {player.name} begin with {lesson}; balltrack logbook show {player.code} "
                    "lists them"
                )
            connection.execute(delete(LESSONS).where(LESSONS.c.id == rows[0].id))
            drop_without_lessons(connection)
    logbook.rewrite()
    return Erased(player, tuple(row.folder for row in rows))
