"""What callers really send as media types, and what they get."""

import pytest

from service.api.media_types import JSON_FORMS, TEXT, choose_form, require_json_body
from service.api.transport_faults import TransportFault
from service.fhir.faults import fault_catalogue

OFFERED = (*JSON_FORMS, TEXT)


@pytest.mark.parametrize("content_type", [
    "application/fhir+json",
    "application/fhir+json; charset=utf-8",
    "application/fhir+json;fhirVersion=4.0",
    "application/fhir+json; fhirVersion=\"4.0\"",
    "Application/JSON; charset=UTF-8",
    "text/json",
    "application/json; charset*=us-ascii'en'utf-8",
])
def test_a_body_declared_as_json_is_read(content_type):
    require_json_body(content_type, None)
    require_json_body(content_type, "identity")
    require_json_body(content_type, "gzip")


@pytest.mark.parametrize(("content_type", "encoding", "error_id"), [
    (None, None, "media-type-not-supported"),
    ("", None, "media-type-not-supported"),
    ("application/fhir+xml", None, "media-type-not-supported"),
    ("application/json-patch+json", None, "media-type-not-supported"),
    ("text/plain", None, "media-type-not-supported"),
    ("multipart/form-data; boundary=x", None, "media-type-not-supported"),
    ("application/fhir+json; fhirVersion=5.0", None, "media-type-not-supported"),
    ("application/fhir+json; fhirVersion=4.3", None, "media-type-not-supported"),
    ("application/json; charset=iso-8859-1", None, "media-type-not-supported"),
    ("application/fhir+json", "deflate", "encoding-not-supported"),
])
def test_another_body_is_refused_with_415(content_type, encoding, error_id):
    with pytest.raises(TransportFault) as refused:
        require_json_body(content_type, encoding)
    assert refused.value.error_id == error_id
    assert fault_catalogue()[error_id].http_status == 415


@pytest.mark.parametrize(("accept", "format_word", "form"), [
    (None, None, "application/fhir+json"),
    ("*/*", None, "application/fhir+json"),
    ("application/json", None, "application/json"),
    ("text/json", None, "text/json"),
    ("application/*", None, "application/fhir+json"),
    ("application/fhir+json, */*; q=0.1", None, "application/fhir+json"),
    ("application/json, text/plain, */*", None, "application/json"),
    ("application/json;q=0.5, application/fhir+json", None, "application/fhir+json"),
    ("application/fhir+json;q=0, application/json", None, "application/json"),
    ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", None, "application/fhir+json"),
    ("text/plain", None, "text/plain"),
    ("application/fhir+json; fhirVersion=4.0", None, "application/fhir+json"),
    ("application/fhir+xml", "json", "application/fhir+json"),
    ("application/fhir+xml", "application/fhir json", "application/fhir+json"),
    (None, "application/json", "application/json"),
    (None, "text", "text/plain"),
])
def test_the_favourite_form_is_chosen(accept, format_word, form):
    assert choose_form(accept, format_word, OFFERED) == form


@pytest.mark.parametrize(("accept", "format_word"), [
    ("application/fhir+xml", None),
    ("text/html", None),
    ("application/fhir+json; fhirVersion=3.0", None),
    ("application/fhir+json;q=0", None),
    ("application/json;q=none", None),
    ("application/fhir+json", "xml"),
])
def test_an_unwritable_form_is_refused_with_406(accept, format_word):
    with pytest.raises(TransportFault) as refused:
        choose_form(accept, format_word, OFFERED)
    assert fault_catalogue()[refused.value.error_id].http_status == 406
