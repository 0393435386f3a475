"""Secrets that this service makes for itself, one a purpose, shared by every process on the same database."""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from hashlib import sha256
from hmac import new as hmac

from sqlalchemy import select

from service.storage.database import Database, insert_once
from service.storage.tables import service_key

KEY_BYTES = 32


class ServiceKeys:
    """Keeps an eye or a second database from telling whom a hash stands for; not who holds this one."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keyed_hash(self, purpose: str, text: str) -> str:
        """HMAC-SHA-256 of a text under the key of the purpose, in hexadecimal digits."""
        return self.keyed_hashes(purpose, [text])[0]

    def keyed_hashes(self, purpose: str, texts: Iterable[str]) -> list[str]:
        """The same of many texts, in their order."""
        key = self._key(purpose)
        return [hmac(key, text.encode(), sha256).hexdigest() for text in texts]

    def _key(self, purpose: str) -> bytes:
        query = select(service_key.c.secret).where(service_key.c.purpose == purpose)
        with self._database.reading() as connection:
            held = connection.execute(query).scalar()
        if held is not None:
            return held
        with self._database.writing() as connection:
            insert_once(connection, service_key, {"purpose": purpose, "secret": secrets.token_bytes(KEY_BYTES)})
            return connection.execute(query).scalar_one()
