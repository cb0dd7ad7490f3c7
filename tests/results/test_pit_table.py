"""The table of a stop has one line a choice, with the numbers of the Dataset."""

from pit_data import study_of

from ullage.results.pit_table import choice_name, pit_table


def test_each_choice_has_its_line_with_its_numbers():
    data = study_of("hot").choices
    lines = pit_table(data, "metric")
    assert len(lines) == 2 + len(data.choice)
    refit = next(line for line in lines if line.startswith("refit")).split()
    one = data.sel(choice="refit")
    shown = [float(text) for text in refit[1:6]]
    wanted = [float(one.stint_gauge_pressure) / 1e3, float(one.stint_feed_gauge_pressure) / 1e3]
    wanted += [float(value) / 60.0 for value in one.cavitation_exposure_by_air_model]
    for number, value in zip(shown, wanted, strict=True):
        assert abs(number - value) <= max(0.005, 0.005 * abs(value))  # three digits, or two decimals
    assert refit[6] == "-"


def test_long_name_of_a_crew_is_cut_and_columns_stay():
    data = study_of("hot").choices
    long = data.assign_coords(choice=["a name that is longer than its column", *data.choice.values[1:]])
    first = pit_table(long, "us")[2]
    assert first.startswith("a name that is longe. ")
    assert len(first) <= 66


def test_labels_are_read_as_words():
    assert choice_name("top_up") == "top up"
    assert choice_name("cool_then_open_engine_off") == "cool, engine off"
    assert choice_name("Quick look") == "Quick look"
