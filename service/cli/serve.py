"""``graftstage serve``: one process on the address of the settings, until it is interrupted."""

from __future__ import annotations

import argparse
import errno
import logging
import signal
import socket
import sys

from service.cli.exit_codes import ANSWERED, UsageFault
from service.cli.request_file import read_request_file

log = logging.getLogger("graftstage")

#: By name, so that the other commands do not wait for a web framework to load.
APPLICATION = "service.api.app:create_app"
PROTOCOL = "service.api.http_protocol:OutcomeProtocol"


def add_command(commands) -> None:
    parser = commands.add_parser("serve", help="start the service", description=__doc__)
    parser.add_argument("--or-free-port", action="store_true", help="when the port is taken, use a free one")
    parser.add_argument("--show", metavar="FILE", help="plan this request through the service and print it")
    parser.add_argument("--show-settings", action="store_true", help="print the settings in effect and end")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    import uvicorn

    from service.cli.show import Show
    from service.settings import load_settings, shown_settings
    from service.storage.storage import open_storage
    from service.wiring import build_parts

    settings = load_settings()
    if options.show_settings:
        print("\n".join(shown_settings(settings)))
        return ANSWERED
    build_parts(settings)  # fails here, in words, rather than while the server starts
    open_storage(settings.database).database.close()
    if options.show and settings.are_tokens_asked_for:
        raise UsageFault("a plan cannot be shown where tokens are asked for")
    body = read_request_file(options.show) if options.show else None
    listener = _listen(settings.host, settings.port, options.or_free_port)
    _log_to_stderr()
    log.info("settings in effect: %s", "; ".join(shown_settings(settings)))
    server = uvicorn.Server(uvicorn.Config(
        APPLICATION, factory=True, http=PROTOCOL, log_config=None, access_log=False, server_header=False))
    for signal_number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(signal_number, lambda *_: None)  # the server ends in good order and raises it again
    show = Show(server, _address(listener), body)
    show.start()
    server.run(sockets=[listener])
    return show.exit_code


def _listen(host: str, port: int, or_free_port: bool) -> socket.socket:
    """A bound socket. Raises ``UsageFault`` when the address cannot be had."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # With its protocol stated: else the event loop leaves Nagle's algorithm on, and answers wait 40 ms for a receipt.
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError as error:
        if not (or_free_port and error.errno == errno.EADDRINUSE):
            raise UsageFault(f"cannot listen on {host} port {port}: {error.strerror}") from None
        print(f"Port {port} is taken; using a free one.", file=sys.stderr)
        listener.bind((host, 0))
    return listener


def _address(listener: socket.socket) -> str:
    host, port = listener.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def _log_to_stderr() -> None:
    logging.basicConfig(stream=sys.stderr, level=logging.WARNING, format="%(levelname)s %(message)s")
    logging.getLogger("graftstage").setLevel(logging.INFO)
