"""The screen of a stop says what choices cost, in a crew's words, and never gives leave."""

import json
import re

import numpy as np
import pytest
from pit_data import study_of

from ullage.results.pit_words import card_sentences, opening_matters, pit_sentences, pit_text

PERMISSIONS = re.compile(r"\b(safe|permitted|allowed|go ahead|may open|can open|ok to)\b", re.IGNORECASE)


def sentences(name, units="metric"):
    return " ".join(pit_sentences(study_of(name).choices, units))


def changed(data, name, label, value):
    """Return choices with one figure of one of them changed."""
    other = data.copy(deep=True)
    if name == "status":
        other[name] = other[name].astype(object)
    other[name].loc[{"choice": label}] = value
    return other


@pytest.mark.parametrize("name", ["hot", "vented", "cold"])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_screen_fits_a_phone_and_gives_no_leave(name, units):
    text = pit_text(study_of(name, units), units)
    assert [line for line in text.splitlines() if len(line) > 66] == []
    assert not PERMISSIONS.search(text)
    assert "nan" not in text.lower()
    assert ("psi" in text) == (units == "us")
    assert ("kPa" in text) == (units == "metric")


def test_hot_tank_is_told_what_opening_spends_and_what_comes_back():
    data, text = study_of("hot").choices, sentences("hot")
    spent = float(data.gauge_pressure_at_stop) / 1e3
    assert f"spends {spent:.3g} kPa at once" in text
    refit = data.sel(choice="refit")
    assert f"the tank has {float(refit.stint_gauge_pressure) / 1e3:.3g} kPa gauge on average" in text
    assert "heat after the refit" in text
    assert "never raw shop air" in text


def test_cooling_is_told_both_ways():
    text = sentences("hot")
    idling, off = study_of("hot").choices.cooling_time.values[:2]
    assert "idling with the fan on" in text
    assert "engine off" in text
    assert idling < off


def test_cooling_that_does_not_get_there_says_how_far_it_gets():
    data = study_of("hot").choices.copy(deep=True)
    data["cooling_time"].loc[{"way": "idling"}] = np.nan
    data["coolest_oil"].loc[{"way": "idling"}] = 330.0
    text = " ".join(pit_sentences(data, "metric"))
    assert "longer than 6 h idling" in text
    assert "no cooler than 56.9 degC" in text


@pytest.mark.parametrize(
    ("name", "why"), [("vented", "The tank breathes"), ("cold", "no pressure to spend as the stop begins")]
)
def test_what_costs_nothing_is_said_so_without_leave(name, why):
    assert not opening_matters(study_of(name).choices)
    text = sentences(name)
    assert why in text
    assert "no permission" in text
    assert "Refitted after" not in text
    assert why in " ".join(card_sentences(study_of(name).choices, "us"))


def test_opening_matters_where_the_feed_pressure_of_the_stint_differs():
    data = study_of("cold").choices
    assert opening_matters(study_of("hot").choices)
    feed = data.stint_feed_gauge_pressure_by_air_model.copy()
    feed.loc[{"choice": "refit", "air_model": "frozen"}] -= 5e3  # more than half a psi
    assert opening_matters(data.assign(stint_feed_gauge_pressure_by_air_model=feed))


def test_a_refit_that_takes_longer_than_the_stop_or_fails_is_never_called_harmless():
    data = study_of("hot").choices
    assert opening_matters(changed(data, "finish_delay", "refit", 120.0))
    cold = study_of("cold").choices
    feed = cold.stint_feed_gauge_pressure_by_air_model.copy()
    feed.loc[{"choice": "refit"}] = np.nan
    assert opening_matters(cold.assign(stint_feed_gauge_pressure_by_air_model=feed))


def test_parts_far_above_the_whole_are_not_told():
    data = changed(study_of("hot").choices, "returned_by_heat", "refit", 2e6)
    assert "heat after the refit" not in " ".join(pit_sentences(data, "metric"))


def test_parts_of_what_returns_are_told_if_they_are_worth_a_line():
    data = study_of("hot").choices
    for name, value, words in (
        ("returned_from_oil", 9e3, "the oil gives back 9 kPa"),
        ("returned_from_oil", -9e3, "the oil drinks takes 9 kPa"),
        ("returned_through_cap", 9e3, "came in through the cap 9 kPa"),
        ("returned_through_cap", -9e3, "the cap let out takes 9 kPa"),
    ):
        assert words in " ".join(pit_sentences(changed(data, name, "refit", value), "metric"))


def test_lost_oil_and_a_race_that_stops_are_told_by_name():
    data = study_of("hot").choices
    assert "Left off: 1.2 kg more oil goes over the side." in " ".join(
        pit_sentences(changed(data, "oil_lost", "left_off", 1.2), "metric")
    )
    stopped = " ".join(pit_sentences(changed(data, "status", "refit", "the oil is gone"), "metric"))
    assert "Refit: the race cannot be finished: the oil is gone." in stopped
    assert "Refitted after" not in stopped


def test_what_cannot_be_had_is_told_with_its_reason():
    left_out = json.loads(study_of("vented").choices.attrs["left_out"])
    assert f"Not shown: recharge: {left_out['recharge']}." in sentences("vented")


def test_hot_oil_without_pressure_is_not_cold_oil():
    assert "a gauge at zero does not mean cold oil" in sentences("vented")
