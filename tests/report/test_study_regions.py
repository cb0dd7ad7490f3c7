import numpy as np
from matplotlib.figure import Figure

from ullage.report.study_regions import STYLES, Box, edges, name_regions, outline


def test_edges_lie_half_way_between_members():
    assert edges(np.array([1.0, 2.0, 4.0])).tolist() == [0.5, 1.5, 3.0, 5.0]
    assert edges(np.array([3.0])).tolist() == [2.5, 3.5]


def test_the_outline_runs_between_inside_and_outside_only():
    cells = np.zeros((3, 3), dtype=bool)
    cells[1, 1] = True
    across = up = np.arange(4.0)
    segments = {tuple(map(tuple, np.array(segment).tolist())) for segment in outline(across, up, cells)}
    assert segments == {
        ((1.0, 1.0), (1.0, 2.0)),
        ((2.0, 1.0), (2.0, 2.0)),
        ((1.0, 1.0), (2.0, 1.0)),
        ((1.0, 2.0), (2.0, 2.0)),
    }
    assert outline(across, up, np.ones((3, 3), dtype=bool)) == []


def test_boxes_meet_where_they_share_room():
    box = Box(0.0, 0.5, 0.0, 0.5)
    assert box.meets([Box(0.4, 0.6, 0.4, 0.6)])
    assert not box.meets([Box(0.5, 0.6, 0.0, 0.5), Box(0.0, 0.5, 0.6, 0.7)])


def test_a_name_stands_in_its_region_or_has_a_line_to_it():
    axes = Figure(figsize=(4.5, 4.5)).add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, 20.0), ylim=(0.0, 20.0))
    wide, narrow = np.zeros((20, 20), dtype=bool), np.zeros((20, 20), dtype=bool)
    wide[:, 8:], narrow[0, 0] = True, True
    name_regions(axes, {"tank full": wide, "cap lifts": narrow}, [])
    places = {text.get_text(): text.get_position() for text in axes.texts}
    assert wide[int(places["tank full"][1]), int(places["tank full"][0])]
    lines = [line for line in axes.lines if line.get_color() == STYLES["cap lifts"].color]
    assert any((line.get_xdata()[1], line.get_ydata()[1]) == (0.5, 0.5) for line in lines)
