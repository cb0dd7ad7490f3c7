"""What faults do to the channel table."""

import numpy as np
import pytest
from race_tables import during, integral, table_of

from ullage.duty.events import FAULTS, LOST_OIL, TimedEvent
from ullage.kernel.params import CHANNELS, FIRST_MODE


def fault(name, begin, end=None, size=None):
    """Return the events of a fault."""
    on = TimedEvent(begin, name, "on", size=FAULTS[name].size if size is None else size)
    return [on] if end is None else [on, TimedEvent(end, name, "off")]


def test_sound_truck_has_the_channels_of_its_scenario():
    found = table_of()
    whole = ("cap_on", "strainer_factor", "bore_share", "ground_roughness", "wetting", "fan_share")
    expected = {**dict.fromkeys(whole, 1.0), "leak_area": 2e-9, "core_blockage": 0.2, "water_content": 1e-5}
    for name in CHANNELS[FIRST_MODE:]:
        assert during(found, name, 0.0, 1000.0) == [expected.get(name, 0.0)]


@pytest.mark.parametrize(
    ("name", "size", "channel", "sound", "faulty"),
    [
        ("seal leak", 3e-10, "leak_area", 2e-9, 2.3e-9),
        ("relief stuck open", None, "relief_stuck", 0.0, 1.0),
        ("relief stuck shut", None, "relief_stuck", 0.0, -1.0),
        ("vacuum valve stuck open", None, "vacuum_stuck", 0.0, 1.0),
        ("vacuum valve stuck shut", None, "vacuum_stuck", 0.0, -1.0),
        ("blocked cooler", 0.7, "core_blockage", 0.2, 0.7),
        ("blocked cooler", 0.1, "core_blockage", 0.2, 0.2),  # less than is blocked already
        ("blocked strainer", 10.0, "strainer_factor", 1.0, 10.0),
        ("collapsed hose", 0.5, "bore_share", 1.0, 0.5),
    ],
)
def test_fault_moves_its_channel_from_on_to_off_and_no_other(name, size, channel, sound, faulty):
    found, whole = table_of(events=fault(name, 100.25, 200.5, size)), table_of()
    assert during(found, channel, 0.0, 100.25) == during(found, channel, 200.5, 1000.0) == [sound]
    assert during(found, channel, 100.25, 200.5) == [pytest.approx(faulty, rel=1e-15)]  # one sum
    for other in CHANNELS[FIRST_MODE:]:
        assert other == channel or during(found, other, 0.0, 1000.0) == during(whole, other, 0.0, 1000.0)


def test_jump_of_a_fault_is_two_rows_however_small_it_is():
    found = table_of(events=fault("seal leak", 100.25, 200.5, 1e-15))
    assert {100.25, 200.5} <= set(found.time[1:][np.diff(found.time) == 0.0])


def test_lost_oil_drains_for_its_duration_and_ends_by_itself():
    loss = TimedEvent(100.0, LOST_OIL, "on", duration=30.5, size=0.02)
    found = table_of(events=[loss])
    assert during(found, "drain_flow", 100.0, 130.5) == [0.02]
    assert during(found, "drain_flow", 0.0, 100.0) == during(found, "drain_flow", 130.5, 1000.0) == [0.0]
    # a step integrated by rows: both rows of a jump stand at one time
    assert integral(found, "drain_flow") == pytest.approx(0.02 * 30.5, rel=1e-12)


def test_water_and_fills_to_the_mark_add_up_and_stay():
    events = [*fault("water got in", 100.0, size=1e-3), *fault("water got in", 200.0, size=2e-3)]
    found = table_of(events=[*events, *fault("filled hot to the cold mark", 300.0)])
    assert during(found, "water_content", 0.0, 100.0) == [1e-5]
    assert during(found, "water_content", 100.0, 200.0) == [pytest.approx(1.01e-3, rel=1e-15)]
    assert during(found, "water_content", 200.0, 1000.0) == [pytest.approx(3.01e-3, rel=1e-15)]
    assert during(found, "mark_fills", 0.0, 300.0) == [0.0]
    assert during(found, "mark_fills", 300.0, 1000.0) == [1.0]


def test_two_faults_of_one_channel_work_together():
    events = [*fault("blocked strainer", 100.0, 400.0, 10.0), *fault("seal leak", 200.0, None, 1e-9)]
    found = table_of(events=events)
    assert during(found, "strainer_factor", 200.0, 400.0) == [10.0]
    assert during(found, "leak_area", 200.0, 1000.0) == [pytest.approx(3e-9, rel=1e-15)]
