import numpy as np
import pytest

from study_data import study
from ullage.results.study_forbidden import forbidden, free

CASES = {
    "too hot": {"peak_oil_temperature": 408.2},
    "cap lifts": {"relief_openings": 1.0},
    "tank full": {"highest_oil_level": 0.96},
    "below rating": {"lowest_rating_margin": -1.0},
    "near vacuum": {"lowest_vapour_margin": 2.4e4},
    "much gas": {"cavitation_exposure": 901.0},
    "pump starves": {"time_chambers_unfilled": 0.5},
    "over a rating": {"lowest_seal_margin": -1.0},
}


def judged(data):
    return {each.name: each.members.tolist() for each in forbidden(data, "us")}


@pytest.mark.parametrize("name", CASES)
def test_each_forbidden_thing_is_found_by_its_own_figure_and_no_other(name):
    changed = {figure: [QUIET_OF.get(figure, 0.0), value] for figure, value in CASES[name].items()}
    found = judged(study({"reservoir.fill": [0.7, 0.8]}, changed))
    assert found.pop(name) == [False, True]
    assert not np.any(list(found.values()))


QUIET_OF = {
    "peak_oil_temperature": 408.1,  # just under 135 degC
    "highest_oil_level": 0.94,
    "lowest_rating_margin": 0.0,
    "lowest_vapour_margin": 2.5e4,
    "cavitation_exposure": 900.0,  # a quarter of the time that the pump turns
    "lowest_seal_margin": 0.0,
}


def test_lost_oil_counts_as_a_full_tank():
    assert judged(study({"reservoir.fill": [0.7]}, {"oil_lost": 0.01}))["tank full"] == [True]


def test_a_member_that_was_not_finished_is_that_and_nothing_else():
    data = study({"reservoir.fill": [0.7, 0.8]}, {"relief_openings": 5.0}, status=["done", "the reservoir has run out"])
    data.relief_openings[1] = 9.0
    found = judged(data)
    assert found["cap lifts"] == [True, False]
    assert found["not finished"] == [False, True]
    assert free(data, "us").tolist() == [False, False]


def test_a_pump_that_never_turned_has_no_lowest_margin_and_is_not_below_it():
    data = study({"reservoir.fill": [0.7]}, {"lowest_rating_margin": np.nan})
    assert free(data, "metric").tolist() == [True]


def test_numbers_are_written_in_the_chosen_units():
    data = study({"reservoir.fill": [0.7]})
    assert "275 degF" in forbidden(data, "us")[0].number
    assert "135 degC" in forbidden(data, "metric")[0].number
    numbers = {each.name: each.number for each in forbidden(data, "us")}
    assert numbers["over a rating"] == "tank 30 psi, seal 25 psi"
    assert numbers["near vacuum"] == "feed within 3.63 psi of full vacuum or boiling"
    assert numbers["much gas"] == "25 % of the time, or 20 % gas in the pump"
