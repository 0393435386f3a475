"""Pin the hash of the evidence tables: run ``python -m service.evidence.lock`` after a change."""

from __future__ import annotations

from service.evidence.library import TABLES, tables_hash

LOCK = TABLES.parent / "evidence.lock"


def write_lock() -> str:
    """Write the hash of the tables to the lock file and return it."""
    sha256 = tables_hash()
    LOCK.write_text(f"{sha256}  service/evidence/tables\n")
    return sha256


if __name__ == "__main__":
    print(write_lock())
