import numpy as np
import pytest
import xarray as xr
from PIL import Image

from page import check_words, words_of
from ullage.errors import UllageError
from ullage.report.study_effects import EFFECTS_FIGURE, effects_figure, save_study_effects

KEYS = [
    "return_line.entrainment",
    "steering_gear.outside_conductance",
    "duty.segment.a segment with a very long name of its own.steering_load_spread",
    "pump.friction",
]


def effects(sentence=""):
    main, total = np.array([0.5, 0.0, 0.2, 0.05]), np.array([0.6, 0.01, 0.35, 0.05])
    rows = {"main_effect": main, "total_effect": total}
    for name, row in list(rows.items()):
        rows |= {f"{name}_low": np.maximum(row - 0.03, 0.0), f"{name}_high": row + 0.04}
    attrs = {"figure": "cavitation_exposure", "unexplained": 0.013, "members": 4096, "failed": 3, "sentence": sentence}
    return xr.Dataset({name: ("input", row) for name, row in rows.items()}, {"input": KEYS}, attrs)


def test_no_words_leave_the_page_or_cover_others():
    check_words(effects_figure(effects()))


def test_inputs_stand_in_the_order_of_their_total_effects():
    names = [label.get_text() for label in effects_figure(effects()).axes[0].get_yticklabels()][::-1]
    assert names[0].startswith("air drawn in")
    assert names[1].startswith("duty segment")
    assert names[3].startswith("steering gear")


def test_bars_are_as_long_as_the_effects_in_per_cent():
    axes = effects_figure(effects()).axes[0]
    lengths = {bar.get_gid(): [] for bar in axes.patches}
    for bar in axes.patches:
        lengths[bar.get_gid()].append(bar.get_width())
    np.testing.assert_allclose(lengths["total"], [1.0, 5.0, 35.0, 60.0])
    np.testing.assert_allclose(lengths["main"], [0.0, 5.0, 20.0, 50.0])


def test_the_page_says_what_and_of_how_many():
    text = " ".join(text for text, _ in words_of(effects_figure(effects())))
    for part in ("What moves the time with gas at the pump", "4096 races", "Explained by none: 1.3 %"):
        assert part in text


def test_without_effects_there_is_no_picture():
    with pytest.raises(UllageError, match="no effect can be told"):
        effects_figure(effects("no effect can be told"))


def test_the_picture_is_one_for_a_phone(tmp_path):
    save_study_effects(effects(), tmp_path / EFFECTS_FIGURE)
    with Image.open(tmp_path / EFFECTS_FIGURE) as picture:
        assert (picture.format, picture.width) == ("PNG", 1080)
