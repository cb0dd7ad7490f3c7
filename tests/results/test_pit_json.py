"""The figures of a stop as JSON are those of the Datasets, null where there is no number."""

import json
import math

import pytest
from pit_data import study_of

from ullage.results.pit_json import pit_json


@pytest.fixture(scope="module")
def found():
    return json.loads(pit_json(study_of("hot")))


def test_figures_by_choice_are_those_of_the_dataset(found):
    data = study_of("hot").choices
    assert list(found["choices"]) == data.choice.values.tolist()
    refit = found["choices"]["refit"]
    assert refit["stint_feed_gauge_pressure"] == float(data.stint_feed_gauge_pressure.sel(choice="refit"))
    assert refit["peak_oil_temperature"]["pump"] == float(data.peak_oil_temperature.sel(choice="refit", node="pump"))
    by_model = refit["cavitation_exposure_by_air_model"]
    assert by_model["frozen"] == float(data.cavitation_exposure_by_air_model.sel(choice="refit", air_model="frozen"))
    assert refit["status"] == "done"


def test_what_is_no_number_is_null(found):
    assert math.isnan(float(study_of("hot").choices.opened.sel(choice="shut")))
    assert found["choices"]["shut"]["opened"] is None


def test_stop_gauges_and_symptoms_are_there(found):
    study = study_of("hot")
    assert found["cooling_time"]["engine off"] == float(study.choices.cooling_time.sel(way="engine off"))
    assert found["left_out"] == {}
    assert found["changes"]["refit"]["event"][0]["action"] == "cap off"
    assert found["gauges"]["engine_speed"] == study.gauges.engine_speed.values.tolist()
    hot = study.gauges.feed_gauge_pressure.sel(condition="hot")
    assert found["gauges"]["hot"]["feed_gauge_pressure"] == hot.values.tolist()
    assert found["symptoms"]["seal leak"]["sign"] == str(study.symptoms.sign.sel(fault="seal leak").item())
    assert found["format_version"] == 1
