import math

import numpy as np
import pytest

from stop_support import PLANNED, stop_choices, wordy
from ullage.report.choice_styles import (
    figure_of,
    labels_of,
    planned_stop,
    running_mean,
    short_name,
    standing,
    styles_of,
    waits,
)

UNEVEN = np.sort(np.random.default_rng(3).uniform(0.0, 1000.0, 400))


def test_mean_of_a_constant_is_the_constant_and_gaps_stay():
    values = np.where((UNEVEN > 300.0) & (UNEVEN < 450.0), np.nan, 7.0)
    mean = running_mean(UNEVEN, values, 60.0)
    assert np.array_equal(np.isnan(mean), np.isnan(values))
    # rounding of sums of 400 terms
    assert mean[np.isfinite(mean)] == pytest.approx(7.0, rel=1e-9)


def test_mean_weighs_a_value_with_its_time_not_with_its_rows():
    time = np.concatenate([np.arange(0.0, 50.0, 0.1), np.arange(50.0, 101.0, 10.0)])
    values = np.where(time < 50.0, 0.0, 1.0)
    # half of the time each; the rows at the seam and at the end stand for a part of a step of 10 s
    assert running_mean(time, values, 1000.0)[0] == pytest.approx(0.5, abs=0.05)


def test_mean_takes_out_what_swings_faster_than_the_window():
    time = np.arange(0.0, 1000.0, 1.0)
    inside = running_mean(time, np.sin(2.0 * np.pi * time / 10.0), 100.0)[100:-100]
    # a hundred and one rows hold ten swings and one row more
    assert np.abs(inside).max() < 0.011


@pytest.mark.parametrize("rows", [0, 1])
def test_mean_of_hardly_anything_is_what_is_there(rows):
    assert running_mean(np.zeros(rows), np.full(rows, 3.0), 60.0).tolist() == [3.0] * rows


def test_ten_choices_are_told_apart_by_line_and_width_alone():
    choices = wordy(stop_choices())
    styles = styles_of(choices)
    drawn = {(str(styles[label]["linestyle"]), styles[label]["linewidth"]) for label in labels_of(choices)}
    assert len(drawn) == len(choices.choice) == 10


def test_waiting_is_standing_much_longer_than_the_plan():
    choices = stop_choices()
    assert planned_stop(choices) == PLANNED
    assert [label for label in labels_of(choices) if waits(choices, label)] == [
        "cool_then_open",
        "cool_then_open_engine_off",
    ]
    unknown = choices.assign(stop_duration=choices.stop_duration.where(choices.choice != "refit"))
    assert standing(unknown, "refit") == PLANNED


def test_figure_that_is_missing_is_no_number():
    choices = stop_choices()
    assert math.isnan(figure_of(choices, "nothing", "shut"))
    assert math.isnan(figure_of(choices, "stop_duration", "nobody"))


def test_names_are_short_and_drawable():
    assert short_name("top_up") == "top up"
    assert len(short_name("a_name_that_is_much_too_long")) <= 16
    assert short_name("测") == "\N{WHITE SQUARE}"
