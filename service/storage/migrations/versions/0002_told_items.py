"""What cards have told, so that a situation is told once and told again when its size has changed."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_SHA256 = sa.String(64)


def upgrade() -> None:
    op.create_table(
        "told_item",
        sa.Column("patient_hash", _SHA256, nullable=False),
        sa.Column("service_id", sa.String, nullable=False),
        sa.Column("name_hash", _SHA256, nullable=False),
        sa.Column("card_id", sa.String(36), nullable=False),
        sa.Column("amount_cm2", sa.String),
        sa.PrimaryKeyConstraint("patient_hash", "service_id", "name_hash", name="pk_told_item"),
        sa.ForeignKeyConstraint(["card_id"], ["shown_card.card_id"], name="fk_told_item_card_id"),
    )
    op.create_index("ix_told_item_card_id", "told_item", ["card_id"])
