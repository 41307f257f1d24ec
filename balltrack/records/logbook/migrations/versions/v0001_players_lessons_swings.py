"""Players, lessons with their clips and blocks, swings."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

OF_LESSON = "lessons.id"


def upgrade() -> None:
    op.create_table(
        "players",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("code", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("name_key", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_players"),
        sa.UniqueConstraint("code", name="uq_players_code"),
    )
    op.create_index("ix_players_name_key", "players", ["name_key"])
    op.create_table(
        "lessons",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("player_id", sa.Integer, nullable=False),
        sa.Column("name_as_entered", sa.Text, nullable=False),
        sa.Column("held_on", sa.Date, nullable=False),
        sa.Column("date_source", sa.String(10), nullable=False),
        sa.Column("bats", sa.String(10), nullable=False),
        sa.Column("ball", sa.Text, nullable=False),
        sa.Column("folder", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_lessons"),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name="fk_lessons_players", ondelete="CASCADE"),
    )
    op.create_index("ix_lessons_player_id", "lessons", ["player_id"])
    op.create_table(
        "clips",
        sa.Column("lesson_id", sa.String(32), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("fingerprint", sa.String(32), nullable=False),
        sa.PrimaryKeyConstraint("lesson_id", "name", name="pk_clips"),
        sa.ForeignKeyConstraint(["lesson_id"], [OF_LESSON], name="fk_clips_lessons", ondelete="CASCADE"),
    )
    op.create_index("ix_clips_fingerprint", "clips", ["fingerprint"])
    op.create_table(
        "blocks",
        sa.Column("lesson_id", sa.String(32), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("position", sa.Integer, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("delivery", sa.String(10)),
        sa.PrimaryKeyConstraint("lesson_id", "name", name="pk_blocks"),
        sa.ForeignKeyConstraint(["lesson_id"], [OF_LESSON], name="fk_blocks_lessons", ondelete="CASCADE"),
    )
    op.create_table(
        "swings",
        sa.Column("lesson_id", sa.String(32), nullable=False),
        sa.Column("number", sa.Integer, autoincrement=False, nullable=False),
        *_record(),
        sa.PrimaryKeyConstraint("lesson_id", "number", name="pk_swings"),
        sa.ForeignKeyConstraint(["lesson_id"], [OF_LESSON], name="fk_swings_lessons", ondelete="CASCADE"),
    )


def _record() -> "list[sa.Column[object]]":
    """The swing record as it was at this step."""
    text, number, count, values = sa.Text, sa.Double, sa.Integer, sa.JSON
    words = ("swing", "clip", "block", "outcome", "balltrack_version", "settings_hash", "reason")
    columns: list[sa.Column[object]] = [sa.Column(name, text, nullable=False) for name in words]
    for name, kind in (
        ("contact_s", number),
        ("exit_speed_mps", number),
        ("exit_speed_sd_mps", number),
        ("launch_deg", number),
        ("launch_sd_deg", number),
        ("spray_deg", number),
        ("spray_sd_deg", number),
        ("contact_m", values),
        ("contact_sd_m", values),
        ("contact_depth_m", number),
        ("carry_m", number),
        ("carry_sd_m", number),
        ("landing_m", values),
        ("landing_cov_m2", values),
        ("hang_s", number),
        ("apex_m", number),
        ("tail_m", number),
        ("tail_sd_m", number),
        ("fence_clear_probability", number),
        ("field_side", text),
        ("flight", text),
        ("pitch_speed_mps", number),
        ("frames_used", count),
        ("residual_px", number),
        ("quality", text),
        ("exposure_s", number),
    ):
        columns.append(sa.Column(name, kind, nullable=True))
    columns += [sa.Column(name, text, nullable=False) for name in ("detector", "excluded")]
    return columns + [sa.Column(name, values, nullable=False) for name in ("warnings", "by_hand")]


def downgrade() -> None:
    for table in ("swings", "blocks", "clips", "lessons", "players"):
        op.drop_table(table)
