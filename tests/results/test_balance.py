import numpy as np
import pytest

from support import truck
from ullage.results.balance import audit
from ullage.results.trace import trace_race
from ullage.scenario.compile import compile_problem

PIT = {"name": "pit", "after_lap": 1, "duration": "5 min", "engine": "off"}
RACES = {
    "plain": {},
    "busy": {
        "cap.relief_pressure": "3 psi",
        "start.temperature": "60 degC",
        "duty.stop": [PIT],
        "event": [
            {"action": "cap off", "stop": "pit", "after": "1 min"},
            {"action": "top-up", "stop": "pit", "after": "90 s", "volume": "0.2 L", "temperature": "10 degC"},
            {"action": "cap on", "stop": "pit", "after": "3 min"},
        ],
    },
    "vented": {"cap.kind": "vented", "fluid.water_content": 1e-4, "steering_gear.work_share": 0.3},
    "overfull": {"reservoir.fill": 0.96, "cap.relief_pressure": "3 psi", "duty.segment.0.steering_load": "60 bar"},
    "moving ram": {"steering_gear.rod_volume": "100 mL", "duty.segment.0.steering_position": 0.8},
}


def race(name):
    """Return parameters and trace of a race."""
    problem = compile_problem(truck(RACES[name]).spec)
    return problem.parameters, trace_race(problem)


@pytest.fixture(scope="module")
def busy():
    parameters, trace = race("busy")
    return parameters, trace.rows


def tampered(rows, name, change, row=400):
    """Return a copy of the rows with one value changed."""
    copy = np.array(rows).view(np.recarray)
    copy[name][row] = change(copy[name][row])
    return copy


@pytest.mark.parametrize("name", RACES)
def test_good_race_accounts_for_oil_air_and_energy(name):
    parameters, trace = race(name)
    found = audit(parameters, trace.rows)
    assert trace.status == 0
    # Masses and energy are carried in flux form, so that only rounding over some thousand steps is left.
    assert found.oil < 1e-10
    assert found.air < 1e-10
    assert found.energy < 1e-6


def test_races_above_move_what_they_are_to_prove():
    busy, overfull = race("busy")[1].rows[-1], race("overfull")[1].rows[-1]
    assert min(busy.air_vented, busy.air_admitted, busy.oil_added, busy.shaft_work, busy.cooler_energy) > 0.0
    assert overfull.oil_lost > 1e-3
    assert race("vented")[1].rows[-1].ram_work > 0.0


def test_audit_uses_the_rows_and_not_what_the_march_carried(busy):
    parameters, rows = busy
    for name in ("time", "shaft_power", "cooler_heat", "cap_air_flow", "cap_state", "headspace_air_mass", "oil_level"):
        assert audit(parameters, tampered(rows, name, lambda value: value + 1)) == audit(parameters, rows)


# A fault of one part in a thousand of what the circuit holds, at one row, moves its own balance by as much.
@pytest.mark.parametrize(
    ("name", "balance"),
    [
        ("oil_lost", "oil"),
        ("oil_drawn_off", "oil"),
        ("oil_added", "oil"),
        ("air_vented", "air"),
        ("air_admitted", "air"),
        ("air_lost", "air"),
        ("air_added", "air"),
    ],
)
def test_mass_that_is_not_accounted_for_shows_in_its_balance_alone(busy, name, balance):
    parameters, rows = busy
    held = {"oil": rows.oil_mass[0], "air": rows.headspace_air_mass[0] + rows.dissolved_air_mass[0]}[balance]
    good, found = audit(parameters, rows), audit(parameters, tampered(rows, name, lambda value: value + 1e-3 * held))
    for other in found._fields:
        # Rounding, and the dissolved air that the store holds instead of what is shown: 1e-10.
        expected = 1e-3 if other == balance else getattr(good, other)
        assert getattr(found, other) == pytest.approx(expected, rel=1e-6, abs=1e-14)


@pytest.mark.parametrize(
    "name",
    [
        "shaft_work",
        "ram_work",
        "cooler_energy",
        "surroundings_energy",
        "top_up_energy",
        "air_energy",
        "lost_energy",
    ],
)
def test_energy_that_is_not_accounted_for_shows_in_its_balance_alone(busy, name):
    parameters, rows = busy
    scale = rows.shaft_work[-1]
    found = audit(parameters, tampered(rows, name, lambda value: value + 1e-3 * scale))
    assert found.energy == pytest.approx(1e-3, rel=0.5)  # the scale is the largest of work, heat and store
    assert found[:2] == audit(parameters, rows)[:2]


def test_pressure_that_is_wrong_shows_in_air_and_oil(busy):
    parameters, rows = busy
    found = audit(parameters, tampered(rows, "headspace_pressure", lambda value: 1.01 * value))
    # One percent of the air of the air space, which holds most of the air; wall and oil yield some mL of 9 L.
    assert 3e-3 < found.air < 1.2e-2
    assert found.oil > 1e-8


def test_volume_that_is_wrong_shows_in_air_and_oil(busy):
    parameters, rows = busy
    found = audit(parameters, tampered(rows, "headspace_volume", lambda value: value + 1e-5))
    assert found.oil == pytest.approx(1e-5 / 9.5e-3, rel=0.1)  # 10 mL of some 9.5 L
    assert found.air > 1e-3


@pytest.mark.parametrize("node", range(4))
def test_temperature_that_is_wrong_shows_in_energy_and_oil(busy, node):
    parameters, rows = busy
    changed = np.array(rows).view(np.recarray)
    changed.oil_temperature[400, node] += 1.0
    good, found = audit(parameters, rows), audit(parameters, changed)
    # One kelvin of one node: at least 0.3 L of oil and 2 kJ/K of metal, of some 3 MJ.
    assert found.energy > 1e-4 > 100.0 * good.energy
    assert found.oil > 1e-6 > 100.0 * good.oil


def test_race_of_one_row_is_balanced(busy):
    parameters, rows = busy
    assert audit(parameters, rows[:1]) == (0.0, 0.0, 0.0)
