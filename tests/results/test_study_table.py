import numpy as np

from study_data import study
from ullage.results.study_table import study_table
from ullage.results.study_words import study_text

BORES = {"feed_line.bore": [0.0159, 0.0222, 0.0254]}


def test_each_member_has_a_line_with_its_figures_in_the_chosen_units():
    figures = {"peak_oil_temperature": [380.0, 381.0, 409.0], "lowest_feed_gauge_pressure": [-6894.757, 0.0, 6894.757]}
    lines = study_table(study(BORES, figures, method="grid"), "us")
    assert lines[0].split() == ["feed", "line", "bore", "oil", "feed", "tank", "full", "gas", "lifts"]
    assert lines[1].split() == ["degF", "psi", "psi", "%", "min"]
    assert [line.split()[2:4] for line in lines[2:5]] == [["224", "-1"], ["226", "0"], ["277", "1"]]
    assert lines[2].startswith("0.626 in")
    assert [line.endswith("*") for line in lines[2:5]] == [False, False, True]  # 409 K is too hot
    assert lines[5] == "* not free of what is named below"


def test_a_member_that_failed_has_no_figures():
    data = study(BORES, status=["done", "the reservoir has run out of oil", "done"], method="table")
    assert study_table(data, "metric")[3].split() == ["22.2", "mm", *["-"] * 6, "*"]


def test_lines_stay_on_the_screen_and_long_names_are_cut():
    inputs = {"steering_gear.outside_conductance": np.linspace(3.0, 12.0, 5), "cap.kind": np.array(["sealed"] * 5)}
    axes = [{"keys": [*inputs]}]
    for line in study_table(study(inputs, method="table", axes=axes), "metric"):
        assert len(line) <= 66


def test_a_small_grid_is_shown_as_a_table_and_a_sample_is_not():
    assert "feed line bore" in study_text(study(BORES, method="grid"), "us").split("lowest, middle")[1]
    assert study_table(study(BORES, method="grid"), "us")[0] not in study_text(study(BORES, method="sobol"), "us")
