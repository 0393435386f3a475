"""``graftstage feedback``: which cards were shown, what was accepted and overridden, and why."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from datetime import UTC, datetime

from service.cli.exit_codes import ANSWERED
from service.cli.moments import moment
from service.cli.stored import open_existing


def add_command(commands) -> None:
    parser = commands.add_parser("feedback", help="what readers made of their cards", description=__doc__)
    parser.add_argument("--since", type=moment, metavar="INSTANT", default=datetime.min.replace(tzinfo=UTC),
                        help="only cards shown since then, ISO 8601 with offset")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    from service.fhir.json_text import dump
    from service.wording.feedback_text import count_feedback, write_feedback

    counts = count_feedback(open_existing().card_feedback.since(options.since))
    if options.json:
        told = [asdict(count) | {"reasons": dict(count.reasons), "unanswered": count.unanswered} for count in counts]
        print(dump({"situations": told}, indent=True).decode())
    else:
        print(write_feedback(counts), end="")
    return ANSWERED
