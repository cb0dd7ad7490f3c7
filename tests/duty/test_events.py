from ullage.duty.events import CAP, ENGINE, TimedEvent, in_order, switch_times


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
