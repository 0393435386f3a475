"""Cards that were shown, and what their readers know since: what keeps a situation from being told twice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal

from sqlalchemy import Connection, delete, select

from service.storage.database import Database, insert_once
from service.storage.tables import card_feedback, shown_card, told_item


@dataclass(frozen=True)
class ShownCard:
    """One card. ``patient_hash`` is keyed (``service_keys``).

    ``situation`` says by code what it was about: a kind of event, a finding or an error id.
    """

    card_id: str
    patient_hash: str
    service_id: str
    situation: str
    shown_at: datetime  # aware


#: Keyed hash of the name of something that was told, and the amount that was told with it. [cm²]
Told = Mapping[str, Decimal | None]


class ShownCards:
    """The cards of every patient, without naming one."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def told(self, patient_hash: str, service_id: str, *, but: str) -> dict[str, Decimal | None]:
        """Everything that cards have told of a patient; what the card ``but`` told first does not count."""
        with self._database.reading() as connection:
            rows = _told_rows(connection, patient_hash, service_id)
        return {row.name_hash: _read_amount(row.amount_cm2) for row in rows if row.card_id != but}

    def add(self, card: ShownCard, told: Told) -> bool:
        """Remember a card and what it tells; ``False`` when all of it has just been told by another."""
        with self._database.writing() as connection:
            before = {row.name_hash: row for row in _told_rows(connection, card.patient_hash, card.service_id)}
            new = {
                name: amount for name, amount in told.items()
                if name not in before or _read_amount(before[name].amount_cm2) != amount}
            if not new:
                return any(before[name].card_id == card.card_id for name in told)
            insert_once(connection, shown_card, asdict(card))
            _forget(connection, card, before.keys() & new.keys())
            connection.execute(told_item.insert(), [
                {"patient_hash": card.patient_hash, "service_id": card.service_id, "name_hash": name,
                 "card_id": card.card_id, "amount_cm2": None if amount is None else str(amount)}
                for name, amount in new.items()])
        return True

    def find(self, card_id: str) -> ShownCard | None:
        """The card of an id."""
        with self._database.reading() as connection:
            row = connection.execute(select(shown_card).where(shown_card.c.card_id == card_id)).mappings().first()
        return ShownCard(**row) if row else None

    def forget_before(self, moment: datetime) -> int:
        """Drop older cards with what they told and their feedback; says how many cards."""
        old = select(shown_card.c.card_id).where(shown_card.c.shown_at < moment)
        with self._database.writing() as connection:
            for table in (card_feedback, told_item):
                connection.execute(delete(table).where(table.c.card_id.in_(old)))
            return connection.execute(delete(shown_card).where(shown_card.c.shown_at < moment)).rowcount


def _told_rows(connection: Connection, patient_hash: str, service_id: str):
    return connection.execute(select(told_item).where(
        told_item.c.patient_hash == patient_hash, told_item.c.service_id == service_id)).all()


def _forget(connection: Connection, card: ShownCard, name_hashes: Iterable[str]) -> None:
    connection.execute(delete(told_item).where(
        told_item.c.patient_hash == card.patient_hash, told_item.c.service_id == card.service_id,
        told_item.c.name_hash.in_(list(name_hashes))))


def _read_amount(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)
