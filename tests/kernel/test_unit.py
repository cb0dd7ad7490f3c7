import itertools

import numpy as np
import pytest

from support import truck
from ullage.errors import STATUS_AT_ODDS, STATUS_DONE, STATUS_OIL_GONE
from ullage.kernel.inputs import INPUTS
from ullage.kernel.unit import advance_unit, begin_unit
from ullage.results.trace import trace_race
from ullage.scenario.compile import compile_problem, compile_unit, forcing_of, inputs_of
from ullage.scenario.race import race_pieces


def begun(scenario, tolerance_factor=1.0):
    units = compile_unit(scenario.spec, tolerance_factor)
    begin_unit(units)
    return units


def step(units, seconds, **values):
    """Set inputs at the end of a step, and march it."""
    for name, value in values.items():
        units["inputs"][0, 1][name] = value
    return advance_unit(units, seconds)


def driven(scenario):
    """March a unit with the inputs of a scenario's race; return it and all its outputs."""
    race = inputs_of(race_pieces(scenario.spec)[0], forcing_of(scenario.spec))
    units = begun(scenario)
    rows = [units["rows"][0].copy()]
    for before, after, (start, end) in zip(race.before, race.after, itertools.pairwise(race.knots), strict=True):
        units["inputs"][0, 0], units["inputs"][0, 1] = before, after
        assert advance_unit(units, end - start) == STATUS_DONE
        rows.append(units["rows"][0].copy())
    return units, np.concatenate(rows), race


def test_race_that_is_marched_step_by_step_is_the_race_to_the_last_bit():
    scenario = truck(
        {
            "duty.segment.0.duration": "2 min",
            "duty.segment.0.steering_position": 0.5,
            "event": [
                {"time": "20 s", "action": "cap off"},
                {"time": "30 s", "action": "top-up", "volume": "0.2 L", "duration": "5 s"},
                {"time": "40 s", "action": "fault on", "fault": "filled hot to the cold mark"},
                {"time": "50.5 s", "action": "cap on"},
                {"time": "60 s", "action": "engine off"},
                {"time": "80 s", "action": "engine on"},
            ],
        }
    )
    units, rows, race = driven(scenario)
    whole = trace_race(compile_problem(scenario.spec))
    assert rows[np.isin(race.knots, race.output_time)].tobytes() == np.asarray(whole.rows).tobytes()
    assert units["states"][0, 0].tobytes() == np.asarray(whole.state).tobytes()


def test_a_copy_of_its_bytes_is_a_copy_of_the_simulation():
    units = begun(truck())
    step(units, 60.0)
    other = units.copy()
    step(units, 0.25, engine_speed=300.0)
    first = units["rows"].tobytes()
    step(units, 10.0, cap_on=0.0)
    assert step(other, 0.25, engine_speed=300.0) == STATUS_DONE
    assert other["rows"].tobytes() == first


def test_jump_is_shown_and_moves_nothing_but_the_inputs():
    units = begun(truck())
    step(units, 60.0)
    state, warmth, before = units["states"][0, 0].tobytes(), units["warmth"].tobytes(), units["rows"][0, 0].copy()
    assert step(units, 0.0, engine_speed=700.0, elevation=1000.0) == STATUS_DONE
    shown = units["rows"][0, 0]
    assert units["states"][0, 0].tobytes() == state
    assert units["warmth"].tobytes() == warmth
    assert shown["time"] == before["time"]
    assert shown["pump_speed"] == pytest.approx(700.0 * 0.7, rel=1e-15)  # one product
    assert shown["ambient_pressure"] < before["ambient_pressure"] - 11e3  # some 11 Pa a metre, ISO 2533
    assert shown["headspace_pressure"] == pytest.approx(before["headspace_pressure"], rel=1e-12)  # the gas is as it was
    assert shown["cavitation_exposure"] == before["cavitation_exposure"]


def test_jump_and_back_is_shown_as_it_is_and_one_that_moves_nothing_not_at_all():
    units = begun(truck())
    step(units, 60.0)
    before = units["rows"].tobytes()
    step(units, 0.0)
    assert units["rows"].tobytes() == before
    own = float(units["inputs"][0, 1]["engine_speed"])
    step(units, 0.0, engine_speed=700.0)
    step(units, 0.0, engine_speed=own)
    assert units["rows"][0, 0]["pump_speed"] == own * 0.7


def test_jump_and_step_are_what_two_rows_at_one_time_are_in_a_race():
    jumped, ramped = begun(truck()), begun(truck())
    step(jumped, 0.0, engine_speed=700.0)
    step(jumped, 1.0)
    step(ramped, 1.0, engine_speed=700.0)
    held, risen = jumped["rows"][0, 0]["shaft_work"], ramped["rows"][0, 0]["shaft_work"]
    assert held > 1.2 * risen  # it turned faster for all of the second


def test_steps_end_on_the_clock_of_races_whatever_their_sums_round_to():
    units = begun(truck())
    for _ in range(1000):
        step(units, 0.1)
    assert units["states"][0, 0]["time"] == 100.0
    step(units, 1.0 / 3.0)
    assert units["states"][0, 0]["time"] == 100.0 + 1.0 / 3.0  # a third of a second is no whole nanosecond


def test_unit_that_failed_stays_as_it_is():
    units = begun(truck())
    assert step(units, 1e5, drain_flow=0.01) == STATUS_OIL_GONE
    # the bits of the status are those of the failure; outputs stay at the last step that was done
    kept = units.tobytes()
    assert step(units, 1.0, drain_flow=0.0) == STATUS_OIL_GONE
    units["inputs"][0, 1]["drain_flow"] = 0.01
    assert units.tobytes() == kept


def test_switches_of_a_step_are_forgotten_with_the_next():
    hot = truck({"reservoir.fill": 0.97, "cap.relief_pressure": "2 psi"})
    units = begun(hot)
    opened = 0.0
    for _ in range(600):
        step(units, 1.0, steering_load=60e5)
        opened += units["log"][0, 0, 0, 0]
    assert opened == units["states"][0, 0]["relief_openings"] > 0
    step(units, 0.0)
    assert not units["log"].any()


def test_every_input_is_at_its_place():
    assert [*begun(truck())["inputs"].dtype.names] == [*INPUTS]


@pytest.mark.parametrize(
    "changes",
    [
        {"fluid_viscosity_100": 40e-6},
        {"cooler_fan_on_temperature": 340.0, "cooler_fan_off_temperature": 350.0, "cooler_fan_air_speed": 3.0},
        {"cooler_thermostat_open_temperature": 340.0, "cooler_thermostat_shut_temperature": 350.0},
        {"reservoir_fill": 0.97, "start_temperature": 393.0},
        {"start_headspace_pressure": -150e3},
        {"pump_flow_point_flow": 1e-2, "pump_flow_point_speed": 100.0, "pump_flow_point_pressure": 1e7}
        | {"pump_flow_point_viscosity": 2e-5},
    ],
)
def test_settings_that_cannot_be_those_of_one_circuit_do_not_begin(changes):
    units = compile_unit(truck().spec)
    for name, value in changes.items():
        units["settings"][0][name] = value
    assert begin_unit(units) == STATUS_AT_ODDS
    assert step(units, 1.0) == STATUS_AT_ODDS
