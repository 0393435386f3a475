"""Numbers as people type them into a form."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

#: ``1,869`` or ``1.869``: a thousand to some readers and less than two to others.
_GROUPED = re.compile(r"[1-9]\d{0,2}(?:[.,]\d{3})+")


class NumberFault(ValueError):
    """Not a number that can be read in one way only; ``code`` is ``not-a-number`` or ``grouped-thousands``."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


def read_typed_number(text: str) -> Decimal:
    """A finite number; a comma is read as a decimal point, for that is how many people write it.

    Raises ``NumberFault`` for what is none, and for three digits after a single separator: an area copied from the
    page as ``1,869`` must not become 1.9 cm².
    """
    text = text.strip()
    if _GROUPED.fullmatch(text):
        raise NumberFault("grouped-thousands")
    try:
        number = Decimal(text.replace(",", "."))
    except InvalidOperation:
        raise NumberFault("not-a-number") from None
    if not number.is_finite():
        raise NumberFault("not-a-number")
    return number
