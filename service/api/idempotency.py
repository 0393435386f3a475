"""One ``Idempotency-Key``, one request.

No answer is kept, so a repeated request is simply planned again and gives the same
bytes. What a key can show is that a caller mixed two requests up. Only hashes are held, in
memory, the newest of them.
"""

from __future__ import annotations

from collections import OrderedDict
from hashlib import sha256

from service.api.transport_faults import TransportFault

MOST_KEYS = 10_000


class IdempotencyKeys:
    """What each key was first used for."""

    def __init__(self) -> None:
        self._used: OrderedDict[bytes, bytes] = OrderedDict()

    def require_same(self, key: str | None, path: str, body: bytes) -> None:
        """Refuse a key that was used for another address or body. Raises ``TransportFault`` (409)."""
        if key is None:
            return
        name = sha256(key.encode()).digest()
        request = sha256(path.encode() + b"\0" + body).digest()
        if self._used.setdefault(name, request) != request:
            raise TransportFault("idempotency-key-reused")
        if len(self._used) > MOST_KEYS:
            self._used.popitem(last=False)
