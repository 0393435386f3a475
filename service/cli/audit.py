"""``graftstage audit verify|list|head``: the audit trail of the database that the settings name.

``verify`` ends with 1 when a row was changed, removed or put elsewhere. A trail that was rewritten as a whole shows
only against a head noted elsewhere: every row's number and hash stand in the log, and ``head`` prints the last.
"""

from __future__ import annotations

import argparse

from service.cli.exit_codes import ANSWERED, DIFFERS
from service.cli.moments import moment
from service.cli.stored import open_existing

_COLUMNS = ("sequence", "recorded_at", "caller", "operation", "outcome", "detail", "plan_id", "duration_milliseconds")


def add_command(commands) -> None:
    parser = commands.add_parser("audit", help="verify or list the audit trail", description=__doc__)
    actions = parser.add_subparsers(required=True, metavar="ACTION")
    verify = actions.add_parser("verify", help="look for rows that were changed, removed or put elsewhere")
    verify.add_argument("--noted", type=_noted, metavar="NUMBER:HASH", help="a head that was noted elsewhere")
    verify.set_defaults(run=_verify)
    listing = actions.add_parser("list", help="one line a row, parted by tabs")
    listing.add_argument("--since", type=moment, metavar="INSTANT", help="ISO 8601 with offset")
    for name in ("operation", "outcome", "plan-id"):
        listing.add_argument(f"--{name}")
    listing.set_defaults(run=_list)
    actions.add_parser("head", help="number and hash of the last row, to be kept elsewhere").set_defaults(run=_head)


def _verify(options: argparse.Namespace) -> int:
    from service.storage.verify_trail import verify_trail

    report = verify_trail(open_existing().trail, noted=options.noted)
    for fault in report.faults:
        print(fault)
    print(f"{report.row_count} rows, last {report.sequence}:{report.row_hash}: "
          f"{'NOT AS WRITTEN' if report.faults else 'as written'}")
    return DIFFERS if report.faults else ANSWERED


def _list(options: argparse.Namespace) -> int:
    print("\t".join(_COLUMNS))
    rows = open_existing().trail.rows(
        since=options.since, operation=options.operation, outcome=options.outcome, plan_id=options.plan_id)
    for row in rows:
        print("\t".join(str("" if (value := getattr(row, name)) is None else value) for name in _COLUMNS))
    return ANSWERED


def _head(_options: argparse.Namespace) -> int:
    sequence, row_hash = open_existing().trail.head()
    print(f"{sequence}:{row_hash}")
    return ANSWERED


def _noted(text: str) -> tuple[int, str]:
    number, _, row_hash = text.partition(":")
    if not number.isdigit() or not row_hash:
        raise argparse.ArgumentTypeError("a number, a colon and a hash, as the command head prints them")
    return int(number), row_hash
