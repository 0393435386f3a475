"""Requests kept for a while, to make the plan behind a link again. Nothing is kept unless a site says so."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime

from sqlalchemy import delete, select

from service.storage.database import Database, insert_once
from service.storage.kept_plan import KeptPlan
from service.storage.tables import kept_plan


class KeptPlans:
    """The only rows that hold clinical data; each is dropped when its time is over."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keep(self, plan: KeptPlan, *, now: datetime) -> None:
        """Keep one, in place of the one of the same id, and drop what has expired."""
        with self._database.writing() as connection:
            connection.execute(delete(kept_plan).where(
                (kept_plan.c.expires_at < now) | (kept_plan.c.plan_id == plan.plan_id)))
            insert_once(connection, kept_plan, asdict(plan))

    def find(self, plan_id: str, *, now: datetime) -> KeptPlan | None:
        """The request of a plan, while it is kept."""
        query = select(kept_plan).where(kept_plan.c.plan_id == plan_id, kept_plan.c.expires_at >= now)
        with self._database.reading() as connection:
            row = connection.execute(query).mappings().first()
        return KeptPlan(**row) if row else None

    def drop_expired(self, now: datetime) -> int:
        """Drop what has expired; says how many."""
        with self._database.writing() as connection:
            return connection.execute(delete(kept_plan).where(kept_plan.c.expires_at < now)).rowcount
