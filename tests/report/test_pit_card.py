import itertools
import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from stop_support import HARD, PSI, fault_signs, healthy_gauges, stop_choices
from ullage.report.pit_card import LEAST_SIZE, pit_card, save_pit_card
from ullage.results.store import ResultsError

SENTENCES = [
    "Opening at this stop gives away 12 psi; after a refit 3.6 psi of it come back by the finish.",
    "Gas at the pump to the finish: 18 min shut, 37 min refitted (30 to 44 min by what is assumed of the air).",
]
A5 = (148.0 / 25.4 * 72.0, 210.0 / 25.4 * 72.0)  # ISO 216


@pytest.fixture(scope="module")
def choices():
    return stop_choices()


def card(choices, units="us", gauges=None, symptoms=None, sentences=SENTENCES):
    given = healthy_gauges() if gauges is None else gauges, fault_signs() if symptoms is None else symptoms
    return pit_card(choices, *given, sentences, units)


def text_of(figure):
    """Return the words of a card in reading order of its runs, with plain spaces."""
    return " ".join(" ".join(text.get_text() for text in figure.texts).split())


MANY = {
    "as made": (healthy_gauges(), fault_signs(), SENTENCES),
    "much to say": (healthy_gauges(), fault_signs([f"fault {n} with a long name" for n in range(14)]), SENTENCES * 4),
    "nothing to say": (healthy_gauges() * np.nan, fault_signs([]), []),
}


@pytest.mark.parametrize("amount", MANY)
@pytest.mark.parametrize("case", HARD)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_words_leave_the_page_or_cover_others_and_none_are_small(choices, case, units, amount):
    gauges, symptoms, sentences = MANY[amount]
    figure = pit_card(HARD[case](choices), keep_units(gauges), symptoms, sentences, units)
    figure.draw_without_rendering()
    edge = 4.2 / 25.4 * figure.dpi  # an office printer leaves some 4 mm white, common practice
    boxes = [(text.get_text(), text.get_window_extent()) for text in figure.texts]
    for text, box in boxes:
        assert edge < box.x0 < box.x1 < figure.bbox.x1 - edge, text
        assert edge < box.y0 < box.y1 < figure.bbox.y1 - edge, text
    for (one, first), (other, second) in itertools.combinations(boxes, 2):
        across = min(first.x1, second.x1) - max(first.x0, second.x0)
        down = min(first.y1, second.y1) - max(first.y0, second.y0)
        # a pixel, of 360 to the inch, by rounding
        assert across <= 1.0 or down <= 1.0, (one, other)
    assert min(text.get_fontsize() for text in figure.texts) >= LEAST_SIZE >= 7.0


def keep_units(gauges):
    gauges.engine_speed.attrs["units"] = "rad s-1"
    return gauges


MUST_SAY = (
    "NEVER CRACK IT HOT",
    "Use gauge AND thermometer, not the clock.",
    "A zero gauge does not mean cold oil.",
    "WHAT OPENING COSTS HERE",
    "Oil below 122 °F and gauge at zero. Both, or it stays shut.",
    "Fire bottle manned. Catch rag away from the exhaust, hands off the fan.",
    "Gloves, glasses, rag over the cap. Face aside",
    "First notch. Wait.",
    "Recharge only through a regulator, never over 16 psi (the cap).",
    "Never raw shop air. A typical 120 psi in a tank rated 30 psi is a bomb.",
    "Radiator caps of other ratings look alike. Read the stamp: 16 psi here.",
    "Lift-test the cap",
    "After any opening top up to the COLD mark of the day.",
    "check the level cold next morning",
    "26 min idling with the fan on not in 2 h engine off",
    "Half-way: 7 min idling with the fan on, 55 min engine off.",
    "test truck (invented data)",
    "first pit",
    "date ___",
    "never a permission to open a hot reservoir",
    "Makers' data, race rules, local codes and licensed people come first.",
)


@pytest.mark.parametrize("said", MUST_SAY)
def test_card_says_what_it_must(choices, said):
    text = text_of(card(choices))
    assert said in text


@pytest.mark.parametrize("case", HARD)
def test_cautions_are_on_every_card(choices, case):
    text = text_of(card(HARD[case](choices)))
    for said in (*MUST_SAY[:4], "Fire bottle manned.", "Gloves, glasses, rag over the cap.", "Never raw shop air."):
        assert said in text


@pytest.mark.parametrize("case", HARD)
def test_card_never_permits(choices, case):
    assert not re.search(
        r"\b(safe|safely|ok|okay|may open|can be opened|allowed)\b", text_of(card(HARD[case](choices))), re.I
    )


def test_costs_are_those_of_the_results(choices):
    text = text_of(card(choices))
    # refit: 30 % of 12 psi, less 5 psi in the line; gas 41 % of 90 min against 20 % when shut, and half of both to
    # one and a half times both over the models of the air
    assert "refit 3.6 \N{MINUS SIGN}1.4 9 to 28 on time" in text
    assert "shut 12.0 7.0 9 to 27 on time" in text
    assert "cool, engine off 7.2 2.2 5 to 16 +2 h" in text
    assert "refit 25 \N{MINUS SIGN}10 9 to 28 on time" in text_of(card(choices, "metric"))


def test_gauges_and_signs_are_those_of_the_results(choices):
    text = text_of(card(choices))
    assert "hot 230 °F 15.3 15.2 13.8 11.3 7.2" in text
    assert "after the stop 215 °F" in text
    assert "seal leak: Sign of seal leak" in text


def test_way_that_never_cools_so_far_tells_how_far(choices):
    still_hot = choices.assign(coolest_oil=("way", [320.0, 340.0], {"units": "K"}))
    assert "not in 2 h engine off: still 152 °F" in text_of(card(still_hot))


def test_speeds_are_told_in_turns_and_what_to_look_at_goes_before_the_sign(choices):
    speeds = np.array([900.0, 4500.0]) * np.pi / 30.0
    told = fault_signs().assign_coords(engine_speed=speeds)
    told["look"] = "fault", [f"look at {fault}" for fault in told.fault.values]
    text = text_of(card(choices, symptoms=told))
    assert "feed at 900 feed at 4500" in text
    assert "seal leak: look at seal leak" in text
    assert "Sign of" not in text


def test_cold_mark_is_told_for_the_coldest_to_the_hottest_day(choices):
    text = text_of(card(choices, "metric"))
    assert "day \N{MINUS SIGN}10 °C 10 °C 20 °C 40 °C fill 77 % 79 % 80 % 82 %" in text


def test_regulator_is_set_below_the_weakest_part(choices):
    weak = choices.assign_attrs(seal_rating=10.0 * PSI)
    assert "never over 10 psi (the shaft seal's rating)" in text_of(card(weak))


def test_vented_cap_has_nothing_to_recharge_and_unknown_times_are_not_made_up(choices):
    text = text_of(card(HARD["vented and little known"](choices)))
    assert "No recharge:" in text
    assert "regulator" not in text
    assert "Not known: wait for the thermometer." in text
    assert "nan" not in text.lower()


def test_numbers_that_are_unknown_are_dashes(choices):
    unknown = keep_units(healthy_gauges() * np.nan)
    text = text_of(card(HARD["pump never turns"](choices), gauges=unknown))
    assert "nan" not in text.lower()
    assert "refit 3.6 \N{EN DASH} \N{EN DASH} on time" in text


def test_card_with_little_on_it_has_larger_letters(choices):
    def body(figure):
        return next(text.get_fontsize() for text in figure.texts if text.get_text().startswith("Fire bottle"))

    assert body(card(choices, symptoms=fault_signs([]), sentences=[])) > body(card(choices, sentences=SENTENCES * 2))


def test_rows_left_out_are_counted(choices):
    full = card(HARD["ten choices, long names"](choices), symptoms=fault_signs([f"fault {n}" for n in range(30)]))
    found = re.search(r"(\d+) more readings are in the results", text_of(full))
    assert found
    assert int(found[1]) + len(re.findall(r"Sign of fault", text_of(full))) == 30


def test_files_are_a5_with_embedded_letters(choices, tmp_path):
    save_pit_card(choices, healthy_gauges(), fault_signs(), SENTENCES, tmp_path, "us")
    pdf = (tmp_path / "pit_card.pdf").read_bytes()
    box = re.search(rb"/MediaBox \[ *0 0 ([\d.]+) ([\d.]+) *\]", pdf)
    # written with a few digits
    assert tuple(map(float, box.groups())) == pytest.approx(A5, abs=0.01)
    assert b"/Type /Font" in pdf
    assert b"/Subtype /Image" not in pdf
    assert b"/CharProcs" in pdf or b"/FontFile" in pdf
    with Image.open(tmp_path / "pit_card.png") as picture:
        # whole pixels at 200 a inch or more
        assert picture.width / picture.height == pytest.approx(A5[0] / A5[1], rel=1e-3)
        assert picture.width >= 200.0 * A5[0] / 72.0


def test_same_results_give_the_same_files_and_are_left_alone(choices, tmp_path):
    before = choices.copy(deep=True)
    for name in "ab":
        (tmp_path / name).mkdir()
        save_pit_card(choices, healthy_gauges(), fault_signs(), SENTENCES, tmp_path / name)
    assert choices.identical(before)
    for name in ("pit_card.pdf", "pit_card.png"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


def test_failed_write_leaves_the_old_card_and_no_part(choices, tmp_path, monkeypatch):
    (tmp_path / "pit_card.pdf").write_bytes(b"old")

    def full(*_):
        raise OSError("No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(ResultsError, match=r"pit_card\.pdf: cannot be written: No space left"):
        save_pit_card(choices, healthy_gauges(), fault_signs(), SENTENCES, tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["pit_card.pdf"]
    assert (tmp_path / "pit_card.pdf").read_bytes() == b"old"
