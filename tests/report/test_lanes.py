import json

import numpy as np
import pytest

from support import truck
from ullage.api import simulate
from ullage.duty.events import FAULTS
from ullage.report.lanes import _SHORT, lanes_of, plot_lanes
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


def test_pump_that_its_own_port_cannot_fill_has_a_lane_apart_from_the_line(data):
    during = (data.time >= 100.0) & (data.time <= 150.0)
    for kind, name in ((1, "feed starves"), (2, "pump not filled")):
        found = lanes(data.assign(starved=data.starved.where(~during, kind)))
        assert found[name].spans.tolist() == [[99.0, 150.0]]
    assert len(found["feed starves"].spans) == 0
    assert "pump not filled" not in lanes(data)


def test_fault_has_a_lane_as_long_as_it_lasts_and_what_is_done_at_once_a_tick():
    faults = [
        {"action": "fault on", "fault": "vacuum valve stuck open", "time": "2 min"},
        {"action": "fault on", "fault": "seal leak", "time": "3 min"},
        {"action": "fault off", "fault": "seal leak", "time": "4 min"},
        {"action": "fault on", "fault": "water got in", "time": "5 min"},
    ]
    found = lanes(simulate(truck({"event": faults})))
    assert found["vacuum open"].spans.tolist() == [[120.0, 600.0]]
    assert (found["seal leak"].spans.tolist(), found["seal leak"].total) == ([[180.0, 240.0]], "60 s")
    assert (found["water got in"].spans.tolist(), found["water got in"].total) == ([[300.0, 300.0]], "1\u00d7")


def test_name_of_every_fault_fits_the_column_of_a_phone():
    # column of some 16 letters: four and a half inches less axis and margins
    assert max(len(_SHORT.get(name, name)) for name in FAULTS) <= 14


def test_starving_lane_lasts_as_long_as_the_kernel_counts():
    cold = {"start.temperature": "-30 degC", "fluid.preset": "ISO VG 68", "feed_line.bore": "10 mm"}
    starving = simulate(truck(cold))
    spans = lanes(starving)["feed starves"].spans
    # rows of a second: each span's ends are known to a second
    counted = summarise(starving)["time_starved"]
    assert counted > 60.0
    assert float(np.sum(spans[:, 1] - spans[:, 0])) == pytest.approx(counted, abs=2.0 * len(spans))
