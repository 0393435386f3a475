"""Public keys of the issuers, read from the addresses in the settings and held for a while."""

from __future__ import annotations

import json
import logging
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from time import monotonic

from anyio import run
from joserfc.errors import JoseError
from joserfc.jwk import ECKey, RSAKey

from service.outbound.fetch import Call, OutboundFault, fetch, make_client
from service.tokens.signing import ALGORITHMS, algorithm_of

log = logging.getLogger("graftstage")

#: A withdrawn key is known to be withdrawn after this time. [s]
FRESH_SECONDS = 600
#: Keys that cannot be read again are good for this long: an outage of an issuer does not shut its callers out. [s]
STALE_SECONDS = 3_600
#: Whatever key ids callers make up, an address is not asked more often than this. [s]
REFETCH_SECONDS = 30
FETCH_SECONDS = 5.0
MOST_BYTES = 65_536
MOST_KEYS = 50

PublicKey = ECKey | RSAKey
KeyName = tuple[str, str]  # key id and algorithm
_FILE = "file://"
_TYPES = {"EC": ECKey, "RSA": RSAKey}


@dataclass
class _Held:
    """What is known of one address."""

    keys: Mapping[KeyName, PublicKey] = field(default_factory=dict)
    read_at: float = float("-inf")
    tried_at: float = float("-inf")
    lock: Lock = field(default_factory=Lock)


class KeyCache:
    """Keys by address. One thread reads an address; only who asks for a key that is not known waits for it."""

    def __init__(
        self, read: Callable[[str], bytes] | None = None, clock: Callable[[], float] = monotonic,
    ) -> None:
        self._read = read or read_key_set
        self._clock = clock
        self._held: dict[str, _Held] = {}
        self._lock = Lock()

    def find(self, url: str, key_id: str, algorithm: str) -> PublicKey | None:
        """The key of an id at an address from the settings; ``None`` when there is none that can be used."""
        with self._lock:
            held = self._held.setdefault(url, _Held())
        name = (key_id, algorithm)
        if not self._is_known(name, held):
            with held.lock:
                if not self._is_known(name, held):
                    self._refresh(url, held)
        return held.keys.get(name)

    def _is_known(self, name: KeyName, held: _Held) -> bool:
        return name in held.keys and self._clock() - held.read_at <= FRESH_SECONDS

    def _refresh(self, url: str, held: _Held) -> None:
        now = self._clock()
        if now - held.tried_at >= REFETCH_SECONDS:
            held.tried_at = now
            try:
                held.keys, held.read_at = read_keys(self._read(url)), now
            except (OutboundFault, ValueError) as fault:
                log.warning("keys of an issuer could not be read: %s", fault)
        if now - held.read_at > STALE_SECONDS:
            held.keys = {}


def read_key_set(url: str) -> bytes:
    """The key set at an address, or in a file that was agreed on, as text. Raises ``OutboundFault``."""
    if url.startswith(_FILE):
        return _read_file(url.removeprefix(_FILE))

    async def call() -> bytes:
        async with make_client() as client:
            return await fetch(
                client, Call(url, {"Accept": "application/json"}), most_bytes=MOST_BYTES, seconds=FETCH_SECONDS)

    return run(call)


def _read_file(path: str) -> bytes:
    try:
        with Path(path).open("rb") as file:
            return file.read(MOST_BYTES)
    except OSError as error:
        raise OutboundFault(f"the key file cannot be read ({type(error).__name__})") from None


def read_keys(text: bytes) -> dict[KeyName, PublicKey]:
    """The keys of a JWKS (RFC 7517) that can check a signature of the two algorithms.

    Left out: other types, curves and purposes, short keys, keys without id, whatever holds a private part, and two
    keys of one id and algorithm, for which of them is meant cannot be known. Raises ``ValueError``.
    """
    try:
        sent = json.loads(text)["keys"]
    except (ValueError, KeyError, TypeError, RecursionError):
        raise ValueError("no key set") from None
    if not isinstance(sent, list) or len(sent) > MOST_KEYS:
        raise ValueError("no list of keys, or too long a one")
    named = [found for one in sent if (found := _read_key(one))]
    counts = Counter(name for name, _ in named)
    return {name: key for name, key in named if counts[name] == 1}


def _read_key(sent: object) -> tuple[KeyName, PublicKey] | None:
    if not isinstance(sent, dict) or "d" in sent or not isinstance(sent.get("kid"), str):
        return None
    if sent.get("use", "sig") != "sig" or "verify" not in sent.get("key_ops", ["verify"]):
        return None
    try:
        key = _TYPES[sent["kty"]].import_key(sent)
        algorithm = algorithm_of(key)
    except (JoseError, KeyError, TypeError, ValueError):
        return None
    if algorithm not in ALGORITHMS or sent.get("alg", algorithm) != algorithm:
        return None
    return (sent["kid"], algorithm), key
