import json

import numpy as np
import pytest

from support import truck
from ullage.api import simulate
from ullage.report.lanes import lanes_of, plot_lanes
from ullage.results.summary import summarise


@pytest.fixture(scope="module")
def data():
    events = [
        {"action": "cap off", "time": "3 min"},
        {"action": "top-up", "time": "3 min 20 s", "volume": "0.1 L"},
        {"action": "cap on", "time": "4 min"},
        {"action": "engine off", "time": "6 min"},
    ]
    return simulate(truck({"event": events})).assign_attrs(cap_relief_pressure=110e3)


def lanes(data):
    return {lane.name: lane for lane in lanes_of(data)}


def test_cap_off_and_stopped_pump_last_as_long_as_the_events_say(data):
    found = lanes(data)
    assert found["cap off"].spans.tolist() == [[180.0, 240.0]]
    assert found["cap off"].total == "60 s"
    assert found["pump stopped"].spans.tolist() == [[360.0, 600.0]]
    assert found["top-up"].spans.tolist() == [[200.0, 200.0]]
    assert found["top-up"].total == "1\u00d7"


def test_every_lift_is_counted_but_only_so_many_ticks_are_drawn(data):
    times = np.linspace(1.0, 599.0, 4000)
    events = {
        "event_time": ("event", times),
        "event_name": ("event", np.full(4000, "cap relief")),
        "event_direction": ("event", np.full(4000, "open")),
        "event_count": ("event", np.full(4000, 2)),
    }
    lifting = data.drop_dims("event").assign(events)
    assert lanes(lifting)["cap lifts"].total == "8000\u00d7"
    axes = plot_lanes(lifting)
    assert sum(len(bars.get_paths()) for bars in axes.collections) < 1000


def test_shortest_span_can_still_be_seen(data):
    axes = plot_lanes(data)
    widths = [np.ptp(path.vertices[:, 0]) for bars in axes.collections for path in bars.get_paths()]
    assert min(widths) >= 0.004 * 600.0 * (1.0 - 1e-9)  # rounding; four thousandths are some two pixels of a phone
    assert max(path.vertices[:, 0].max() for bars in axes.collections for path in bars.get_paths()) <= 600.0


def test_total_of_starving_is_that_of_the_summary(data):
    figures = {**summarise(data), "time_starved": 7200.0}
    assert lanes(data.assign_attrs(summary=json.dumps(figures)))["feed starves"].total == "2 h"


def test_line_starves_where_the_feed_stands_at_the_least_that_a_line_can_bring(data):
    during = (data.time >= 100.0) & (data.time <= 150.0)
    for least, vapour in ((5e3, 2e3), (8e3, 8e3)):
        low = data.feed_pressure.where(~during, least)
        starved = data.assign(feed_pressure=low, vapour_pressure=data.vapour_pressure * 0.0 + vapour)
        assert lanes(starved)["feed starves"].spans.tolist() == [[99.0, 150.0]]
    standing = starved.assign(pump_speed=data.pump_speed * 0.0)
    assert len(lanes(standing)["feed starves"].spans) == 0


def test_starving_lane_lasts_as_long_as_the_kernel_counts():
    cold = {"start.temperature": "-30 degC", "fluid.preset": "ISO VG 68", "feed_line.bore": "10 mm"}
    starving = simulate(truck(cold))
    spans = lanes(starving)["feed starves"].spans
    # rows of a second: each span's ends are known to a second
    counted = summarise(starving)["time_starved"]
    assert counted > 60.0
    assert float(np.sum(spans[:, 1] - spans[:, 0])) == pytest.approx(counted, abs=2.0 * len(spans))
