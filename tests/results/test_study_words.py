import numpy as np
import pytest
import xarray as xr

from study_data import grid, study
from support import truck
from ullage.results.batch import batch_of, march_batch, member_figures
from ullage.results.display import shown_text
from ullage.results.study_words import effect_lines, figure_text, study_text
from ullage.scenario.compile import compile_problems

FILLS, CAPS = np.linspace(0.70, 0.95, 6), np.array([5, 10, 15]) * 6894.757


def builder_grid():
    figures = {
        "highest_oil_level": lambda fill, cap: fill + 0.06 + 0.0 * cap,
        "relief_openings": lambda _fill, cap: np.where(cap < 8 * 6894.757, 4.0, 0.0),
        "cavitation_exposure": lambda fill, cap: 600.0 * fill + 0.0 * cap,
    }
    return grid({"reservoir.fill": FILLS, "cap.relief_pressure": CAPS}, figures)


def joined(text):
    return " ".join(text.split())


def test_the_screen_names_range_and_members_of_a_grid():
    text = joined(study_text(builder_grid(), "us"))
    assert "18 races done, 0 not finished" in text
    assert "fullest tank: 76 %, 86 %, 101 %" in text
    assert "cap lifts: 0, 0, 4 lowest in 12 races highest in 6 races" in text
    assert "hottest oil: 188 degF in all" in text


def test_a_single_extreme_is_named_with_its_values():
    data = builder_grid()
    data.cavitation_exposure[7] = 9000.0
    assert "highest member 7: cold fill mark 80 %, cap rating 10 psi" in joined(study_text(data, "us"))


def test_the_free_block_of_a_grid_is_told_in_words():
    text = joined(study_text(builder_grid(), "us"))
    # full from a fill of 0.89 on, and the cap of 5 psi lifts: four fills with two caps are left
    assert "6 of 18 cap lifts" in text
    assert "8 of 18 are free of all of these" in text
    assert "8 of 18: cold fill mark 70 % to 85 % with cap rating 10 psi to 15 psi." in text


def test_no_free_member_is_said():
    text = joined(study_text(grid({"reservoir.fill": FILLS}, {"relief_openings": 3.0}), "us"))
    assert "No member is free of all of these: too hot, cap lifts" in text


def test_a_third_axis_that_spoils_every_block_is_said():
    inputs = {"reservoir.fill": FILLS, "cap.relief_pressure": CAPS, "cap.kind": np.array(["sealed", "vented"])}
    data = grid(inputs, {"relief_openings": lambda _fill, _cap, kind: np.where(kind == "sealed", 1.0, 0.0)})
    assert "No cold fill mark with any cap rating is free of them, whatever the cap kind." in joined(
        study_text(data, "us")
    )


def test_uncertain_inputs_are_told_by_percentiles():
    data = study({"pump.friction": np.arange(101.0)}, {"cavitation_exposure": np.arange(101.0)}, method="random")
    text = joined(study_text(data, "us"))
    assert "time with gas at the pump: 5 s, 50 s, 95 s" in text
    assert "lowest member" not in text


def test_failed_members_are_counted_with_their_most_frequent_sentence():
    status = ["done", "it broke", "it broke", "refused"]
    sentence = ["", "at 3 s it broke: mend it", "at 3 s it broke: mend it", "a key is wrong"]
    data = study({"pump.friction": np.arange(4.0)}, status=status, sentence=sentence)
    text = study_text(data, "us")
    assert "1 races done, 3 not finished" in text
    assert "2 of these: at 3 s it broke: mend it" in text


def test_a_study_with_no_finished_race_says_why_and_ends():
    data = study({"pump.friction": [0.1, 0.2]}, status=["it broke"] * 2, sentence=["mend it"] * 2)
    assert study_text(data, "us").splitlines()[1:] == ["0 races done, 2 not finished", "all 2: mend it"]


def test_the_screen_is_narrow_and_gives_no_permission():
    text = study_text(builder_grid(), "us")
    assert max(map(len, text.splitlines())) <= 72
    assert "no permission" in joined(text)
    assert "safe" not in text


@pytest.mark.parametrize(
    ("figure", "value", "words"),
    [
        ("lowest_feed_gauge_pressure", -3386.389, "1 inHg vac"),
        ("cavitation_exposure", 90.0, "90 s"),
        ("relief_openings", 3.0, "3"),
        ("highest_oil_level", 0.876, "87.6 %"),
        ("peak_oil_temperature", 373.15, "212 degF"),
    ],
)
def test_figures_are_written_as_a_builder_reads_them(figure, value, words):
    assert figure_text(value, figure, "us") == words


def test_races_that_were_marched_fill_the_screen():
    scenarios = [
        truck({"reservoir.fill": fill, "cap.relief_pressure": f"{cap} psi"}) for fill in FILLS[:2] for cap in (8, 16)
    ]
    found = member_figures(march_batch(batch_of(compile_problems(each.spec for each in scenarios)), workers=1))
    shape = grid({"reservoir.fill": FILLS[:2], "cap.relief_pressure": np.array([8, 16]) * 6894.757})
    text = joined(study_text(shape.assign(found), "us"))
    assert "4 races done, 0 not finished" in text
    hottest = float(found.peak_oil_temperature.max())
    assert f"{shown_text(hottest, 'K', 'us')}" in text


def effects_of(main, total, *, unexplained=0.01, classes=None, sentence="", failed=0):
    rows = {"main_effect": main, "total_effect": total, "main_effect_by_classes": classes or main}
    for name, row in (("main_effect", main), ("total_effect", total)):
        rows[f"{name}_low"], rows[f"{name}_high"] = np.array(row) - 0.02, np.array(row) + 0.03
    keys = ["return_line.entrainment", "reservoir.compliance", "pump.friction"]
    attrs = {"figure": "cavitation_exposure", "unexplained": unexplained, "members": 4096, "failed": failed}
    return xr.Dataset(
        {name: ("input", np.array(row)) for name, row in rows.items()}, {"input": keys}, {**attrs, "sentence": sentence}
    )


def test_effects_are_ranked_by_what_an_input_does_with_others():
    text = joined("\n".join(effect_lines(effects_of([0.3, 0.5, 0.0], [0.62, 0.55, 0.01]))))
    first = text.index("30 % (28 to 33 %) comes from air drawn in by the return alone, 62 % (60 to 65 %)")
    assert first < text.index("50 % (48 to 53 %) comes from give of the tank wall alone")
    assert "The other 1 move it little, at most 4 % each." in text


def test_a_rough_ranking_is_called_rough():
    found = effects_of([0.3, 0.2, 0.1], [0.3, 0.2, 0.1], unexplained=0.4)
    assert "take the ranking as rough" in joined("\n".join(effect_lines(found)))


def test_a_spread_that_no_input_explains_gets_no_ranking():
    found = joined("\n".join(effect_lines(effects_of([0.0] * 3, [0.0] * 3, unexplained=0.98))))
    assert "cannot be told: 98 % of its spread" in found
    assert "comes from" not in found


def test_two_looks_that_differ_are_a_reason_for_doubt():
    found = effects_of([0.3, 0.2, 0.1], [0.3, 0.2, 0.1], classes=[0.3, 0.45, 0.1])
    assert "Two ways to reckon differ over give of the tank wall" in joined("\n".join(effect_lines(found)))


def test_a_figure_that_does_not_vary_and_failed_members_are_said():
    assert effect_lines(effects_of([0.0] * 3, [0.0] * 3, sentence="no effect can be told")) == [
        "no effect can be told."
    ]
    assert "7 races that were not finished are left out." in effect_lines(effects_of([0.1] * 3, [0.1] * 3, failed=7))
