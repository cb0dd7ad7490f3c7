import json

import numpy as np
import xarray as xr

from study_data import study
from ullage.results.study_json import study_json
from ullage.results.summary import STATE_FIGURES

FILLS = np.linspace(0.7, 0.9, 101)


def told(data):
    return json.loads(study_json(data.assign_attrs(NAMES)))


NAMES = {"format_version": np.int64(1), "ullage_version": "0.1.0", "study_hash": "a", "scenario_hash": "b"}


def test_every_figure_has_its_spread():
    exposure = np.arange(101.0)[::-1]
    found = told(study({"reservoir.fill": FILLS}, {"cavitation_exposure": exposure}))
    assert set(found["figures"]) == {*STATE_FIGURES, "shaft_energy"}
    spread = found["figures"]["cavitation_exposure"]
    assert spread == {"p0": 0.0, "p5": 5.0, "p50": 50.0, "p95": 95.0, "p100": 100.0}
    assert (found["members"], found["statuses"]) == (101, {"done": 101})
    assert {name: found[name] for name in NAMES} == NAMES


def test_members_that_are_not_done_are_counted_and_left_out():
    status = np.array(["done"] * 3 + ["refused by the checks of a scenario"])
    found = told(study({"reservoir.fill": FILLS[:4]}, {"oil_lost": [1.0, 2.0, 3.0, 9.0]}, status=status))
    assert found["statuses"] == {"done": 3, "refused by the checks of a scenario": 1}
    assert found["figures"]["oil_lost"]["p100"] == 3.0


def test_a_figure_of_nobody_is_null():
    found = told(study({"reservoir.fill": FILLS[:2]}, status=np.array(["failed", "failed"])))
    assert set(found["figures"]["shaft_energy"].values()) == {None}


def test_oil_temperature_is_that_of_the_hottest_node():
    data = study({"reservoir.fill": FILLS[:3]})
    data.peak_oil_temperature[:, 2] = [371.0, 372.0, 373.0]
    spread = told(data)["figures"]["peak_oil_temperature"]
    assert (spread["p0"], spread["p50"], spread["p100"]) == (371.0, 372.0, 373.0)


def test_effects_stand_by_figure_and_input_and_those_that_could_not_be_told_are_left_out():
    one = effects_of("cavitation_exposure", "")
    none = effects_of("oil_lost", "too few members")
    found = json.loads(study_json(study({"reservoir.fill": FILLS[:2]}).assign_attrs(NAMES), [one, none]))
    assert found["effects"] == {"cavitation_exposure": {"reservoir.fill": {"main_effect": 0.25, "total_effect": 0.5}}}


def effects_of(figure, sentence):
    return xr.Dataset(
        {"main_effect": ("input", [0.25]), "total_effect": ("input", [0.5])},
        {"input": ["reservoir.fill"]},
        {"figure": figure, "sentence": sentence},
    )
