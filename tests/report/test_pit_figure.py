import itertools
from concurrent.futures import ThreadPoolExecutor

import pytest
from PIL import Image

from stop_support import HARD, stop_choices
from ullage.report.figures import FOOTER
from ullage.report.pit_figure import PIT_FIGURE, pit_figure, save_pit_figure
from ullage.results.store import ResultsError


@pytest.fixture(scope="module")
def choices():
    return stop_choices()


@pytest.mark.parametrize("case", HARD)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_words_leave_the_page_or_cover_others(choices, case, units):
    figure = pit_figure(HARD[case](choices), units)
    figure.draw_without_rendering()
    texts = [*figure.texts, *(text for axes in figure.axes for text in axes.texts)]
    texts += [axes.title for axes in figure.axes] + [axes._left_title for axes in figure.axes]
    texts += [axes.xaxis.label for axes in figure.axes]
    boxes = [(text.get_text(), text.get_window_extent()) for text in texts if text.get_text()]
    for text, box in boxes:
        assert 0.0 <= box.x0 < box.x1 <= figure.bbox.x1, text
        assert 0.0 <= box.y0 < box.y1 <= figure.bbox.y1, text
    for (one, first), (other, second) in itertools.combinations(boxes, 2):
        across = min(first.x1, second.x1) - max(first.x0, second.x0)
        down = min(first.y1, second.y1) - max(first.y0, second.y0)
        # boxes of rows hold room for letters that none has; a pixel is a quarter of a point
        assert across <= 1.0 or down <= 2.0, (one, other)


@pytest.mark.parametrize("case", HARD)
def test_hard_cases_give_a_picture_for_a_phone(choices, tmp_path, case):
    save_pit_figure(HARD[case](choices), tmp_path / PIT_FIGURE, "us")
    with Image.open(tmp_path / PIT_FIGURE) as picture:
        assert (picture.format, picture.width) == ("PNG", 1080)
        assert 1300 <= picture.height <= 2300


def test_page_says_title_stop_and_that_it_permits_nothing(choices):
    text = " ".join(text.get_text() for text in pit_figure(choices, "us").texts)
    for part in ("test truck (invented data)", "first pit, 2:26:26 into the race, planned 6 min", "12 psi", FOOTER):
        assert part in text


def test_choice_that_fails_is_said(choices):
    text = " ".join(text.get_text() for text in pit_figure(HARD["two fail"](choices)).texts)
    assert "left off: the reservoir has run out of oil" in text


def test_results_given_are_left_alone_and_two_pictures_at_once_are_the_same(choices, tmp_path):
    before = choices.copy(deep=True)
    paths = [tmp_path / f"{name}.png" for name in "ab"]
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda path: save_pit_figure(choices, path, "us"), paths))
    assert choices.identical(before)
    assert paths[0].read_bytes() == paths[1].read_bytes()


def test_folder_that_is_not_there_is_said(choices, tmp_path):
    with pytest.raises(ResultsError, match="cannot be written"):
        save_pit_figure(choices, tmp_path / "none" / PIT_FIGURE)
