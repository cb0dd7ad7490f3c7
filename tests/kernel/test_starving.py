"""A pump that does not fill: lines and chambers that starve it, and gas."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from test_hydraulics import COLD, PLACES, TO_RESERVOIR, UNCONTROLLED, circuit

from support import Circuit, start_at
from ullage.kernel.intake import LEAST_CHAMBER_PRESSURE, LEAST_FEED_PRESSURE, intake, viscosity
from ullage.kernel.params import RELIEF_IN_RESERVOIR, RELIEF_IN_STEERING_GEAR
from ullage.physics import line, oil
from ullage.physics.water import saturation_pressure


def line_pressure(c, flow, temperature):
    """Return the pressure that a flow leaves at the pump's port, by the laws of the line alone [Pa]."""
    p, before = c.parameters, c.supply()
    thick, density = viscosity(p, temperature), oil.density(temperature, p.density_15)
    loss = line.line_loss(flow, p.feed_bore, p.feed_length, p.feed_loss, p.feed_roughness, density, thick)
    loss += line.velocity_head(flow, p.feed_bore, density)
    loss += line.rated_drop(flow / p.strainer_flow, thick / p.strainer_viscosity, p.strainer_drop)
    return before.standing_pressure - loss


def cold_line(changes):
    """Return a circuit at -20 degC without loss in the pump's ports and without air coming out."""
    c = Circuit(changes, temperature=COLD, pressure=80e3)
    p = c.parameters
    p.port_loss = p.port_viscous_loss = p.line_release_rate = 0.0
    p.relief_place = RELIEF_IN_STEERING_GEAR  # else what crosses it goes round in the pump and not through the line
    return c


@pytest.mark.parametrize("changes", [{}, TO_RESERVOIR, UNCONTROLLED], ids=["inlet", "reservoir", "uncontrolled"])
def test_cold_oil_starves_the_pump_which_gets_what_the_line_brings(changes):
    c = cold_line(changes)
    flows = c.flows(500.0, 0.0)
    brought = brentq(lambda flow: line_pressure(c, flow, COLD) - LEAST_FEED_PRESSURE, 1e-9, 1e-2)
    assert flows.starved == 1
    # the root is found to 1e-7 of the geometric flow of 1.6e-3 m3/s
    assert flows.feed_flow == pytest.approx(brought, abs=2e-7 * c.parameters.displacement * flows.pump_speed)
    assert flows.intake.pressure == pytest.approx(LEAST_FEED_PRESSURE, abs=1.0)  # the same over the line's slope
    assert 0.1 < flows.filling < 0.8


def test_a_starved_pump_delivers_no_more_when_it_turns_faster():
    c = cold_line(UNCONTROLLED)
    slow, fast = c.flows(500.0, 20e5), c.flows(800.0, 20e5)
    assert slow.starved == fast.starved == 1
    assert fast.feed_flow == pytest.approx(slow.feed_flow, rel=1e-5)  # the root's tolerance
    assert fast.filling == pytest.approx(5.0 / 8.0 * slow.filling, rel=1e-5)


def test_free_water_holds_the_feed_pressure_at_its_vapour_pressure():
    c = cold_line(TO_RESERVOIR)
    c.temperature = 370.0
    start_at(c.state, c.parameters, 370.0, 5e3)
    c.parameters.feed_bore = 0.010
    flows = c.flows(600.0, 0.0, water_content=0.002)
    # boiling in the line keeps it from falling further
    assert flows.starved == 1
    assert flows.intake.pressure == pytest.approx(saturation_pressure(370.0), abs=1.0)


@pytest.mark.parametrize("routing", [{}, TO_RESERVOIR])
def test_cold_oil_in_the_default_truck_fills_the_pump_less_the_faster_it_turns(routing):
    c = Circuit(routing, temperature=COLD, pressure=101325.0)
    filling = [c.flows(speed, 0.0).filling for speed in (30.0, 100.0, 200.0, 400.0)]
    assert filling[0] > 0.95
    assert np.all(np.diff(filling) <= 0.0)
    assert filling[-1] < 0.5


def test_warm_oil_does_not_starve_the_pump():
    flows = Circuit(pressure=101325.0).flows(500.0, 20e5)
    assert flows.starved == 0
    assert flows.intake.pressure > 80e3


states = st.fixed_dictionaries(
    {
        "temperature": st.floats(248.0, 400.0),
        "pressure": st.floats(5e4, 3e5),
        "free": st.one_of(st.just(0.0), st.floats(0.0, 0.5)),
        "line_gas": st.one_of(st.just(0.0), st.floats(0.0, 1.0)),
    }
)
routings = st.sampled_from([{}, TO_RESERVOIR, UNCONTROLLED])


@given(states, routings, st.sampled_from(PLACES), st.floats(10.0, 800.0), st.floats(0.0, 150e5), st.floats(0.2, 1.0))
@settings(max_examples=200, deadline=None)
def test_pump_inlet_and_steering_agree(oil_state, changes, place, speed, load, bore_share):
    c = Circuit(changes, **oil_state)
    p = c.parameters
    p.relief_place = place
    flows = c.flows(speed, load, bore_share=bore_share)
    geometric = p.displacement * flows.pump_speed
    before = c.supply(bore_share=bore_share)
    at_inlet = intake(p, before, flows.feed_flow, flows.pump_speed, viscosity(p, c.temperature))
    standing = flows.feed_flow <= 2e-7 * geometric
    # the root is found to 1e-7 of the geometric flow; what the port sees follows the flow more steeply
    if flows.starved == 1:
        assert flows.filling < at_inlet.filling
        assert standing or at_inlet.shortage == pytest.approx(0.0, abs=10.0)
    else:
        assert standing or flows.filling == pytest.approx(at_inlet.filling, abs=1e-5)
        assert standing or at_inlet.shortage < 10.0
    if flows.starved == 2:
        least = max(before.vapour_pressure, LEAST_CHAMBER_PRESSURE)
        assert standing or at_inlet.chamber_pressure == pytest.approx(least, abs=1.0)
    assert 0.0 <= flows.steering_flow <= min(p.set_flow, geometric) * (1.0 + 1e-9)
    assert 0.0 <= flows.feed_flow <= geometric * (1.0 + 1e-9)
    heats = flows.pump_heat + flows.gear_heat + flows.cooler_heat + flows.reservoir_heat
    assert heats + flows.ram_power == pytest.approx(flows.shaft_power, rel=1e-9)


@given(states, st.sampled_from([TO_RESERVOIR, UNCONTROLLED]), st.floats(20.0, 800.0), st.floats(0.0, 90e5))
@settings(max_examples=100, deadline=None)
def test_more_gas_never_raises_the_delivery(oil_state, changes, speed, load):
    delivered = []
    for more in (0.0, 0.02, 0.2):
        c = Circuit(changes, **{**oil_state, "free": oil_state["free"] + more})
        c.parameters.relief_place = RELIEF_IN_RESERVOIR  # all that is delivered comes through the line
        c.state.surface_height = 0.3  # the bubbles would raise it
        delivered.append(c.flows(speed, load).feed_flow)
    slack = 2e-7 * c.parameters.displacement * c.parameters.drive_ratio * speed  # the root's tolerance
    assert delivered[1] <= delivered[0] + slack
    assert delivered[2] <= delivered[1] + slack


def test_flow_control_keeps_its_flow_while_the_filling_suffices():
    clear, bubbly, foam = (Circuit(free=free).flows(500.0, 20e5) for free in (0.0, 0.3, 4.0))
    set_flow = circuit().set_flow
    assert clear.steering_flow == bubbly.steering_flow == pytest.approx(set_flow, rel=1e-12)
    assert 0.6 < bubbly.filling < 0.85
    assert foam.steering_flow < 0.6 * set_flow
    assert foam.starved == bubbly.starved == 0


def test_filling_is_that_of_gas_in_the_chambers_and_torque_goes_with_it():
    c = Circuit(UNCONTROLLED, free=0.2)
    p = c.parameters
    p.port_loss = p.port_viscous_loss = 0.0
    flows = c.flows(300.0, 40e5)
    # Boyle: a fifth at 200 kPa of the headspace is this much at the port; saturated oil there lets nothing out
    at_port = 0.2 * 2e5 / flows.intake.pressure
    assert flows.filling == pytest.approx(1.0 / (1.0 + at_port), rel=1e-3)  # tank at 2e5, density 1e-4
    full = Circuit(UNCONTROLLED).flows(300.0, 40e5)
    assert flows.shaft_power < 0.9 * full.shaft_power


def test_a_line_full_of_gas_gives_nothing_and_the_pump_turns_idle():
    flows = Circuit(line_gas=1.0).flows(500.0, 20e5)
    assert flows.feed_flow == pytest.approx(0.0, abs=1e-10)
    assert flows.filling == pytest.approx(0.0, abs=1e-6)
    assert flows.shaft_power > 0.0
