import math

from ullage.duty.events import (
    CAP,
    CAP_VALVES,
    ENGINE,
    FAULTS,
    LOST_OIL,
    STUCK_OPEN,
    STUCK_SHUT,
    WATER,
    Sound,
    Spell,
    TimedEvent,
    in_order,
    spells,
    switch_times,
)
from ullage.kernel.params import CHANNELS, FIRST_MODE


def events(*written):
    """Return events from (time, name, direction)."""
    return [TimedEvent(*item) for item in written]


def test_events_go_by_time_and_simultaneous_ones_as_written():
    written = events((9.0, CAP, "on"), (3.0, ENGINE, "off"), (3.0, CAP, "off"), (3.0, ENGINE, "on"), (1.0, CAP, "off"))
    assert in_order(written) == [written[4], *written[1:4], written[0]]


def test_last_switch_of_a_kind_at_one_instant_wins():
    ordered = events((1.0, CAP, "off"), (1.0, ENGINE, "off"), (1.0, CAP, "on"), (2.0, CAP, "on"), (2.0, CAP, "off"))
    assert switch_times(ordered, CAP) == [(1.0, True), (2.0, False)]
    assert switch_times(ordered, ENGINE) == [(1.0, False)]


def test_without_events_nothing_switches():
    assert switch_times([], CAP) == []
    assert switch_times(events((1.0, CAP, "off")), ENGINE) == []


def test_faults_drive_channels_that_keep_their_value_between_rows():
    driven = {effect.channel for effect in FAULTS.values()}
    assert driven == {*CHANNELS[FIRST_MODE:]} - {
        "cap_on",
        "recharge_pressure",
        "fan_forced",
        "fan_share",
        "ground_roughness",
        "wetting",
    }
    assert set(Sound._fields) < driven
    assert set(CAP_VALVES) < driven


def test_stuck_valves_are_open_and_shut_by_their_names():
    for name, effect in FAULTS.items():
        if effect.channel in CAP_VALVES:
            assert effect.size == (STUCK_OPEN if name.endswith("open") else STUCK_SHUT)


def test_fault_lasts_from_on_to_off_or_for_ever():
    written = events((1.0, "seal leak", "on"), (2.0, CAP, "off"), (3.0, "seal leak", "off"), (4.0, "seal leak", "on"))
    assert spells(written) == [Spell("seal leak", 1.0, 3.0, 0.0), Spell("seal leak", 4.0, math.inf, 0.0)]


def test_fault_with_a_duration_ends_by_itself_and_others_may_come_again():
    loss = TimedEvent(1.0, LOST_OIL, "on", duration=60.0, size=0.01)
    water = [TimedEvent(time, WATER, "on", size=size) for time, size in ((2.0, 1e-3), (3.0, 2e-3))]
    assert spells([loss, *water]) == [
        Spell(LOST_OIL, 1.0, 61.0, 0.01),
        Spell(WATER, 2.0, math.inf, 1e-3),
        Spell(WATER, 3.0, math.inf, 2e-3),
    ]
