"""``graftstage evidence list|lock|check``: the numbers behind the plans."""

from __future__ import annotations

import argparse

from service.cli.exit_codes import ANSWERED, FAULT


def add_command(commands) -> None:
    parser = commands.add_parser("evidence", help="list, lock or check the evidence", description=__doc__)
    parser.add_argument("action", choices=("list", "lock", "check"))
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    return {"list": _list, "lock": _lock, "check": _check}[options.action]()


def _list() -> int:
    from service.evidence.library import load_evidence

    for row in load_evidence():
        spread = f" ({row.low} to {row.high})" if row.low is not None else ""
        print(f"{row.row_id}\t{row.value}{spread} {row.unit}\t{row.citation}")
    return ANSWERED


def _lock() -> int:
    from service.evidence.lock import write_lock

    print(write_lock())
    return ANSWERED


def _check() -> int:
    from service.evidence.library import load_evidence

    try:
        evidence = load_evidence()
    except ValueError as error:
        print(error)
        return FAULT
    print(f"evidence {evidence.version}: {len(tuple(evidence))} rows, {evidence.sha256}")
    return ANSWERED
