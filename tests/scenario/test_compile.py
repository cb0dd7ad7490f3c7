import numpy as np
import pytest

from support import truck
from ullage.errors import ScenarioError
from ullage.kernel.params import CHANNEL_INDEX
from ullage.physics.air import GAS_CONSTANT
from ullage.scenario.circuit import initial_gas
from ullage.scenario.compile import compile_problem, compile_problems
from ullage.scenario.load import Scenario

# A truck that uses every part, so that no quantity may be idle.
FULL = truck(
    {
        "fluid.viscosity_40": "34 mm2/s",
        "fluid.viscosity_100": "7.3 mm2/s",
        "fluid.density_15": "870 kg/m3",
        "fluid.cold_temperature": "-20 degC",
        "fluid.cold_viscosity": "900 mm2/s",
        "fluid.water_content": 1e-4,
        "cooler.fan_air_speed": "3 m/s",
        "cooler.fan_on_temperature": "82 degC",
        "cooler.fan_off_temperature": "75 degC",
        "cooler.thermostat_open_temperature": "70 degC",
        "cooler.thermostat_shut_temperature": "60 degC",
        "start.temperature": "25 degC",
        "start.elevation": "900 m",
        "start.headspace_pressure": "0.2 barg",
        "output.interval": "5 s",
        "duty.segment.0.elevation": "950 m",
        "duty.seed": 3,
        "duty.segment.0.vehicle_speed_spread": "5 km/h",
        "duty.segment.0.engine_speed_spread": "300 rpm",
        "duty.segment.0.steering_load_spread": "9 bar",
        "duty.segment.0.steering_load_peak": "80 bar",
        "duty.segment.0.lock_holds": 3,
        "duty.segment.0.water_temperature": "15 degC",
        "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "5 min"}],
        "event": [
            {"action": "cap off", "stop": "pit", "after": "1 min"},
            {
                "action": "top-up",
                "stop": "pit",
                "after": "2 min",
                "volume": "0.1 L",
                "temperature": "10 degC",
                "duration": "20 s",
            },
            {"action": "engine off", "time": "14 min"},
        ],
    }
)
NOT_MARCHED = {"event.2.after"}  # a delay without a stop
# where gears are changed: it takes more than a little to move a change
STEPS = {
    "duty.segment.0.engine_speed_low": "2600 rpm",
    "duty.segment.0.engine_speed_high": "5300 rpm",
    "duty.change.0.engine_speed_factor": 1.0,
}
FAULTS = {
    "seal leak": {"diameter": "0.5 mm"},
    "blocked cooler": {"share": "60 %"},
    "collapsed hose": {"share": 0.4},
    "blocked strainer": {"factor": 20},
    "lost oil": {"volume": "0.2 L", "duration": "40 s"},
    "water got in": {"volume": "5 mL"},
}
PUMP_POINTS = {
    "flow_point": {"speed": "1500 rpm", "pressure": "50 bar", "flow": "30 L/min", "viscosity": "30 mm2/s"},
    "torque_point": {"speed": "1500 rpm", "pressure": "50 bar", "torque": "26 N*m", "viscosity": "30 mm2/s"},
}
WEATHER = [{"time": "0 s", "temperature": "25 degC"}, {"time": "8 min", "temperature": "28 degC"}]
BROKEN = [{"action": "fault on", "fault": name, "time": "1 min", **size} for name, size in FAULTS.items()]
BASES = {
    "full": FULL,
    "points": truck({"weather.point": WEATHER, **{f"pump.{name}": point for name, point in PUMP_POINTS.items()}}),
    "faults": truck({"event": BROKEN, "start.trapped_air": "0.2 L"}),
    "equilibrium": truck(
        {"air.model": "equilibrium", "reservoir.surface_area": "300 cm2", "air.diffusivity": "1e-9 m2/s"}
    ),
    "plan": truck(
        {
            "duty.seed": 3,
            "duty.full_lock_load": "125 bar",
            "duty.segment.0.lock_holds": 2,
            "duty.segment.0.vehicle_speed": None,
            "duty.segment.0.vehicle_speed_low": "30 km/h",
            "duty.segment.0.vehicle_speed_high": "90 km/h",
            "duty.segment.0.engine_speed": None,
            "duty.segment.0.engine_speed_low": "2800 rpm",
            "duty.segment.0.engine_speed_high": "5500 rpm",
            "duty.segment.0.steering_load": None,
            "duty.segment.0.surface": "whoops",
            "duty.gear": [
                {"vehicle_speed": "38 km/h", "engine_speed": "5000 rpm"},
                {"vehicle_speed": "70 km/h", "engine_speed": "5000 rpm"},
                {"vehicle_speed": "100 km/h", "engine_speed": "5000 rpm"},
            ],
            "duty.change": [
                {"vehicle_speed_factor": 1.1, "engine_speed_factor": 0.95, "steering_load_factor": 1.2},
            ],
        }
    ),
    "length": truck({"duty.segment.0.length": "2 km", "duty.segment.0.duration": None}),
}
KEYS = [
    pytest.param(base, key.path, id=f"{base}-{key.path}")
    for base, scenario in BASES.items()
    for key in scenario.quantities()
    if key.value is not None
    and not key.path.startswith("pit.")
    and key.path not in NOT_MARCHED
    and (base == "full" or key.given)
]


def marched(scenario):
    """Return everything that the march takes, as one list of bytes."""
    return contents(compile_problem(scenario.spec))


def contents(problem):
    table = problem.table
    arrays = (table.time, table.channels, table.output_time, table.lap, table.distance, table.elevation)
    state = [np.asarray(problem.state[name]).tobytes() for name in problem.state.dtype.names]
    return [problem.parameters.tobytes(), *(array.tobytes() for array in arrays), *state]


def moved(value, low, high):
    """Return a value a little off, on the side where there is more room."""
    return value + 1e-4 * (high - value) if high - value > value - low else value - 1e-4 * (value - low)


def change_of(key):
    low, high = key.quantity.limits()
    if key.quantity.kind == "pressure level":
        kind = "gauge" if key.value.gauge else "abs"
        return f"{moved(key.value.pascal, low, high)!r} Pa {kind}"
    return moved(key.value, low, high)


WHOLE = [
    {},
    {"duty.laps": 2},
    {"event": [{"action": "cap off", "time": "2 min"}]},
    {"event": [{"action": "cap off", "time": "3 min"}]},
    {"event": [{"action": "fault on", "fault": "collapsed hose", "time": "1 min"}]},
    {"duty.stop": [{"name": "late", "after_lap": 1, "duration": "1 min"}]},
    {"fluid.preset": "ISO VG 46"},
    {"cap.kind": "vented"},
    {"air.model": "equilibrium"},
]


@pytest.mark.parametrize(("base", "path"), KEYS)
def test_every_quantity_reaches_the_march(base, path):
    scenario = BASES[base]
    (key,) = [key for key in scenario.quantities() if key.path == path]
    change = STEPS[path] if base == "plan" and path in STEPS else change_of(key)
    assert marched(scenario.replace({path: change})) != marched(scenario)


@pytest.mark.parametrize("base", BASES)
def test_races_compiled_together_are_those_compiled_apart(base):
    keys = {key.path: key for key in BASES[base].quantities()}
    paths = [parameter.values[1] for parameter in KEYS if parameter.values[0] == base]
    races = [BASES[base].replace({path: change_of(keys[path])}) for path in paths]
    if base == "length":
        races += [truck(change) for change in WHOLE]
    together = compile_problems([race.spec for race in (BASES[base], *races)])
    assert contents(next(together)) == marched(BASES[base])
    for problem, race in zip(together, races, strict=True):
        assert contents(problem) == marched(race)


def test_races_with_the_same_channels_share_a_table():
    cap = FULL.replace({"cap.relief_pressure": "9 psi", "reservoir.volume": "8 L", "air.model": "frozen"})
    other = FULL.replace({"cap.leak_diameter": "1 mm"})
    again = Scenario.from_toml(FULL.to_toml())
    one, two, three, four = compile_problems([FULL.spec, other.spec, cap.spec, again.spec])
    assert one.table is three.table is four.table is not two.table
    assert one.parameters.relief_crack != three.parameters.relief_crack


def test_no_race_depends_on_the_study_of_a_stop():
    events = [{"action": "cap off", "after": "2 min"}, {"action": "cap on", "after": "3 min"}]
    pit = {
        **{"stop": "pit", "open_for": "2 min", "top_up_volume": "0.3 L", "recharge_pressure": "0.4 barg"},
        **{"open_below": "60 degC", "longest_wait": "1 h", "overnight": "9 h", "overnight_temperature": "5 degC"},
        "choice": [{"name": "look", "stop_duration": "9 min", "engine": "off", "engine_speed": 90.0, "event": events}],
    }
    asked = FULL.replace({"pit": pit})
    one, other = compile_problems([FULL.spec, asked.spec])
    assert one.table is other.table
    assert contents(one) == contents(other)
    assert asked.hash != FULL.hash


def test_compiling_twice_gives_the_same_and_own_memory():
    assert marched(FULL) == marched(Scenario.from_toml(FULL.to_toml()))
    one, other = compile_problem(FULL.spec), compile_problem(FULL.spec)
    one.state.oil_mass = 0.0
    one.state.temperature[:] = 0.0
    assert other.state.oil_mass > 1.0
    assert np.all(other.state.temperature > 200.0)


def test_initial_state_holds_the_gas_of_the_start():
    problem, gas = compile_problem(FULL.spec), initial_gas(FULL.spec)
    state = problem.state
    assert np.all(state.temperature == gas.temperature)
    pressure = state.air_mass * GAS_CONSTANT * gas.temperature / gas.headspace_volume
    assert pressure == pytest.approx(gas.air_pressure, rel=1e-14)  # ideal gas, rounding
    assert (state.oil_mass, state.dissolved_air) == (gas.oil_mass, gas.dissolved_air)
    assert state.trapped_air == gas.trapped_air == 0.0
    assert (state.time, state.shaft_work, state.steps, state.relief_open) == (0.0, 0.0, 0, 0)
    assert state.cap_on == 1


@pytest.mark.parametrize(
    ("temperature", "fan", "opened"), [("59 degC", 0, 0), ("71 degC", 0, 1), ("81.9 degC", 0, 1), ("82.1 degC", 1, 1)]
)
def test_fan_and_thermostat_start_as_the_oil_is_warm(temperature, fan, opened):
    state = compile_problem(FULL.replace({"start.temperature": temperature, "reservoir.fill": 0.7}).spec).state
    assert (state.fan_called, state.cooler_open) == (fan, opened)


def test_fan_and_thermostat_without_settings():
    state = compile_problem(truck().spec).state
    assert (state.fan_called, state.cooler_open) == (0, 1)
    assert compile_problem(truck({"cooler.fan_air_speed": "3 m/s"}).spec).state.fan_called == 1


def test_problem_carries_events_and_stops_and_the_tolerances():
    problem = compile_problem(FULL.spec, 0.1)
    assert [event.name for event in problem.events] == ["cap", "top-up", "engine"]
    assert [(stop.name, stop.start, stop.end) for stop in problem.stops] == [("pit", 600.0, 900.0)]
    assert problem.parameters.pressure_tolerance == pytest.approx(2.0, rel=1e-15)  # one product


def test_trapped_air_is_in_the_first_state():
    spec = BASES["faults"].spec
    assert compile_problem(spec).state.trapped_air == initial_gas(spec).trapped_air > 0.0


def test_channels_of_a_sound_truck_are_those_of_the_scenario():
    changes = {"cap.leak_diameter": "1 mm", "cooler.blockage": 0.3, "fluid.water_content": 1e-4}
    channels = compile_problem(truck(changes).spec).table.channels
    expected = {"leak_area": 0.7 * np.pi * 0.25e-6, "core_blockage": 0.3, "water_content": 1e-4}
    for name, value in (expected | {"strainer_factor": 1.0, "bore_share": 1.0, "relief_stuck": 0.0}).items():
        assert channels[:, CHANNEL_INDEX[name]] == pytest.approx(value, rel=1e-14)  # rounding


def test_output_interval_is_the_sample_interval_unless_given():
    assert len(compile_problem(truck({"duty.sample_interval": "2 s"}).spec).table.output_time) == 301
    thinned = compile_problem(truck({"duty.sample_interval": "2 s", "output.interval": "1 min"}).spec).table
    assert thinned.kept.sum() == 11
    assert len(thinned.time) == 301


@pytest.mark.parametrize(
    ("times", "cap_on"),
    [
        pytest.param(["3 min", "4 min"], "5 min", id="one after the other"),
        pytest.param(["3 min", "190 s"], "5 min", id="overlapping"),
        pytest.param(["590 s"], None, id="longer than the race"),
        pytest.param(["3 min"], "190 s", id="longer than the cap is off"),
    ],
)
def test_top_up_is_poured_whole_with_the_cap_off_or_refused(times, cap_on):
    pours = [{"action": "top-up", "time": time, "volume": "0.1 L", "duration": "20 s"} for time in times]
    ends = [{"action": "cap on", "time": cap_on}] if cap_on else []
    try:
        problem = compile_problem(truck({"event": [{"action": "cap off", "time": "1 min"}, *pours, *ends]}).spec)
    except ScenarioError:
        problem = None
    assert problem is not None or times[-1] != "4 min"  # one after the other is right
    if problem is not None:
        flow, cap = (problem.table.channels[:, CHANNEL_INDEX[name]] for name in ("top_up_flow", "cap_on"))
        wanted = sum(event.mass for event in problem.events)
        assert np.trapezoid(flow, problem.table.time) == pytest.approx(wanted, rel=1e-10)  # times set to nanoseconds
        assert np.all(cap[flow > 0.0] == 0.0)


@pytest.mark.parametrize(("interval", "rows"), [("1 s", 0), ("0.1 s", 2), ("50 ms", 4)])
def test_landing_is_in_the_results_if_the_samples_are_short(interval, rows):
    drive = {"vehicle_speed": "60 km/h", "engine_speed": "4000 rpm"}
    landing = {**drive, "duration": "0.2 s", "upward_acceleration": "5 gn"}
    segments = [{**drive, "duration": "1.35 s"}, landing, {**drive, "duration": "2 s"}]
    table = compile_problem(truck({"duty.segment": segments, "duty.sample_interval": interval}).spec).table
    up = table.channels[table.output_rows >= 0, CHANNEL_INDEX["upward_acceleration"]]
    assert np.count_nonzero(up) == rows
    # the march feels it whatever the samples
    assert table.channels[:, CHANNEL_INDEX["upward_acceleration"]].max() == pytest.approx(5 * 9.80665, rel=1e-12)
