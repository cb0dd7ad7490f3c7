import pytest

from ullage.results.air_words import air_sentences, air_table

FIGURES = {
    "status": "done",
    "time_turning": 6000.0,
    "cavitation_exposure": 600.0,
    "highest_inlet_void_fraction": 0.01,
    "highest_pump_void_fraction": 0.02,
    "lowest_sight_glass_transmittance": 0.8,
    "time_starved": 0.0,
    "time_chambers_unfilled": 0.0,
    "time_below_rating": 0.0,
    "time_below_bubble_point": 0.0,
    "lowest_feed_gauge_pressure": -5e3,
    "lowest_rating_margin": 1e3,
    "highest_headspace_gauge_pressure": 5e4,
    "finish": {"gauge_pressure": 3e4},
}
MODELS = ("frozen", "kinetic", "equilibrium")


def bracket(**changes):
    """Return the figures of three models, of which some have three values."""
    return {
        model: {**FIGURES, **{name: values[place] for name, values in changes.items()}}
        for place, model in enumerate(MODELS)
    }


def said(found, asked="kinetic"):
    return " ".join(air_sentences(found, asked))


def test_gas_of_the_three_models_stands_side_by_side():
    assert air_table(bracket(cavitation_exposure=(60.0, 600.0, 4500.0)), "us") == [
        "air in and out of oil   never         in its time   at once",
        "gas at the pump         60 s          10 min        75 min",
    ]


def test_pressure_has_a_line_once_the_models_differ_by_half_a_psi():
    assert len(air_table(bracket(lowest_feed_gauge_pressure=(-5e3, -5e3, -8.4e3)), "us")) == 2
    table = air_table(bracket(lowest_feed_gauge_pressure=(-8.6e3, -5e3, -5e3)), "us")
    assert table[2] == "lowest feed             2.54 inHg vac 1.48 inHg vac 1.48 inHg vac"
    finish = tuple({"gauge_pressure": value} for value in (1e5, 3e4, 3e4))
    table = air_table(bracket(highest_headspace_gauge_pressure=(1.1e5, 5e4, 5e4), finish=finish), "metric")
    assert table[2:] == [
        "air space at most       110 kPa       50 kPa        50 kPa",
        "air space at the finish 100 kPa       30 kPa        30 kPa",
    ]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_widest_table_fits_a_phone(units):
    wide = bracket(
        cavitation_exposure=(7199.0, 6e5, 6e5),
        lowest_feed_gauge_pressure=(-96.3e3, -66.66e3, -33.3e3),
        highest_headspace_gauge_pressure=(0.0, 1.2e5, 3.9e5),
        finish=tuple({"gauge_pressure": value} for value in (-55.5e3, -22.2e3, 2e5)),
    )
    table = air_table(wide, units)
    assert len(table) == 5
    assert max(map(len, table)) <= 66
    assert "".join(table).isascii()
    assert all(line[place - 1] == " " for line in table for place in (24, 38, 52))  # columns do not touch


@pytest.mark.parametrize(
    ("gas", "words"),
    [
        ((0.0, 20.0, 59.0), "Hardly any gas at the pump under three assumptions"),
        ((500.0, 600.0, 624.0), "Gas at the pump is nearly the same under three assumptions"),
        (
            (400.0, 600.0, 510.0),
            "differs by a factor of 1.5 over three assumptions on how fast air moves, none of them a limit.",
        ),
        ((200.0, 600.0, 601.0), "differs by a factor of 3 over"),
        ((0.0, 60.0, 240.0), "differs by a factor of 4 over"),  # against one per cent of the time
    ],
)
def test_answer_is_solid_uncertain_or_none_as_the_three_agree(gas, words):
    text = said(bracket(cavitation_exposure=gas))
    assert words in text
    assert ("cannot tell" in text) == (max(gas) > 3.0 * max(60.0, min(gas)))


def test_spread_counts_the_race_as_asked_where_it_lies_outside_the_other_two():
    assert "by a factor of 5 over" in said(bracket(cavitation_exposure=(100.0, 500.0, 120.0)))
    assert "lies between" not in said(bracket(cavitation_exposure=(100.0, 500.0, 120.0)))


def test_model_that_could_not_finish_is_said_and_left_out():
    found = bracket(
        cavitation_exposure=(600.0, 600.0, 1.0), status=("done", "done", "the reservoir has run out of oil")
    )
    assert air_table(found, "us")[1].split() == ["gas", "at", "the", "pump", "10", "min", "10", "min", "-"]
    text = "If air moves at once the race cannot be finished: the reservoir has run out of oil. How far the gas numbers"
    assert said(found).startswith(text)
    assert "assumptions" not in said(found)


def test_model_of_the_lights_is_said_unless_it_is_the_usual_one():
    assert "The lights are for air that moves at once, as the scenario asks." in said(bracket(), "equilibrium")
    assert "The lights" not in said(bracket())


def test_pump_that_never_turns_has_no_line_of_gas():
    still = bracket(
        time_turning=(0.0,) * 3, cavitation_exposure=(0.0,) * 3, lowest_feed_gauge_pressure=(None, None, None)
    )
    assert air_table(still, "us") == []
