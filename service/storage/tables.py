"""The tables. No row names a patient; what stands for one is a keyed hash."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    Column,
    DateTime,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    TypeDecorator,
)

metadata = MetaData(naming_convention={
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
})


class Moment(TypeDecorator):
    """An aware moment, kept in UTC to the microsecond."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: object) -> datetime | None:
        return value and value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: object) -> datetime | None:
        return value and value.replace(tzinfo=UTC)


def _sha256(name: str, **options: object) -> Column:
    return Column(name, String(64), **options)


audit_row = Table(
    "audit_row", metadata,
    Column("sequence", Integer, primary_key=True, autoincrement=False),
    Column("recorded_at", Moment, nullable=False),
    Column("caller", String, nullable=False),
    Column("operation", String, nullable=False),
    Column("outcome", String, nullable=False),
    Column("detail", String, nullable=False),
    Column("plan_id", String(36), index=True),
    Column("card_id", String(36)),
    _sha256("input_sha256"),
    _sha256("answer_sha256"),
    Column("as_of", String),
    Column("search_seconds", String),
    Column("software", String, nullable=False),
    Column("evidence", String),
    _sha256("evidence_sha256"),
    _sha256("preferences_sha256"),
    _sha256("settings_sha256"),
    Column("seed", Integer),
    Column("gap", String),
    Column("duration_milliseconds", Integer),
    _sha256("previous_hash", nullable=False),
    _sha256("row_hash", nullable=False, unique=True),
)

#: The last row of the trail, told apart from the trail itself: rows missing at the end show against it.
audit_head = Table(
    "audit_head", metadata,
    Column("trail", Integer, primary_key=True, autoincrement=False),
    Column("sequence", Integer, nullable=False),
    _sha256("row_hash", nullable=False),
)

seen_token = Table(
    "seen_token", metadata,
    Column("issuer", String, primary_key=True),
    _sha256("token_id_sha256", primary_key=True),
    Column("expires_at", Moment, nullable=False, index=True),
)

shown_card = Table(
    "shown_card", metadata,
    Column("card_id", String(36), primary_key=True),
    _sha256("patient_hash", nullable=False),
    Column("service_id", String, nullable=False),
    Column("situation", String(64), nullable=False),
    Column("shown_at", Moment, nullable=False, index=True),
)
Index("ix_shown_card_patient_hash_service_id", shown_card.c.patient_hash, shown_card.c.service_id)

#: What cards have told: the name of each thing as a keyed hash, with the amount that was told.
told_item = Table(
    "told_item", metadata,
    _sha256("patient_hash", primary_key=True),
    Column("service_id", String, primary_key=True),
    _sha256("name_hash", primary_key=True),
    Column("card_id", String(36), ForeignKey(shown_card.c.card_id), nullable=False, index=True),
    Column("amount_cm2", String),
)

card_feedback = Table(
    "card_feedback", metadata,
    Column("number", Integer, primary_key=True),
    Column("card_id", String(36), ForeignKey(shown_card.c.card_id), nullable=False, index=True),
    Column("outcome", String, nullable=False),
    Column("reason_code", String),
    Column("given_at", Moment, nullable=False),
)

kept_plan = Table(
    "kept_plan", metadata,
    Column("plan_id", String(36), primary_key=True),
    Column("input_body", LargeBinary, nullable=False),
    Column("as_of", String, nullable=False),
    Column("search_seconds", String, nullable=False),
    Column("expires_at", Moment, nullable=False, index=True),
)

service_key = Table(
    "service_key", metadata,
    Column("purpose", String, primary_key=True),
    Column("secret", LargeBinary, nullable=False),
)
