"""Scopes of version 1 and 2: what is enough, and what says nothing."""

import pytest

from service.tokens.scopes import Need, missing_needs

NEED = Need("Observation", "rs")


def is_enough(scope: object, **claims: object) -> bool:
    return missing_needs((NEED,), {"scope": scope, **claims}) == ()


@pytest.mark.parametrize("scope", [
    "system/*.rs", "system/*.read", "system/*.*", "system/*.cruds", "system/Observation.rs", "system/Observation.read",
    "system/Observation.*", "openid system/Patient.rs system/Observation.cruds"])
def test_enough(scope):
    assert is_enough(scope)


@pytest.mark.parametrize("scope", [
    "", None, 7, ["system/*.rs"], "system/*.r", "system/*.s", "system/*.write", "system/*.cud", "system/Patient.rs",
    "system/*.sr", "system/*.", "system/*.rss", "system/*.readwrite", "SYSTEM/*.rs", "system/observation.rs",
    "system/Observation.rs?category=laboratory", "xsystem/*.rs", "system/*.rs,system/*.read",
    "system/Observation.rs\n"])
def test_not_enough(scope):
    assert not is_enough(scope)


def test_reading_and_searching_may_be_allowed_apart_only_when_needed_apart():
    assert missing_needs((Need("Patient", "r"),), {"scope": "system/Patient.r"}) == ()
    assert missing_needs((NEED, Need("Patient", "r")), {"scope": "system/Patient.r"}) == (NEED,)


@pytest.mark.parametrize(("context", "claim"), [("patient", "patient"), ("user", "fhirUser")])
def test_146_a_scope_of_a_context_counts_only_when_the_token_states_the_context(context, claim):
    scope = f"{context}/*.rs"
    assert is_enough(scope, **{claim: "p1"})
    for stated in ({}, {claim: ""}, {claim: None}, {claim: ["p1"]}):
        assert not is_enough(scope, **stated)


def test_the_narrowest_scope_of_a_need():
    assert NEED.scope == "system/Observation.rs" and is_enough(NEED.scope)
