"""Settings come from the environment; a name or value that cannot be meant is refused."""

import pytest

from service.settings import EXAMPLE_BASE, SettingsFault, load_settings


@pytest.fixture
def environment(monkeypatch):
    def put(**values: str) -> None:
        for name, value in values.items():
            monkeypatch.setenv(f"GRAFTSTAGE_{name}", value)
    return put


def test_without_settings_the_service_stays_on_loopback_and_warns(environment):
    settings = load_settings()
    assert (settings.host, settings.port) == ("127.0.0.1", 8000)
    assert any(EXAMPLE_BASE in warning for warning in settings.warnings)
    assert len(settings.warnings) == 2


def test_a_deployment_that_names_itself_gets_no_warning(environment):
    environment(CANONICAL_BASE="https://burns.example.org/fhir", TIME_ZONE="Europe/Vienna")
    assert load_settings().warnings == ()


@pytest.mark.parametrize(("name", "value"), [
    ("PORT", "http"), ("PORT", "70000"), ("CANONICAL_BASE", "burns.example.org"),
    ("CANONICAL_BASE", "https://burns.example.org/fhir/"), ("TIME_ZONE", "Vienna"),
    ("TIME_ZONE", "../../etc/passwd"), ("MAX_BODY_BYTES", "-1"), ("CORS_ORIGINS", "not-a-list"),
])
def test_an_unusable_value_is_named_but_not_repeated(environment, name, value):
    environment(**{name: value})
    with pytest.raises(SettingsFault) as fault:
        load_settings()
    assert f"GRAFTSTAGE_{name}" in str(fault.value)
    assert value not in str(fault.value)


def test_a_misspelt_name_is_refused(environment):
    environment(TIMEZONE="Europe/Vienna")
    with pytest.raises(SettingsFault, match="GRAFTSTAGE_TIMEZONE"):
        load_settings()


def test_settings_cannot_be_changed_later():
    with pytest.raises(Exception, match="frozen"):
        load_settings().port = 9
