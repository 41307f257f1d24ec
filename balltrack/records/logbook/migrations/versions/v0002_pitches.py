"""What was seen of a swing's pitch, and how the swing ended."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

NUMBERS = (
    "pitch_speed_sd_mps",
    "pitch_apex_m",
    "pitch_apex_sd_m",
    "pitch_descent_deg",
    "pitch_descent_sd_deg",
    "early_s",
    "early_sd_s",
)
VECTORS = ("pitch_plate_m", "pitch_plate_sd_m", "contact_off_pitch_m", "contact_off_pitch_sd_m")


def upgrade() -> None:
    op.add_column("swings", sa.Column("ended", sa.Text))
    op.add_column("swings", sa.Column("pitch_frames", sa.Integer))
    for name in NUMBERS:
        op.add_column("swings", sa.Column(name, sa.Double))
    for name in VECTORS:
        op.add_column("swings", sa.Column(name, sa.JSON(none_as_null=True)))


def downgrade() -> None:
    for name in ("ended", "pitch_frames", *NUMBERS, *VECTORS):
        op.drop_column("swings", name)
