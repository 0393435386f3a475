"""What ends a request before or beside the reading of its body, and our own failures."""

from __future__ import annotations


class TransportFault(Exception):
    """A request ends with a row of the fault catalogue.

    ``headers`` go out with it; ``values`` fill its sentences: caps and names, never what was sent.
    """

    def __init__(self, error_id: str, headers: dict[str, str] | None = None, **values: object) -> None:
        super().__init__(error_id)
        self.error_id = error_id
        self.headers = headers or {}
        self.values = values
