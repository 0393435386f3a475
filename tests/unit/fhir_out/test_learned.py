"""What was learnt from the patient goes out as a forecast, with what it was learnt from."""

from tests.planned_samples import reply_to


def forecasts(sample):
    reply = reply_to(sample)
    resources = [entry["resource"] for entry in reply.resource["entry"]]
    return [one for one in resources if one["resourceType"] == "RiskAssessment"
            and one["code"]["coding"][0]["code"].startswith("patient-")]


def test_takes_of_each_method_are_told_with_prior_data_and_posterior():
    meshed, islands = forecasts("adult-60-percent-after-session-2-poor-take")
    assert meshed["code"]["coding"][0]["code"] == "patient-take-forecast"
    assert meshed["identifier"] != islands["identifier"]
    (prediction,) = islands["prediction"]
    assert "Take of islands in this patient" in prediction["outcome"]["text"]
    assert "prior" in prediction["outcome"]["text"] and "1 reading" in prediction["rationale"]
    assert islands["basis"] and "probabilityDecimal" not in prediction


def test_a_record_without_readings_says_nothing():
    assert forecasts("adult-60-percent-first-plan") == []
