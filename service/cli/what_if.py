"""``--what-if NAME=VALUE``: conditions of a what-if, named as the parts of the operation are.

The values themselves are judged where those of a request are, so that both ways in refuse the same.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from decimal import Decimal, InvalidOperation

#: What the option is called in a fault.
OPTION = "what-if"
GRAMMAR = """\
conditions of --what-if, as often as wanted; all of them hold together:
  exclude-site=PLACE            a donor site gives no skin
  free-site=PLACE               a donor site is healed and free to harvest
  drop-day=DATE                 no theatre on that day
  cover-stock=CM2               temporary cover in stock
  transfusion-units=UNITS       red-cell units at hand
  session-area-limit=PERCENT    largest area of a session, %TBSA
  session-minutes-limit=MINUTES longest session
  method-unavailable=METHOD     such as island-1-6
  ratio-unavailable=RATIO       such as 1-6
  fixed-decision=ACT,PLACE[,METHOD][,DATE]
                                ACT is excise, harvest or place
PLACE is a region with its side, such as left-thigh, or one surface of it, such
as left-thigh-front. DATE is such as 2026-03-05.
"""
_SIDES, _SURFACES = ("left", "right"), ("front", "back")
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
_METHOD = re.compile(r"sheet|(meshed|island)-.+")


def read_condition(text: str) -> dict:
    """One condition as a part of the parameter ``what-if``. Raises ``ArgumentTypeError``."""
    name, _, value = text.partition("=")
    read = _READERS.get(name)
    if read is None or not value:
        raise argparse.ArgumentTypeError(f"NAME=VALUE is due, NAME one of {', '.join(_READERS)}")
    return {"name": name} | read(value)


def what_if_parameter(conditions: list[dict]) -> tuple[str, dict]:
    """The parameter, with what faults call its place."""
    return OPTION, {"name": OPTION, "part": conditions}


def _read_place(text: str) -> dict:
    return {"part": _parts_of_place(text)}


def _parts_of_place(text: str) -> list[dict]:
    """``left-thigh-front``: side, region, surface; a trunk is a region with its surface in its name."""
    words = text.split("-")
    side = [words.pop(0)] if words[0] in _SIDES else []
    surface = [words.pop()] if len(words) > 1 and words[-1] in _SURFACES else []
    named = [("region", "-".join(words)), *(("side", s) for s in side), *(("surface", s) for s in surface)]
    return [{"name": name, "valueCode": code} for name, code in named]


def _read_decision(text: str) -> dict:
    act, *words = text.split(",")
    parts = [{"name": "act", "valueCode": act}]
    for word in words:
        if _DATE.fullmatch(word):
            parts.append({"name": "date", "valueDate": word})
        elif _METHOD.fullmatch(word):
            parts.append({"name": "method", "valueCode": word})
        else:
            parts += _parts_of_place(word)
    return {"part": parts}


def _read_number(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation:
        raise argparse.ArgumentTypeError("not a number") from None


def _read_units(text: str) -> dict:
    number = _read_number(text)
    if number != number.to_integral_value():
        raise argparse.ArgumentTypeError("not a whole number")
    return {"valueInteger": int(number)}


def _read_area(text: str) -> dict:
    area = {"value": _read_number(text), "unit": "cm2", "system": "http://unitsofmeasure.org", "code": "cm2"}
    return {"valueQuantity": area}


def _read_decimal(text: str) -> dict:
    return {"valueDecimal": _read_number(text)}


_READERS: dict[str, Callable[[str], dict]] = {
    "exclude-site": _read_place,
    "free-site": _read_place,
    "drop-day": lambda text: {"valueDate": text},
    "cover-stock": _read_area,
    "transfusion-units": _read_units,
    "session-area-limit": _read_decimal,
    "session-minutes-limit": _read_decimal,
    "method-unavailable": lambda text: {"valueCode": text},
    "ratio-unavailable": lambda text: {"valueCode": text},
    "fixed-decision": _read_decision,
}
