"""Where the model is easily broken: nearly full tanks, fast samples, air that goes in and out at once."""

import numpy as np
import pytest

from support import truck
from ullage.results.balance import audit
from ullage.results.trace import trace_race
from ullage.scenario.compile import compile_problem

MODELS = ("frozen", "kinetic", "equilibrium")


def marched(changes):
    problem = compile_problem(truck(changes).spec)
    trace = trace_race(problem)
    assert trace.status == 0
    balances = audit(problem.parameters, trace.rows)
    assert max(balances.oil, balances.air) < 1e-10
    assert balances.energy < 1e-6
    return trace


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("fill", [0.92, 0.95, 0.97])
def test_a_tank_whose_oil_can_dissolve_all_its_air_takes_no_more_steps_than_another(fill, model):
    hot = [{"duration": "14 min", "vehicle_speed": "30 km/h", "engine_speed": "4000 rpm", "steering_load": "30 bar"}]
    trace = marched({"reservoir.fill": fill, "air.model": model, "duty.segment": hot})
    # one step of oil and one of gas a second, and as much again where the cap lifts
    assert trace.state.steps < 20 * len(trace.rows)


@pytest.mark.parametrize(
    ("engine_speed", "circuit"),
    [
        ("6000 rpm", {"pump.bypass_routing": "reservoir", "feed_line.bore": "15.9 mm"}),
        ("6000 rpm", {"pump.bypass_routing": "reservoir", "feed_line.length": "3 m"}),
        ("1800 rpm", {"pump.controlled_flow": None, "pump.bypass_routing": None, "start.temperature": "-20 degC"}),
    ],
)
def test_inertia_of_the_line_leaves_steady_running_alone_however_short_the_samples(engine_speed, circuit):
    steady = [{"duration": "12 s", "vehicle_speed": "60 km/h", "engine_speed": engine_speed, "steering_load": "5 bar"}]
    flows = []
    for interval in ("0.5 s", "0.1 s", "0.01 s"):
        rows = marched({**circuit, "duty.segment": steady, "duty.sample_interval": interval}).rows
        settled = rows.pump_flow[rows.time > 2.0]
        flows.append(settled)
        # the pump warms up within ten seconds; a flow that flips from step to step would differ by all of itself
        assert np.ptp(np.diff(settled)) < 0.02 * settled.mean()
    means = [values.mean() for values in flows]
    assert means == pytest.approx([means[0]] * 3, rel=5e-3)  # a rectangle of samples less or more


def test_a_line_that_gathers_speed_lowers_the_feed_pressure_only_where_samples_show_it():
    ramp = [
        {"duration": "5 s", "engine_speed": "1000 rpm"},
        {"duration": "5 s", "engine_speed": "2200 rpm"},
    ]
    still = {"pump.controlled_flow": None, "pump.bypass_routing": None, "duty.segment": ramp}
    fast, slow = (marched({**still, "duty.sample_interval": step}).rows for step in ("0.05 s", "0.5 s"))
    # engine speed jumps, and a jump sets no column in motion: both agree just before and well after
    for time in (4.5, 9.5):
        pair = [rows.feed_pressure[np.searchsorted(rows.time, time - 1e-6)] for rows in (fast, slow)]
        assert pair[0] == pytest.approx(pair[1], abs=100.0)


def test_the_kinetic_race_can_lie_outside_the_other_two():
    """Bubbles dissolve under the supply pressure: oil then holds more air than equilibrium with the tank allows."""
    drawn = {"return_line.entrainment": 0.005, "duty.laps": 2}
    last = {model: marched({**drawn, "air.model": model}).rows[-1] for model in MODELS}
    assert last["kinetic"].dissolved_air_pressure > 1.05 * last["equilibrium"].dissolved_air_pressure
    assert last["kinetic"].headspace_pressure < min(last[m].headspace_pressure for m in ("frozen", "equilibrium"))
