"""The first tables, and the triggers that let nobody change or drop a row of the audit trail."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_SHA256 = sa.String(64)
_UUID = sa.String(36)

_REFUSE_SQLITE = """
CREATE TRIGGER audit_row_no_{name} BEFORE {verb} ON audit_row
BEGIN SELECT RAISE(ABORT, 'the audit trail is append-only'); END
"""
#: Replacing a row is an insert to SQLite, so inserts are held to the next number too.
_APPEND_SQLITE = """
CREATE TRIGGER audit_row_appended BEFORE INSERT ON audit_row
WHEN NEW.sequence <> (SELECT coalesce(max(sequence), 0) + 1 FROM audit_row)
BEGIN SELECT RAISE(ABORT, 'the audit trail is append-only'); END
"""
_HEAD_SQLITE = """
CREATE TRIGGER audit_head_{name} BEFORE {verb} ON audit_head {when}
BEGIN SELECT RAISE(ABORT, 'the head of the audit trail only moves on'); END
"""
_FUNCTIONS_POSTGRESQL = (
    """
    CREATE FUNCTION refuse_audit_change() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN RAISE EXCEPTION 'the audit trail is append-only'; END $$
    """,
    """
    CREATE FUNCTION keep_audit_head() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        IF TG_OP = 'UPDATE' AND NEW.sequence = OLD.sequence + 1 THEN RETURN NEW; END IF;
        RAISE EXCEPTION 'the head of the audit trail only moves on';
    END $$
    """,
)


def upgrade() -> None:
    _create_audit_tables()
    _create_other_tables()
    if op.get_bind().dialect.name == "postgresql":
        _guard_postgresql()
    else:
        _guard_sqlite()


def _create_audit_tables() -> None:
    op.create_table(
        "audit_row",
        sa.Column("sequence", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("recorded_at", sa.DateTime, nullable=False),
        sa.Column("caller", sa.String, nullable=False),
        sa.Column("operation", sa.String, nullable=False),
        sa.Column("outcome", sa.String, nullable=False),
        sa.Column("detail", sa.String, nullable=False),
        sa.Column("plan_id", _UUID),
        sa.Column("card_id", _UUID),
        sa.Column("input_sha256", _SHA256),
        sa.Column("answer_sha256", _SHA256),
        sa.Column("as_of", sa.String),
        sa.Column("search_seconds", sa.String),
        sa.Column("software", sa.String, nullable=False),
        sa.Column("evidence", sa.String),
        sa.Column("evidence_sha256", _SHA256),
        sa.Column("preferences_sha256", _SHA256),
        sa.Column("settings_sha256", _SHA256),
        sa.Column("seed", sa.Integer),
        sa.Column("gap", sa.String),
        sa.Column("duration_milliseconds", sa.Integer),
        sa.Column("previous_hash", _SHA256, nullable=False),
        sa.Column("row_hash", _SHA256, nullable=False, unique=True),
        sa.PrimaryKeyConstraint("sequence", name="pk_audit_row"),
    )
    op.create_index("ix_audit_row_plan_id", "audit_row", ["plan_id"])
    op.create_table(
        "audit_head",
        sa.Column("trail", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("sequence", sa.Integer, nullable=False),
        sa.Column("row_hash", _SHA256, nullable=False),
        sa.PrimaryKeyConstraint("trail", name="pk_audit_head"),
    )


def _create_other_tables() -> None:
    op.create_table(
        "seen_token",
        sa.Column("issuer", sa.String, nullable=False),
        sa.Column("token_id_sha256", _SHA256, nullable=False),
        sa.Column("expires_at", sa.DateTime, nullable=False),
        sa.PrimaryKeyConstraint("issuer", "token_id_sha256", name="pk_seen_token"),
    )
    op.create_index("ix_seen_token_expires_at", "seen_token", ["expires_at"])
    op.create_table(
        "shown_card",
        sa.Column("card_id", _UUID, nullable=False),
        sa.Column("patient_hash", _SHA256, nullable=False),
        sa.Column("service_id", sa.String, nullable=False),
        sa.Column("situation", sa.String(64), nullable=False),
        sa.Column("shown_at", sa.DateTime, nullable=False),
        sa.PrimaryKeyConstraint("card_id", name="pk_shown_card"),
    )
    op.create_index("ix_shown_card_shown_at", "shown_card", ["shown_at"])
    op.create_index("ix_shown_card_patient_hash_service_id", "shown_card", ["patient_hash", "service_id"])
    op.create_table(
        "card_feedback",
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("card_id", _UUID, nullable=False),
        sa.Column("outcome", sa.String, nullable=False),
        sa.Column("reason_code", sa.String),
        sa.Column("given_at", sa.DateTime, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_card_feedback"),
        sa.ForeignKeyConstraint(["card_id"], ["shown_card.card_id"], name="fk_card_feedback_card_id"),
    )
    op.create_index("ix_card_feedback_card_id", "card_feedback", ["card_id"])
    op.create_table(
        "kept_plan",
        sa.Column("plan_id", _UUID, nullable=False),
        sa.Column("input_body", sa.LargeBinary, nullable=False),
        sa.Column("as_of", sa.String, nullable=False),
        sa.Column("search_seconds", sa.String, nullable=False),
        sa.Column("expires_at", sa.DateTime, nullable=False),
        sa.PrimaryKeyConstraint("plan_id", name="pk_kept_plan"),
    )
    op.create_index("ix_kept_plan_expires_at", "kept_plan", ["expires_at"])
    op.create_table(
        "service_key",
        sa.Column("purpose", sa.String, nullable=False),
        sa.Column("secret", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("purpose", name="pk_service_key"),
    )


def _guard_sqlite() -> None:
    for verb in ("UPDATE", "DELETE"):
        op.execute(_REFUSE_SQLITE.format(name=verb.lower(), verb=verb))
    op.execute(_APPEND_SQLITE)
    op.execute(_HEAD_SQLITE.format(name="one", verb="INSERT", when="WHEN EXISTS (SELECT 1 FROM audit_head)"))
    op.execute(_HEAD_SQLITE.format(name="no_delete", verb="DELETE", when=""))
    op.execute(_HEAD_SQLITE.format(name="moves_on", verb="UPDATE", when="WHEN NEW.sequence <> OLD.sequence + 1"))


def _guard_postgresql() -> None:
    for function in _FUNCTIONS_POSTGRESQL:
        op.execute(function)
    for table, function in (("audit_row", "refuse_audit_change"), ("audit_head", "keep_audit_head")):
        op.execute(f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
                   f"FOR EACH ROW EXECUTE FUNCTION {function}()")
        op.execute(f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
                   f"FOR EACH STATEMENT EXECUTE FUNCTION {function}()")
