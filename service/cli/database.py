"""``graftstage database migrate``: the tables of this release, before the service is started on them."""

from __future__ import annotations

import argparse

from service.cli.exit_codes import ANSWERED


def add_command(commands) -> None:
    parser = commands.add_parser("database", help="bring the database to this release", description=__doc__)
    parser.add_argument("action", choices=("migrate",))
    parser.set_defaults(run=run)


def run(_options: argparse.Namespace) -> int:
    from service.settings import load_settings, mask_password
    from service.storage.database import open_database
    from service.storage.migrate import migrate

    setting = load_settings().database
    print(f"{mask_password(setting)}: tables of revision {migrate(open_database(setting))}")
    return ANSWERED
