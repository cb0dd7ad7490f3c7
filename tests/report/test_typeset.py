import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from ullage.report.typeset import Text, beside, boxed, draw, moved, paragraph, stacked, table, width_of

WORDS = "Never crack it hot, and check the level cold next morning with a " + "verylongword" * 5


@pytest.mark.parametrize("width", [40.0, 90.0, 300.0])
def test_no_line_is_wider_than_its_paragraph_and_no_letter_is_lost(width):
    block = paragraph(Text("Lead of it.", WORDS), width, 8.0)
    lines = {}
    for words in block.words:
        lines.setdefault(words.y, []).append(words)
    for line in lines.values():
        # rounding of sums of widths
        assert line[-1].x + width_of(line[-1].text, line[-1].bold, 8.0) <= width + 1e-9
    letters = "".join(words.text for words in block.words).replace(" ", "")
    assert letters == f"Leadofit.{WORDS.replace(' ', '')}"
    assert block.words[0].bold


def test_number_stays_beside_its_unit():
    block = paragraph("below 122\N{NO-BREAK SPACE}psi", width_of("below 122", False, 8.0) + 1.0, 8.0)
    assert [words.text for words in block.words] == ["below", "122\N{NO-BREAK SPACE}psi"]


def test_aligned_lines_end_at_the_edge_or_lie_in_the_middle():
    width, wide = 100.0, width_of("cap", False, 8.0)
    right, middle = (paragraph("cap", width, 8.0, align=align).words[0].x for align in ("right", "center"))
    assert (right, middle) == pytest.approx((width - wide, 0.5 * (width - wide)))


def test_width_measured_is_that_drawn():
    figure = Figure(dpi=360.0)
    draw(figure, paragraph("Opening at this stop gives away pressure", 400.0, 7.6), 10.0, 10.0)
    FigureCanvasAgg(figure)
    box = figure.texts[0].get_window_extent()
    measured = width_of(figure.texts[0].get_text(), False, 7.6)
    # letters are drawn at whole pixels: at 38 px to the size half a percent
    assert box.width * 72.0 / 360.0 == pytest.approx(measured, rel=0.005)
    assert box.x0 * 72.0 / 360.0 == pytest.approx(10.0, abs=0.5)


def test_blocks_stack_without_overlap_and_empty_ones_take_no_room():
    one = boxed(paragraph("one", 50.0, 8.0), 50.0, 3.0, "black")
    assert stacked([one, paragraph("", 50.0, 8.0), one], 4.0).height == pytest.approx(2.0 * one.height + 4.0)
    assert beside([(0.0, one), (60.0, moved(one, 0.0, 5.0))]).height == one.height


def test_table_keeps_cells_whole_or_says_that_it_is_too_narrow():
    rows = [
        ["after the stop", "215\N{NO-BREAK SPACE}psi", "1"],
        ["cold", "2", Text("leak:", "a sentence of some words")],
    ]
    wide, narrow = (table(["", "oil", "then"], rows, width, 8.0, sentences=2) for width in (200.0, 90.0))
    assert (wide.tight, narrow.tight) == (False, True)
    assert {"after the stop", "215\N{NO-BREAK SPACE}psi"} <= {words.text for words in wide.words}
    assert stacked([wide, narrow], 1.0).tight
    assert np.ptp([shade.width for shade in wide.shades]) == 0.0
