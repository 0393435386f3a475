"""The theatre list of one session: what to have ready, in which order, for how long."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from service.domain.dressing import Quantity
from service.domain.graft import SkinClass, Thickness


@dataclass(frozen=True)
class ListStep:
    """One step in the order of work. ``text_code`` is worded by ``wording``; minutes are estimates."""

    text_code: str
    values: tuple[tuple[str, str], ...]
    minutes: Decimal | None = None


@dataclass(frozen=True)
class HarvestLine:
    """Skin to take from one site at one thickness, by harvest number where it has several.

    ``strips`` of usual size; plates that they yield when only whole squares are cut, and when
    pieces are laid together on further plates.
    """

    site_id: str
    thickness: Thickness
    areas_by_number: tuple[tuple[int, Decimal], ...]  # harvest number and cm²
    area: Quantity
    strips: int
    plates_from_whole_squares: int
    plates_with_piecing: int


@dataclass(frozen=True)
class LeftoverSkin:
    """Harvested skin of one class that no graft of the session uses, and what becomes of it.

    ``fate``: ``leftover-on-open-wound``, ``leftover-on-donor-site`` or ``leftover-stored``.
    """

    skin_class: SkinClass
    area_cm2: Decimal
    fate: str


@dataclass(frozen=True)
class LikelySurplus:
    """Skin that a session has left over in a fraction of the simulated courses, and what becomes of it.

    ``area_cm2`` in a middling such course. ``fate`` as of leftover skin, or
    ``leftover-not-harvested``: ``first_cm2`` is harvested, the rest only when the grafts lie.
    """

    courses_fraction: Decimal
    area_cm2: Decimal
    fate: str
    first_cm2: Decimal


@dataclass(frozen=True)
class StoredSkin:
    """Skin stored after an earlier session of the plan that is still fit to lay on open wound.

    ``state``: ``good``, ``declining`` or ``last-resort``, by the age of the skin.
    """

    session: int
    skin_class: SkinClass
    area_cm2: Decimal
    age_days: int
    state: str


@dataclass(frozen=True)
class TheatreRole:
    """Who is needed. ``people`` is an estimate, never a requirement."""

    text_code: str
    people: Quantity | None = None


@dataclass(frozen=True)
class Timer:
    """A time that somebody keeps during the session. [min]"""

    text_code: str
    minutes: Quantity


@dataclass(frozen=True)
class CarrierShortage:
    """Carriers of one claimed ratio needed, spares included, and left in the entered stock."""

    ratio: str
    needed_count: int
    stock_count: int


@dataclass(frozen=True)
class TheatreList:
    """Data of the list: quantities with interval, unit and source; order of work; preparation rules.

    ``carriers`` counts carriers by claimed ratio (``"1:4"``), spares apart in ``spare_carriers``.
    With ``carriers_short`` the list may not be used until the shortage is settled.
    """

    session: int
    quantities: tuple[Quantity, ...]
    carriers: tuple[tuple[str, int], ...]
    spare_carriers: int
    steps: tuple[ListStep, ...]
    preparation: tuple[str, ...]  # text codes of the preparation rules
    roles: tuple[TheatreRole, ...] = ()
    timers: tuple[Timer, ...] = ()
    carriers_short: tuple[CarrierShortage, ...] = ()
    stored: tuple[StoredSkin, ...] = ()
    harvests: tuple[HarvestLine, ...] = ()
    leftovers: tuple[LeftoverSkin, ...] = ()
    surplus: LikelySurplus | None = None
