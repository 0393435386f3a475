"""Tokens already used, so that none is used twice; shared by every process on the same database."""

from __future__ import annotations

from datetime import datetime
from hashlib import sha256

from sqlalchemy import delete

from service.storage.database import Database, insert_once
from service.storage.tables import seen_token


class SeenTokens:
    """Remembers each token until it expires, as a hash."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def remember(self, issuer: str, token_id: str, *, expires_at: datetime, now: datetime) -> bool:
        """Whether this token comes for the first time.

        Parameters
        ----------
        issuer, token_id : str
            Claims ``iss`` and ``jti``.
        expires_at : datetime
            When the token is refused anyway, the tolerated skew included; aware.
        now : datetime
            Tokens that expired before are forgotten; aware.

        Raises ``StorageFault``: a token that cannot be checked must not be let in.
        """
        row = {"issuer": issuer, "token_id_sha256": sha256(token_id.encode()).hexdigest(), "expires_at": expires_at}
        with self._database.writing() as connection:
            connection.execute(delete(seen_token).where(seen_token.c.expires_at < now))
            return insert_once(connection, seen_token, row)
