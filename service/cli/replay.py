"""``graftstage replay PLAN_ID``: make the plan of an audit row again and compare the answer, byte for byte.

The request is the one that was kept with the plan, or ``--input FILE``. Ends with 1 when the answer differs or a
version does.
"""

from __future__ import annotations

import argparse

from service.cli.exit_codes import ANSWERED, DIFFERS, UsageFault
from service.cli.request_file import read_request_file
from service.cli.stored import open_existing


def add_command(commands) -> None:
    parser = commands.add_parser("replay", help="make an audited plan again and compare", description=__doc__)
    parser.add_argument("plan_id", metavar="PLAN_ID", help="as in the answer and in the audit trail")
    parser.add_argument("--input", metavar="FILE", help="the request, when it was not kept; - reads standard input")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    from service.replay import replay
    from service.settings import load_settings
    from service.wiring import build_parts

    storage = open_existing()
    body = read_request_file(options.input) if options.input else None
    try:
        report = replay(build_parts(load_settings()), storage, options.plan_id, body)
    except LookupError as error:
        raise UsageFault(str(error.args[0])) from None
    for line in report.lines:
        print(line)
    return ANSWERED if report.same else DIFFERS
