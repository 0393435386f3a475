"""Random requests built from the tables that the reader reads by: mostly sound, always in some place not."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from service.domain.body_region import all_places
from service.domain.graft import GraftMethod
from service.fhir.canonical import DEFAULT_CANONICAL_BASE
from service.fhir.codes import load_code_map
from service.fhir.quantities import units
from service.fhir.read_parameters import ParameterRule, rules_below
from service.fhir.tables import Profile, ValueRule, component_rules, input_profiles
from tests import builders as make

INJURY = date.fromisoformat(make.INJURY)
CODE_MAP = load_code_map(DEFAULT_CANONICAL_BASE)
PLACES = [f"{p.side or ''} {p.region} {p.surface if len(p.facts.surfaces) > 1 else ''}" for p in all_places()]
ODD_TEXTS = ["", " ", "banana", "2026", "2026-02-30", "\u202e", "../..", "x" * 70, "thigh", "1e3"]
ODD_NUMBERS = [Decimal("-1"), Decimal("1e-12"), Decimal("0"), Decimal("1e9"), Decimal("0.5"), Decimal("12.50"), True]
ODD_STATUS = ["amended", "preliminary", "entered-in-error", "cancelled", "unknown", "banana"]
STEPS = 200
#: Ranges by kind of quantity in which a record hangs together.
USUAL = {
    "percent": (Decimal(30), Decimal(90)), "area": (Decimal(20), Decimal(300)), "mass": (Decimal(60), Decimal(90)),
    "length": (Decimal(160), Decimal(185)), "body-surface": (Decimal("1.7"), Decimal("2.1")),
    "mass-concentration": (Decimal(3), Decimal(5)), "temperature": (Decimal(35), Decimal(38)),
    "thickness": (Decimal("0.2"), Decimal("0.4")),
}
METHODS = [str(method).partition("-") for method in GraftMethod]


def rarely(draw: DrawFn, percent: int) -> bool:
    """True in so many of a hundred draws; the simplest draw is the usual case."""
    return draw(st.integers(0, 99)) >= 100 - percent


def day(draw: DrawFn) -> Any:
    """A day from before the injury to after the as-of moment, an instant, or nonsense."""
    if rarely(draw, 2):
        return draw(st.sampled_from([*ODD_TEXTS, 7, None]))
    after = -3 if rarely(draw, 3) else draw(st.integers(0, 2))
    seen = (INJURY + timedelta(days=40 if rarely(draw, 2) else after)).isoformat()
    return f"{seen}T0{draw(st.integers(0, 9))}:30:00+01:00" if rarely(draw, 20) else seen


def number(draw: DrawFn, low: Decimal, high: Decimal) -> Any:
    if rarely(draw, 3):
        return draw(st.sampled_from(ODD_NUMBERS))
    return (low + (high - low) * draw(st.integers(0, STEPS)) / STEPS).quantize(Decimal("0.01"))


def quantity(draw: DrawFn, rule: ValueRule) -> dict:
    kind = draw(st.sampled_from(sorted(units()))) if rarely(draw, 2) else rule.quantity_kind
    span = rule.high - rule.low
    low, high = (rule.low, rule.high) if rarely(draw, 10) else USUAL.get(kind, (rule.low, rule.low + span / 20))
    known = sorted(units()[kind])
    code = draw(st.sampled_from(known)) if rarely(draw, 5) else rule.unit
    return {"value": number(draw, low, high), "unit": code, "system": make.UCUM, "code": code}


def concept(draw: DrawFn, kind: str) -> dict:
    if rarely(draw, 2):
        return make.local(draw(st.sampled_from(ODD_TEXTS)))
    return make.local(draw(st.sampled_from([row.code for row in CODE_MAP.rows_of_kind(kind) if row.is_local])))


def valued(draw: DrawFn, rule: ValueRule) -> dict:
    """``value[x]`` as the rule says it, seldom as another type or not at all."""
    if rarely(draw, 2):
        return draw(st.sampled_from([{}, {"valueString": "x"}, {"dataAbsentReason": {"text": "x"}}]))
    if rule.value_type == "Quantity":
        return {"valueQuantity": quantity(draw, rule)}
    if rule.value_type == "CodeableConcept":
        return {"valueCodeableConcept": concept(draw, rule.value_set)}
    if rule.value_type == "boolean":
        return {"valueBoolean": draw(st.booleans())}
    return {"valueDateTime": day(draw)}


def sited(draw: DrawFn, profile: Profile) -> tuple[dict, list[dict]]:
    """Body site, and the surface as a component."""
    if profile.place in ("none", "part"):
        return {}, []
    words = make.site_codes(draw(st.sampled_from(PLACES)))
    surface = [word for word in words if word in ("front", "back")]
    region = [word for word in words if word not in surface]
    if rarely(draw, 2):
        region = region[:1]
    parts = [make.component("surface", valueCodeableConcept=make.local(word)) for word in surface]
    return {"bodySite": make.local(*region)}, parts


def observation(draw: DrawFn, profile: Profile, procedures: list[dict]) -> dict:
    site, parts = sited(draw, profile)
    for code in profile.components:
        needed = code == "burn-depth"
        if code != "surface" and (needed or rarely(draw, 10)):
            parts.append(make.component(code, **valued(draw, component_rules()[code])))
    resource = make.observation(profile.code, seen=day(draw), **site, **valued(draw, profile))
    if parts:
        resource["component"] = parts
    fitting = [one for one in procedures if code_of(one) in profile.part_of]
    if fitting:
        chosen = draw(st.sampled_from(procedures if rarely(draw, 5) else fitting))
        resource["partOf"] = [{"reference": f"Procedure/{chosen['id']}"}]
    if rarely(draw, 4):
        resource["status"] = draw(st.sampled_from(ODD_STATUS))
    return resource


def code_of(resource: dict) -> str:
    return resource["code"]["coding"][0]["code"]


def deed(draw: DrawFn, profile: Profile, number_: int) -> list[dict]:
    """A Procedure with the numbers that it needs, or without one of them."""
    name = f"d{number_}"
    place = draw(st.sampled_from(PLACES))
    done = str(day(draw))
    resources = make.deed(profile.code, place, done, name, draw(st.integers(1, 400)))
    if profile.code == "skin-harvest":
        resources = make.harvest(place, done, name, draw(st.integers(1, 400)), "0.25")
    if profile.code == "graft-placement":
        method, _, ratio = draw(st.sampled_from(METHODS))
        resources = make.placement(place, done, name, draw(st.integers(1, 400)), method, ratio or None)
    return resources[:-1] if rarely(draw, 4) else resources


def value_of(draw: DrawFn, rule: ParameterRule) -> dict:
    low, high = rule.low if rule.low is not None else Decimal(0), rule.high if rule.high is not None else Decimal(50)
    texts = [row.name for row in CODE_MAP.rows_of_kind(rule.value_set)] or ["collection", "Etc/UTC", "smallest-piece"]
    known: dict[str, Any] = {
        "boolean": draw(st.booleans()), "integer": draw(st.integers(int(low) - 1, int(high))),
        "decimal": number(draw, low, high), "date": day(draw), "instant": make.AS_OF,
        "Quantity": {"value": number(draw, Decimal(0), Decimal(3000)), "system": make.UCUM, "code": "cm2"},
    }
    value = known.get(rule.type) if rule.type in known else draw(st.sampled_from(texts))
    return {f"value{rule.type[0].upper()}{rule.type[1:]}": value}


def parameter(draw: DrawFn) -> dict:
    rules = {name: rule for name, rule in rules_below("").items() if name not in ("bundle", "as-of")}
    return stated(draw, draw(st.sampled_from(sorted(rules))), rules)


def stated(draw: DrawFn, name: str, rules: dict[str, ParameterRule]) -> dict:
    rule = rules[name]
    if rule.type:
        return {"name": name} | value_of(draw, rule)
    parts = rules_below(rule.path)
    kept = [part for part, of_part in parts.items() if of_part.min or rarely(draw, 50)]
    return {"name": name, "part": [stated(draw, part, parts) for part in kept]}


@st.composite
def requests(draw: DrawFn) -> bytes:
    """Parameters around a Bundle of what every record needs and a few resources of any profile."""
    profiles = list(input_profiles().values())
    burn_extent = input_profiles()["burn-extent-of-region"]
    resources = [one for one in make.needed() if not rarely(draw, 3)]
    if rarely(draw, 12):
        birth = draw(st.sampled_from(["2025-11-02", "2024", "2019-07", "1999-12-31", "1931-04-01", "1890-01-01"]))
        resources = [make.patient(birth_date=birth) if r["resourceType"] == "Patient" else r for r in resources]
    deeds = [p for p in profiles if p.resource == "Procedure"]
    done = [deed(draw, draw(st.sampled_from(deeds)), n) for n in range(draw(st.integers(0, 3)))]
    resources += [one for group in done for one in group]
    procedures = [group[0] for group in done]
    for _ in range(draw(st.integers(1, 5))):
        resources.append(observation(draw, burn_extent, procedures))
    for profile in draw(st.lists(st.sampled_from(profiles), max_size=4)):
        if profile.resource == "Observation":
            resources.append(observation(draw, profile, procedures))
        elif profile.resource == "Condition":
            resources.append(make.burn(str(day(draw)), code=make.local(profile.code)))
        elif profile.resource == "AllergyIntolerance":
            resources.append(make.allergy(profile.code))
    if rarely(draw, 5):
        resources.append({name: value for name, value in draw(st.sampled_from(resources)).items() if name != "id"})
    request = make.parameters(make.bundle(*resources), seconds=("Decimal", Decimal("0.05")))
    request["parameter"] += [parameter(draw) for _ in range(draw(st.integers(0, 2)))]
    return make.body_of(request)
