"""``graftstage plan FILE``: the answer Bundle, the plan to read, or its numbers."""

from __future__ import annotations

import argparse
import sys
from decimal import Decimal, InvalidOperation

from service.cli.exit_codes import ANSWERED, DATA_REQUIRED
from service.cli.progress import told_while
from service.cli.request_file import add_request_options, read_request_file
from service.cli.stored import open_to_record
from service.cli.what_if import GRAMMAR, read_condition, what_if_parameter


def add_command(commands) -> None:
    parser = commands.add_parser(
        "plan", help="plan the whole course", description=__doc__, epilog=GRAMMAR,
        formatter_class=argparse.RawDescriptionHelpFormatter)
    add_request_options(parser)
    parser.add_argument(
        "--what-if", action="append", default=[], type=read_condition, metavar="CONDITION",
        help="plan once more under a condition and compare both plans; see below")
    parser.add_argument("--seconds", type=_seconds, metavar="S", help="search time, 0.05 to 60")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--text", action="store_true", help="for a person, 80 columns")
    form.add_argument("--summary", action="store_true", help="one JSON object with the main numbers")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    from service.fhir.json_text import dump
    from service.settings import load_settings
    from service.storage.audit_entry import BY_COMMAND
    from service.wiring import answer_plan_request, build_parts, refusals_recorded

    body, settings = read_request_file(options.file), load_settings()
    beside = [what_if_parameter(options.what_if)] if options.what_if else []
    parts = build_parts(settings, open_to_record(settings))
    with refusals_recorded(parts, BY_COMMAND, body), told_while("Planning") as watch:
        reply = answer_plan_request(
            parts, body, as_of=options.as_of, seconds=options.seconds, beside=beside, asked=BY_COMMAND, watch=watch)
    if options.text:
        sys.stdout.write(reply.text)
    else:
        answer = reply.summary if options.summary else reply.resource
        sys.stdout.write(dump(answer, indent=not options.summary).decode() + "\n")
    return ANSWERED if reply.answer else DATA_REQUIRED


def _seconds(text: str) -> Decimal:
    try:
        seconds = Decimal(text)
    except InvalidOperation:
        raise argparse.ArgumentTypeError("not a number") from None
    if not Decimal("0.05") <= seconds <= 60:
        raise argparse.ArgumentTypeError("0.05 to 60")
    return seconds
