"""Why a token is not taken: for the log of the operator, never for the answer."""

from __future__ import annotations

from enum import StrEnum


class Reason(StrEnum):
    """One word for each check, in the order in which they are made."""

    TOO_LONG = "too-long"
    UNREADABLE = "unreadable"
    HEADER = "header"
    ALGORITHM = "algorithm"
    TYPE = "type"
    KEY_ID = "key-id"
    ISSUER = "issuer"
    KEY_ADDRESS = "key-address"
    CLAIM_MISSING = "claim-missing"
    AUDIENCE = "audience"
    EXPIRED = "expired"
    TIMES = "times"
    LIFETIME = "lifetime"
    NO_KEY = "no-key"
    SIGNATURE = "signature"
    USED_BEFORE = "used-before"


class TokenRefused(Exception):
    """``issuer`` is named only when it is one of the settings."""

    def __init__(self, reason: Reason, issuer: str = "") -> None:
        super().__init__(str(reason))
        self.reason = reason
        self.issuer = issuer
