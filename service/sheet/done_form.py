"""What was noted on a theatre list, read from the fields of its form."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal, InvalidOperation

from service.domain.body_region import Place, all_places
from service.domain.done_session import DoneAct, DoneKind, DoneSession
from service.domain.graft import GraftMethod, methods_of_place

#: After the name of a harvest field: its thickness in mm.
THICKNESS = ":mm"
_PLACES = {place.key: place for place in all_places()}


class DoneFault(ValueError):
    """A field that cannot be read: its name and a code of what is wrong, never what was entered.

    ``code``: ``field-unknown``, ``not-a-number``, ``not-positive``, ``thickness-without-area`` or ``nothing-noted``.
    """

    def __init__(self, field: str, code: str) -> None:
        super().__init__(f"{field}: {code}")
        self.field = field
        self.code = code


def read_done_form(fields: Mapping[str, str], day: date) -> DoneSession:
    """The acts that were noted; an empty field is an act that was not done.

    Parameters
    ----------
    fields : mapping of str to str
        Areas in cm² by field name as ``theatre_list_page.done_fields`` gives them; the thickness of a harvest in mm
        under the same name with ``:mm`` behind it.
    day : date
        Day of the session as it was held.

    Raises ``DoneFault`` at the first field that cannot be read, and when no act was noted at all.
    """
    noted = {name: text.strip() for name, text in fields.items() if text.strip()}
    acts = tuple(_read_act(name, noted) for name in noted if not name.endswith(THICKNESS))
    for name in noted:
        if name.endswith(THICKNESS) and name.removesuffix(THICKNESS) not in noted:
            raise DoneFault(name, "thickness-without-area")
    if not acts:
        raise DoneFault("", "nothing-noted")
    return DoneSession(day, acts)


def _read_act(name: str, noted: Mapping[str, str]) -> DoneAct:
    kind, place, how = _read_name(name)
    thickness = noted.get(f"{name}{THICKNESS}") if kind is DoneKind.HARVEST else None
    return DoneAct(
        kind, place, _read_number(name, noted[name]),
        method=GraftMethod(how) if kind is DoneKind.PLACEMENT else None,
        thickness_mm=None if thickness is None else _read_number(f"{name}{THICKNESS}", thickness))


def _read_name(name: str) -> tuple[DoneKind, Place, str]:
    kind, place_key, how = (*name.split(":"), "", "")[:3]
    try:
        read = DoneKind(kind), _PLACES[place_key], how
        if read[0] is DoneKind.PLACEMENT and GraftMethod(how) not in _any_method(read[1]):
            raise ValueError(how)
    except (ValueError, KeyError):
        raise DoneFault(name, "field-unknown") from None
    return read


def _any_method(place: Place) -> frozenset[GraftMethod]:
    return methods_of_place(place, over_joint=False)


def _read_number(name: str, text: str) -> Decimal:
    """A positive number; a comma is read as a decimal point, for that is how many people write it."""
    try:
        number = Decimal(text.replace(",", "."))
    except InvalidOperation:
        raise DoneFault(name, "not-a-number") from None
    if not number.is_finite():
        raise DoneFault(name, "not-a-number")
    if number <= 0:
        raise DoneFault(name, "not-positive")
    return number
