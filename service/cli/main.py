"""``graftstage``: the commands, their options, and how a command ends.

Exit codes: 0 answered, 2 wrong usage or settings, 3 the record lacks something that planning
needs, 4 the request was refused, 5 the service failed.
"""

from __future__ import annotations

import argparse
import os
import sys

from service import __version__
from service.cli import evidence, plan, read, serve
from service.cli.exit_codes import FAULT, REFUSED, USAGE, UsageFault
from service.domain.errors import InvalidCase, ServiceFault
from service.settings import SettingsFault

_COMMANDS = (read, plan, serve, evidence)


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
    except (UsageFault, SettingsFault) as fault:
        return _end(USAGE, str(fault))
    except InvalidCase as case:
        from service.cli.fault_text import write_faults

        return _end(REFUSED, write_faults(case.faults))
    except ServiceFault as fault:
        return _end(FAULT, f"The service failed: {fault}.")
    except Exception as fault:  # its text may repeat what was read, so only its kind is told
        return _end(FAULT, f"The service failed ({type(fault).__name__}).")


def _end(code: int, text: str) -> int:
    print(text, file=sys.stderr)
    return code


def _make_parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="graftstage", description="Staged autograft planner for severe burns.",
        epilog="Exit codes: 0 answered, 2 usage, 3 data required, 4 request refused, 5 service fault.")
    parser.add_argument("--version", action="version", version=f"graftstage {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for command in _COMMANDS:
        command.add_command(commands)
    return parser
