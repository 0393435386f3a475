"""The parameters of the planning operation: what the caller asks for beside the record."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from service.domain.body_region import Region
from service.domain.case import KeepFor, PlanRequest, TheatreDay
from service.fhir.codes import CodeMap
from service.fhir.moments import read_moment
from service.fhir.quantities import read_number, read_quantity
from service.fhir.read_decision import read_decision
from service.fhir.read_log import ReadLog
from service.fhir.read_out_of_scope import read_graft_method
from service.fhir.read_what_if import read_what_if
from service.fhir.tables import ValueRule, read_table
from service.preferences.library import load_preferences

UTC_ZONE = ZoneInfo("Etc/UTC")
ANSWER_FORMS = ("collection", "transaction")


@dataclass(frozen=True)
class ParameterRule:
    """One parameter, or one part of one; ``part`` names a part of a part with a dot between."""

    name: str
    part: str
    type: str
    min: int
    max: str
    value_set: str
    low: Decimal | None
    high: Decimal | None
    meaning: str

    @property
    def path(self) -> str:
        return f"{self.name}.{self.part}" if self.part else self.name


@lru_cache(maxsize=64)
def rules_below(path: str) -> dict[str, ParameterRule]:
    """Rules of what stands directly in a parameter or part, by name; of all parameters for no path."""
    below = [(rule, *rule.path.rpartition(".")) for rule in parameter_rules()]
    return {name: rule for rule, parent, _, name in below if parent == path}


@lru_cache(maxsize=1)
def parameter_rules() -> tuple[ParameterRule, ...]:
    return tuple(
        ParameterRule(**row | {
            "min": int(row["min"]),
            "low": Decimal(row["low"]) if row["low"] else None,
            "high": Decimal(row["high"]) if row["high"] else None,
        })
        for row in read_table("parameters")
    )


@lru_cache(maxsize=64)
def is_time_zone(name: str) -> bool:
    """Whether a name is on the IANA list; one that is a path or a folder of it is not."""
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


class ParameterReader:
    """Reads the values of one list of parameters by the table."""

    def __init__(self, code_map: CodeMap, log: ReadLog) -> None:
        self.code_map = code_map
        self.log = log

    def read_value(self, sent: dict[str, Any], rule: ParameterRule, expression: str) -> Any:
        """A value in house terms; ``None`` with a fault when it is not what the rule says."""
        place = f"{expression}.value"
        key = f"value{rule.type[0].upper()}{rule.type[1:]}"
        if key not in sent and not (rule.type == "decimal" and "valueInteger" in sent):
            self.log.fault("parameter-value", place, allowed=rule.type)
            return None
        value = sent.get(key, sent.get("valueInteger"))
        if rule.type == "boolean":
            return self._read_boolean(value, place)
        if rule.type in ("integer", "decimal"):
            return self._read_number(value, rule, place)
        if rule.type in ("date", "instant"):
            return self._read_time(value, rule, place)
        if rule.type == "Quantity":
            area = ValueRule(rule.name, "Quantity", "area", "", "cm2", rule.low, rule.high, "", rule.meaning)
            read = read_quantity(value, area, place, self.log)
            return read.value if read else None
        return self._read_text(value, rule, place)

    def _read_boolean(self, value: Any, place: str) -> bool | None:
        if not isinstance(value, bool):
            self.log.fault("parameter-value", place, allowed="boolean")
            return None
        return value

    def _read_number(self, value: Any, rule: ParameterRule, place: str) -> Decimal | int | None:
        number = read_number(value, place, self.log)
        if number is None:
            return None
        if rule.type == "integer" and not isinstance(value, int):
            self.log.fault("parameter-value", place, allowed="integer")
            return None
        if rule.low is not None and not rule.low <= number <= rule.high:
            self.log.fault("parameter-range", place, low=rule.low, high=rule.high)
            return None
        return value if rule.type == "integer" else number

    def _read_time(self, value: Any, rule: ParameterRule, place: str) -> date | datetime | None:
        moment = read_moment(value, place, UTC_ZONE, self.log)
        if moment is None:
            return None
        if (moment.instant is not None) != (rule.type == "instant"):
            self.log.fault("parameter-value", place, allowed=rule.type)
            return None
        return moment.instant or moment.day

    def _read_text(self, value: Any, rule: ParameterRule, place: str) -> str | None:
        if not isinstance(value, str):
            self.log.fault("not-a-text", place)
            return None
        if rule.value_set:
            allowed = ANSWER_FORMS if rule.value_set == "answer-form" else {
                row.name for row in self.code_map.rows_of_kind(rule.value_set)}
            if value not in allowed:
                self.log.fault("parameter-code", place, value_set=rule.value_set)
                return None
        return value

    def read_all(
        self, sent: list[tuple[str, dict[str, Any]]], rules: dict[str, ParameterRule]
    ) -> dict[str, list[tuple[str, Any]]]:
        """Values by name, each with its FHIRPath; parts as a nested dictionary."""
        read: dict[str, list[tuple[str, Any]]] = defaultdict(list)
        for expression, parameter in sent:
            name = parameter.get("name")
            rule = rules.get(name) if isinstance(name, str) else None
            if rule is None:
                self._refuse_name(name, expression, rules)
                continue
            if rule.max == "1" and name in read:
                self.log.fault("parameter-twice", f"{expression}.name")
                continue
            value = self.read_value(parameter, rule, expression) if rule.type else self._read_parts(
                parameter, rule, expression)
            if value is not None:
                read[name].append((expression, value))
        return read

    def _refuse_name(self, name: Any, expression: str, rules: dict[str, ParameterRule]) -> None:
        if isinstance(name, str) and name.startswith("x-"):
            self.log.note("parameter-ignored", f"{expression}.name")
        else:
            self.log.fault("parameter-unknown", f"{expression}.name", allowed=", ".join(rules))

    def _read_parts(self, parameter: dict[str, Any], rule: ParameterRule, expression: str) -> dict[str, Any] | None:
        """Values of the parts by name: one, or a list of them where the table allows several."""
        parts = parameter.get("part")
        if not isinstance(parts, list) or not all(isinstance(part, dict) for part in parts):
            self.log.fault("parameter-value", f"{expression}.part", allowed="parts")
            return None
        rules = rules_below(rule.path)
        before = len(self.log.faults)
        read = self.read_all(
            [(f"{expression}.part[{index}]", part) for index, part in enumerate(parts)], rules)
        if len(self.log.faults) > before:
            return None
        for part, of_part in rules.items():
            if of_part.min and part not in read:
                self.log.fault("parameter-required", f"{expression}.part", parameter=part)
                return None
        return {
            part: values[0][1] if rules[part].max == "1" else [value for _, value in values]
            for part, values in read.items()
        }


def _check_preference(name: str, value: Decimal, expression: str, log: ReadLog) -> bool:
    try:
        load_preferences().with_overrides(((name, value),))
    except KeyError:
        log.fault("preference-unknown", f"{expression}.part")
    except ValueError:
        log.fault("preference-range", f"{expression}.part")
    else:
        return True
    return False


def _time_zone(read: dict, site_time_zone: str, log: ReadLog) -> str:
    for expression, name in read.get("time-zone", []):
        if is_time_zone(name):
            return name
        log.fault("time-zone-unknown", f"{expression}.value")
    return site_time_zone


def read_parameters(
    sent: list[tuple[str, dict[str, Any]]], *, as_of: datetime | None, now: datetime, site_time_zone: str,
    code_map: CodeMap, log: ReadLog,
) -> PlanRequest:
    """The request; what is not stated keeps the meaning of not stated.

    Parameters
    ----------
    sent : list
        FHIRPath and parameter, without the Bundle.
    as_of : datetime or None
        Moment of the answer, before the one in the request.
    now : datetime
        Moment of the answer when both are absent.
    site_time_zone : str
        IANA name, when the request does not state one.
    """
    rules = {name: rule for name, rule in rules_below("").items() if name != "bundle"}
    read = ParameterReader(code_map, log).read_all(sent, rules)

    def one(name: str) -> Any:
        return read[name][0][1] if name in read else None

    def stated(**values: Any) -> dict[str, Any]:
        return {name: value for name, value in values.items() if value is not None}

    decisions = [read_decision(parts, place, log) for place, parts in read.get("fixed-decision", [])]
    methods = frozenset(filter(None, (read_graft_method(name) for _, name in read.get("method-available", []))))
    zone = _time_zone(read, site_time_zone, log)
    return PlanRequest(
        as_of=(as_of or one("as-of") or now).astimezone(ZoneInfo(zone)),
        time_zone=zone,
        theatre_days=tuple(
            TheatreDay(parts["date"], parts.get("minutes"), parts.get("positions"))
            for _, parts in read.get("theatre-day", [])),
        keep_for=tuple(
            KeepFor(Region(parts["region"]), parts["area"]) for _, parts in read.get("keep-for", [])),
        cover_stock_cm2=one("cover-stock"),
        transfusion_units=one("transfusion-units"),
        limb_tourniquet=one("limb-tourniquet"),
        session_area_limit_percent_tbsa=one("session-area-limit"),
        session_minutes_limit=one("session-minutes-limit"),
        carrier_stock=tuple(
            (Decimal(parts["ratio"].removeprefix("1-")), parts["count"])
            for _, parts in read.get("carrier-stock", [])),
        fixed_decisions=tuple(decision for decision in decisions if decision),
        what_if=read_what_if(read, log),
        preferences=tuple(
            (parts["name"], parts["value"]) for place, parts in read.get("preference", [])
            if _check_preference(parts["name"], parts["value"], place, log)),
        **stated(
            methods_available=methods or None, task_days=one("task-days"), answer=one("answer"),
            search_seconds=one("seconds"), seed=one("seed")),
    )
