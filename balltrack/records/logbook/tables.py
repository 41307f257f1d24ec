"""The logbook's tables. They hold what results hold: SI, null for what could not be had."""

from dataclasses import fields
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from sqlalchemy import JSON, Column, Date, Double, ForeignKey, Integer, MetaData, String, Table, Text
from sqlalchemy.types import TypeEngine

from balltrack.records.swing import Swing

METADATA = MetaData(
    naming_convention={  # named alike on every server, so that a later migration can speak of them
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(referred_table_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
    }
)


def _of_lesson() -> Column[Any]:
    return Column("lesson_id", String(32), ForeignKey("lessons.id", ondelete="CASCADE"), primary_key=True)


PLAYERS = Table(
    "players",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("code", Text, nullable=False, unique=True),  # robin-example, robin-example-2: what a person types
    Column("name", Text, nullable=False),  # as lesson.toml had it last
    Column("name_key", Text, nullable=False, index=True),  # the same however it is typed: see players.name_key
)

LESSONS = Table(
    "lessons",
    METADATA,
    Column("id", String(32), primary_key=True),  # 32 hex digits, kept in the lesson's results too
    Column("player_id", Integer, ForeignKey("players.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("name_as_entered", Text, nullable=False),  # of the player, in lesson.toml
    Column("held_on", Date, nullable=False),
    Column("date_source", String(10), nullable=False),  # stated | clips | files
    Column("bats", String(10), nullable=False),
    Column("ball", Text, nullable=False),
    Column("folder", Text, nullable=False),
)

CLIPS = Table(
    "clips",
    METADATA,
    _of_lesson(),
    Column("name", Text, primary_key=True),  # clips/01-tee/001.mp4
    Column("fingerprint", String(32), nullable=False, index=True),  # by which a lesson is known again
)

BLOCKS = Table(
    "blocks",
    METADATA,
    _of_lesson(),
    Column("name", Text, primary_key=True),  # 01-tee
    Column("position", Integer, nullable=False),  # from 1, in the lesson's order
    Column("title", Text, nullable=False),
    Column("delivery", String(10)),  # tee | toss | live; null where lesson.toml does not say
)


def _type_of(hint: Any) -> TypeEngine[Any]:
    """Numbers and words as such; vectors and lists as JSON. A null is the database's own, never JSON's."""
    arms = get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
    kind = next(arm for arm in arms if arm is not type(None))
    if get_origin(kind) is tuple:
        return JSON(none_as_null=True)
    plain: dict[Any, TypeEngine[Any]] = {float: Double(), int: Integer()}
    return plain.get(kind, Text())


def _swing_columns() -> list[Column[Any]]:
    """A column for each field of the record: what is added there needs a migration, of which a test reminds."""
    hints = get_type_hints(Swing)
    return [
        Column(each.name, _type_of(hints[each.name]), nullable=type(None) in get_args(hints[each.name]))
        for each in fields(Swing)
    ]


SWINGS = Table(
    "swings",
    METADATA,
    _of_lesson(),
    Column("number", Integer, primary_key=True, autoincrement=False),  # from 1, in the order of swings.jsonl
    *_swing_columns(),
)
