"""``graftstage``: the commands, their options, and how a command ends.

Exit codes: 0 answered, 1 what was compared differs, 2 wrong usage or settings, 3 the record lacks something that
planning needs, 4 the request was refused, 5 the service failed.
"""

from __future__ import annotations

import argparse
import os
import sys

from service import __version__
from service.cli import audit, database, evidence, feedback, plan, read, replay, serve, sheet
from service.cli.exit_codes import FAULT, REFUSED, USAGE, UsageFault
from service.domain.errors import InvalidCase, ServiceFault

_COMMANDS = (read, plan, sheet, serve, evidence, audit, feedback, replay, database)


def main(arguments: list[str] | None = None) -> int:
    """Run one command; returns its exit code."""
    options = _make_parser().parse_args(arguments)
    try:
        code = options.run(options)
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # nobody reads on: no error
        return 0
    except Exception as fault:
        code, text = _describe(fault)
        print(text, file=sys.stderr)
        return code


def _describe(fault: Exception) -> tuple[int, str]:
    """Exit code and words. What is loaded for them here need not be loaded for a command that succeeds."""
    from service.fhir.read_text import word_fault
    from service.settings import SettingsFault

    if isinstance(fault, UsageFault | SettingsFault):
        return USAGE, str(fault)
    if isinstance(fault, InvalidCase):
        return REFUSED, "\n".join(map(word_fault, fault.faults))
    if isinstance(fault, ServiceFault):
        return FAULT, f"The service failed: {fault}."
    return FAULT, f"The service failed ({type(fault).__name__})."  # its text may repeat what was read


def _make_parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="graftstage", description="Staged autograft planner for severe burns.",
        epilog="Exit codes: 0 answered, 1 differs, 2 usage, 3 data required, 4 request refused, 5 service fault.")
    parser.add_argument("--version", action="version", version=f"graftstage {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for command in _COMMANDS:
        command.add_command(commands)
    return parser
