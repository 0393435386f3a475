"""``graftstage read FILE``: what was understood, what was set aside, what is missing or wrong."""

from __future__ import annotations

import argparse
import sys

from service.cli.exit_codes import ANSWERED
from service.cli.request_file import add_request_options, read_request_file


def add_command(commands) -> None:
    parser = commands.add_parser("read", help="read a record without planning", description=__doc__)
    add_request_options(parser)
    parser.add_argument("--text", action="store_true", help="for a person")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    from service.fhir.json_text import dump
    from service.settings import load_settings
    from service.wiring import answer_read_request, build_parts

    body = read_request_file(options.file)
    reply = answer_read_request(build_parts(load_settings()), body, as_of=options.as_of)
    sys.stdout.write(reply.text if options.text else dump(reply.resource, indent=True).decode() + "\n")
    return ANSWERED
