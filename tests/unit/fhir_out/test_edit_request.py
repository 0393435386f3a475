"""A request changed before planning: what was changed is read as changed, all else as it was."""

from datetime import datetime
from decimal import Decimal

import pytest

from service.domain.body_region import Place, Region, Side, Surface
from service.domain.donor_site import DonorState
from service.fhir.edit_request import RequestEditor
from service.fhir.read_case import read_request
from tests.builders import CANONICAL, body_of, bundle, burn_wound, donor_site, needed, parameters, record

AS_OF = datetime.fromisoformat("2026-03-04T08:00:00+01:00")
THIGH = Place(Region.THIGH, Side.RIGHT, Surface.FRONT)


def read_of(request):
    return read_request(body_of(request), as_of=None, site_time_zone="UTC", canonical_base=CANONICAL)


def editor_of(request) -> RequestEditor:
    return RequestEditor(request, AS_OF, CANONICAL)


def test_a_quantity_is_changed_in_its_place_and_the_request_sent_stays_as_it_was():
    request = record(burn_wound())
    before = body_of(request)
    extent = read_of(request).record.extents[0]
    editor = editor_of(request)
    editor.set_quantity(extent.source, Decimal("3.25"), "%")
    read = read_of(editor.request)
    assert [e.percent_tbsa for e in read.record.extents] == [Decimal("3.25")]
    assert not read.faults and not read.set_aside
    assert body_of(request) == before


@pytest.mark.parametrize("state", DonorState)
@pytest.mark.parametrize("is_recorded", [True, False])
def test_a_donor_state_is_stated_or_changed(state, is_recorded):
    request = record(burn_wound(), *([donor_site("right thigh front", "healed")] if is_recorded else []))
    recorded = {s.place: s.source for s in read_of(request).record.donor_states}
    editor = editor_of(request)
    editor.state_donor(THIGH, state, recorded.get(THIGH))
    assert [(s.place, s.state) for s in read_of(editor.request).record.donor_states] == [(THIGH, state)]


def test_a_missing_weight_is_stated():
    sent = [r for r in needed() if "29463-7" not in str(r)]
    request = parameters(bundle(*sent, burn_wound()))
    assert read_of(request).missing
    editor = editor_of(request)
    editor.state_weight(Decimal(71))
    read = read_of(editor.request)
    assert not read.missing
    assert read.record.patient.weight_kg.value == 71


def test_a_parameter_is_replaced_and_removed():
    editor = editor_of(parameters(bundle(*needed(), burn_wound()), transfusion_units=("Integer", 2)))
    editor.set_parameter("transfusion-units", {"valueInteger": 6})
    assert read_of(editor.request).request.transfusion_units == 6
    editor.set_parameter("transfusion-units")
    assert read_of(editor.request).request.transfusion_units is None


def test_a_bare_bundle_becomes_parameters():
    editor = editor_of(bundle(*needed(), burn_wound()))
    editor.set_parameter("as-of", {"valueInstant": AS_OF.isoformat()})
    assert read_of(editor.request).request.as_of == AS_OF


@pytest.mark.parametrize("request_sent", [{"resourceType": "Parameters"}, {"resourceType": "Patient"}])
def test_without_a_bundle_there_is_nothing_to_change(request_sent):
    with pytest.raises(ValueError):
        editor_of(request_sent)
