"""Outputs at an instant against hand calculation."""

import numpy as np
import pytest

from support import bench, channel_table, start_at
from ullage.kernel.outputs import (
    STATE_CLOSED,
    STATE_OFF,
    STATE_RELIEF_OPEN,
    STATE_STUCK,
    STATE_VACUUM_OPEN,
    STATE_VENTED,
    cap_state,
)
from ullage.kernel.params import STUCK_OPEN, STUCK_SHUT
from ullage.physics import air


@pytest.mark.parametrize(
    ("changes", "modes", "expected"),
    [
        ({}, (1, 0, 0), STATE_CLOSED),
        ({}, (1, 1, 0), STATE_RELIEF_OPEN),
        ({}, (1, 0, 1), STATE_VACUUM_OPEN),
        ({"cap.kind": "vented"}, (1, 0, 0), STATE_VENTED),
        ({}, (0, 0, 0), STATE_OFF),
    ],
)
def test_cap_state_tells_what_the_cap_does(changes, modes, expected):
    b = bench(changes)
    b.state.cap_on, b.state.relief_open, b.state.vacuum_open = modes
    assert cap_state(b.parameters, b.state) == expected


@pytest.mark.parametrize("valve", ["relief_stuck", "vacuum_stuck"])
@pytest.mark.parametrize("way", [STUCK_OPEN, STUCK_SHUT])
def test_cap_state_tells_that_a_valve_is_stuck_unless_the_cap_is_off(valve, way):
    b = bench()
    setattr(b.state, valve, way)
    assert cap_state(b.parameters, b.state) == STATE_STUCK
    b.state.cap_on = 0
    assert cap_state(b.parameters, b.state) == STATE_OFF


def test_a_row_is_consistent_in_itself():
    b = bench()
    start_at(b.state, b.parameters, 350.0, 160e3)
    time = np.array([0.0, 1.0])
    ambient = {"ambient_pressure": 95e3, "engine_speed": 400.0, "steering_load": 15e5}
    row = b.run(time, channel_table(time, **ambient))[0][0]
    assert row.headspace_pressure == pytest.approx(160e3, rel=1e-12)
    assert row.headspace_gauge_pressure == pytest.approx(65e3, rel=1e-12)
    assert row.feed_gauge_pressure == pytest.approx(row.feed_pressure - 95e3, rel=1e-12)
    surface, vapour = 101325.0, 0.0
    bubble_point = row.dissolved_air_mass / (air.solubility(350.0, 0.09, 0.0, 870.0) * row.oil_mass)
    assert bubble_point == pytest.approx(surface, rel=1e-12)
    assert row.vapour_margin == pytest.approx(row.feed_pressure - vapour, rel=1e-12)
    assert row.air_margin == pytest.approx(row.feed_pressure - bubble_point, rel=1e-9)
    ratio = 280.0 / (5500.0 * 2.0 * np.pi / 60.0)
    need = 55e3 + 30e3 * ratio**2 + 30e3 * ratio * row.pump_viscosity / 1e-4
    assert row.rating_margin == pytest.approx(row.feed_pressure - need, rel=1e-9)
    assert row.seal_margin == pytest.approx(1.7e5 - row.feed_gauge_pressure, rel=1e-12)
    assert row.tank_margin == pytest.approx(2.5e5 - 65e3, rel=1e-12)
    whole = 7.6e-3 * (1.0 + 7.1e-5 * (350.0 - 293.15))
    assert row.oil_level == pytest.approx(1.0 - row.headspace_volume / whole, rel=1e-12)
    assert row.pump_speed == pytest.approx(280.0, rel=1e-12)
    assert row.supply_pressure > 160e3 + 15e5


def test_pump_needs_more_than_the_vapour_of_wet_oil_where_its_rating_is_less():
    rows = []
    for content in (0.0, 5e-4):
        b = bench()
        start_at(b.state, b.parameters, 380.0, 260e3)
        time = np.array([0.0, 1.0])
        rows.append(b.run(time, channel_table(time, engine_speed=400.0, water_content=content))[0][0])
    dry, wet = rows
    assert wet.vapour_pressure > 55e3  # the rating of the pump
    needs = [row.feed_pressure - row.rating_margin for row in rows]
    # the loss of the port is that of the oil and the speed, wet or dry
    assert needs[1] - needs[0] == pytest.approx(wet.vapour_pressure - 55e3, rel=1e-9)
    assert dry.vapour_pressure == 0.0


def test_margins_of_a_standing_pump_are_unknown():
    b = bench()
    time = np.array([0.0, 1.0])
    row = b.run(time, channel_table(time))[0][1]
    assert np.isnan([row.vapour_margin, row.air_margin, row.rating_margin]).all()
    assert np.isfinite(row.feed_pressure)


def test_gauge_need_of_a_pump_is_taken_at_its_elevation():
    low = bench({"pump.minimum_inlet_pressure": "5 inHg vac", "pump.rating_elevation": "0 m"})
    high = bench({"pump.minimum_inlet_pressure": "5 inHg vac", "pump.rating_elevation": "1500 m"})
    # ISO 2533: 101325 Pa at sea level, 84556 Pa at 1500 m
    assert low.parameters.minimum_inlet_pressure == pytest.approx(101325.0 - 5 * 3386.389, abs=1.0)
    assert high.parameters.minimum_inlet_pressure == pytest.approx(84556.0 - 5 * 3386.389, abs=10.0)
