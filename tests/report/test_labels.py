import numpy as np
import pytest

from ullage.report.labels import clipped, drawable, rows_for, short_duration, spread, time_ticks


@pytest.mark.parametrize("places", [[5.0], [1.0, 1.0, 1.0], [9.9, 0.0, 9.8, 9.7], [20.0, -5.0], [3.0, 3.2, 7.0]])
def test_labels_keep_their_order_and_do_not_overlap(places):
    places = np.array(places)
    moved = spread(places, 1.5, 0.0, 10.0)
    assert moved.min() >= 0.0
    assert moved.max() <= 10.0
    assert np.argsort(moved).tolist() == np.argsort(places, kind="stable").tolist()
    # rounding of sums up to 10
    assert np.all(np.diff(np.sort(moved)) >= 1.5 - 1e-12)


def test_labels_with_room_stay_where_they_are():
    assert spread(np.array([2.0, 8.0, 5.0]), 1.5, 0.0, 10.0).tolist() == [2.0, 8.0, 5.0]


def test_too_many_labels_share_the_room_evenly():
    moved = spread(np.zeros(11), 5.0, 0.0, 10.0)
    assert moved == pytest.approx(np.arange(11.0), abs=1e-12)  # rounding


def test_names_take_the_next_row_before_they_overlap_and_none_if_there_is_no_room():
    centres, rows = rows_for(np.array([0.0, 1.0, 1.5, 6.0]), np.full(4, 2.0), 0.0, 10.0, 2)
    assert centres.tolist() == [1.0, 1.0, 1.5, 6.0]
    assert rows == [0, 1, -1, 0]


@pytest.mark.parametrize(
    ("end", "form", "first", "last"),
    [
        (10.0, "min:s", "0:00", "0:10"),
        (240.0, "min:s", "0:00", "4:00"),
        (5.1 * 3600.0, "h:min", "0:00", "5:00"),
        (600.0, "min:s", "0:00", "10:00"),
        (5400.0, "h:min", "0:00", "1:30"),
        (200.0 * 3600.0, "h:min", "0:00", "192:00"),
        (9000.0 * 3600.0, "h:min", "0:00", "7680:00"),
    ],
)
def test_time_is_written_in_hours_and_minutes_of_the_race(end, form, first, last):
    ticks, texts, shown = time_ticks(0.0, end)
    assert (shown, texts[0], texts[-1]) == (form, first, last)
    assert 2 <= len(ticks) <= 8
    assert len(set(texts)) == len(texts)
    assert ticks[-1] <= end


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.4, "0 s"), (37.0, "37 s"), (480.0, "8 min"), (7200.0, "2 h"), (5400.0 * 1.5, "2.2 h")]
)
def test_duration_is_short(seconds, text):
    assert short_duration(seconds) == text


def test_letters_that_the_font_lacks_become_squares():
    assert drawable("Ironwood\n Flats \u6d4b\U0001f98a") == "Ironwood Flats \u25a1\u25a1"


def test_long_text_keeps_its_end():
    text = clipped("a long name of a race " * 5 + "(invented data)", 40, 20)
    assert len(text) <= 40
    assert text.endswith("(invented data)")
    assert clipped("fuel pit", 15, 0) == "fuel pit"
    assert clipped("second fuel and tyre pit", 15, 0) == "second fuel an\u2026"
