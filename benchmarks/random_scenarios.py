"""March random races with a cap opening, air put in, a fan forced on, and a few faults.

Every numeric key is drawn over its whole accepted range. A race lasts ten minutes; one in three lasts 20 s with samples
of 10 ms to 0.1 s, for there the oil in the feed line has inertia.

    python benchmarks/random_scenarios.py --count 2000 --seed 1

A key is drawn log-uniformly where its range spans a decade, else uniformly. Times of events, how long a top-up pours,
and lengths of segments follow from the length of the race. Draws that a scenario file would refuse
(a fan that stops above its start, a tank that the parts drain) are drawn again. Prints one JSON line: races, refused
draws, failures, short races, races in which wet oil boiled over, worst balances (of races whose air space is more
than vapour); every failing scenario is named by
its seed. Exit code 1 if there is a failure.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import sys
import typing

import numpy as np
import xarray as xr
from pydantic import BaseModel

import ullage as ul
from ullage.duty.events import CAP_VALVES, FAULTS, RECHARGE, TO_THE_MARK
from ullage.duty.generator import ENGINE_FURTHEST, FURTHEST, largest_load_spread
from ullage.errors import STATUS_OIL_GONE
from ullage.results.variables import WHILE_TURNING
from ullage.scenario.duty_spec import Duty, Output, ScenarioSpec, Stop, Weather, WeatherPoint
from ullage.scenario.event_spec import FAN_AUTO, FAN_ON, FAULT_OFF, FAULT_ON, FAULT_SIZES, Event
from ullage.scenario.fields import Quantity, quantity_of
from ullage.scenario.lap_spec import Segment
from ullage.scenario.presets import GRADES
from ullage.units import KINDS, parse

LONG_RACE, SHORT_RACE = 600.0, 20.0
FAST_SAMPLES = ("10 ms", "0.1 s")
BANDS = [f"{name}_speed_{end}" for name in ("vehicle", "engine") for end in ("low", "high")]
BOILING = 0.7
ROUNDINGS = 4.0  # of both pressures and of their difference in a product
ONE_TENTH = 0.1
LIMITS = {"oil_balance": 1e-10, "air_balance": 1e-10, "energy_balance": 1e-6}


def draw_quantity(quantity: Quantity, draw: random.Random) -> str:
    """Draw a value over the whole accepted range and write it as a scenario file would."""
    low, high = quantity.limits()
    if low > 0.0 and high / low >= 10.0:
        value = math.exp(draw.uniform(math.log(low), math.log(high)))
    else:
        value = draw.uniform(low, high)
    value = min(max(value, low), high)
    if quantity.kind == "pressure level":
        return f"{value!r} Pa gauge"
    return f"{value!r} {KINDS[quantity.kind].unit}" if quantity.kind != "number" else repr(value)


def limits(model: type[BaseModel], name: str) -> tuple[float, float]:
    """Return the accepted range of a quantity, SI units."""
    quantity = quantity_of(model, name)
    assert quantity is not None
    return quantity.limits()


def draw_spec(model: type[BaseModel], draw: random.Random) -> dict[str, object]:
    """Draw every quantity and every choice of a specification; tables inside it are drawn by the caller's rules."""
    values: dict[str, object] = {}
    for name, field in model.model_fields.items():
        quantity = quantity_of(model, name)
        choices = [text for text in typing.get_args(field.annotation) if isinstance(text, str)]
        if quantity is not None:
            text = draw_quantity(quantity, draw)
            values[name] = float(text) if quantity.kind == "number" else text
        elif choices:
            values[name] = draw.choice(choices)
    return values


def draw_events(draw: random.Random, race: float, held: float, *, sealed: bool) -> list[dict[str, object]]:
    """Draw a cap opening with a top-up or a fill to the mark while it is open, an engine stop, and a few faults.

    After it, at times, the tank is recharged, up to what it holds [Pa], and a fan is forced on for a while.
    """
    off, on = sorted(draw.uniform(0.0, race) for _ in range(2))
    stop, go = sorted(draw.uniform(0.0, race) for _ in range(2))
    events: list[dict[str, object]] = [
        {"action": "cap off", "time": f"{off} s"},
        {"action": "cap on", "time": f"{on} s"},
        {"action": "engine off", "time": f"{stop} s"},
        {"action": "engine on", "time": f"{go} s"},
    ]
    if draw.random() < 0.5:
        top_up = draw_spec(Event, draw)
        kept = {key: top_up[key] for key in ("volume", "temperature")}
        begin = draw.uniform(off, on)
        duration = f"{max(1.0, draw.uniform(0.0, on - begin))} s"
        events.insert(1, {"action": "top-up", "time": f"{begin} s", "duration": duration, **kept})
    if draw.random() < 0.2:
        events.insert(1, {"action": FAULT_ON, "fault": TO_THE_MARK, "time": f"{draw.uniform(off, on)} s"})
    if sealed and draw.random() < 0.3:
        begin = draw.uniform(on, race)
        duration = f"{max(1.0, draw.uniform(0.0, race - begin))} s"
        pressure = f"{draw.uniform(0.5, 1.0) * held} Pa gauge"
        events.append({"action": RECHARGE, "time": f"{begin} s", "duration": duration, "pressure": pressure})
    if draw.random() < 0.3:
        forced, given_back = sorted(draw.uniform(0.0, race) for _ in range(2))
        events += [{"action": FAN_ON, "time": f"{forced} s"}, {"action": FAN_AUTO, "time": f"{given_back} s"}]
    for name, effect in FAULTS.items():
        can = name != TO_THE_MARK and (sealed or effect.channel not in CAP_VALVES)
        if can and draw.random() < 0.15:
            events += draw_fault(name, draw, race)
    return events


def draw_fault(name: str, draw: random.Random, race: float) -> list[dict[str, object]]:
    """Draw a fault of any size, for ever or for a while."""
    begin, end = sorted(draw.uniform(0.0, race) for _ in range(2))
    event: dict[str, object] = {"action": FAULT_ON, "fault": name, "time": f"{begin} s"}
    if size := FAULT_SIZES.get(name):
        quantity = quantity_of(Event, size.key)
        assert quantity is not None
        event[size.key] = draw_quantity(quantity._replace(low=size.low, high=size.high), draw)
    if not FAULTS[name].curable or draw.random() < 0.5:
        return [event]
    return [event, {"action": FAULT_OFF, "fault": name, "time": f"{end} s"}]


def draw_spreads(segment: dict[str, object], draw: random.Random) -> dict[str, object]:
    """Draw spreads that fit the means of a segment, or none."""
    names = ("vehicle_speed", "engine_speed", "steering_load")
    if draw.random() < 0.5:
        return {f"{name}_spread": None for name in names} | {"steering_load_peak": None}
    vehicle, engine, load = (float(str(segment[name]).split()[0]) for name in names)
    fastest, most_turns, most_load = (limits(Segment, name)[1] for name in names)
    peak = draw.uniform(load, most_load)
    return {
        "vehicle_speed_spread": draw.uniform(0.0, 0.99) * min(vehicle, fastest - vehicle) / FURTHEST,
        "engine_speed_spread": draw.uniform(0.0, 0.99) * min(engine, most_turns - engine) / ENGINE_FURTHEST,
        "steering_load_spread": draw.uniform(0.0, 0.99) * largest_load_spread(load, peak),
        "steering_load_peak": peak,
    }


def draw_duty(draw: random.Random, race: float) -> dict[str, object]:
    """Draw a race of a length [s]: three segments and a stop, with fast samples if it is short."""
    segments = []
    for _ in range(3):
        segment = draw_spec(Segment, draw)
        for key in ("length", "duration_spread", "lock_hold", *BANDS):
            del segment[key]
        if draw.random() < 0.5:
            del segment["water_temperature"]
        segment["duration"] = f"{race / 4} s"
        held = {"lock_holds": draw.randrange(1, 4), "lock_hold": f"{race / 100} s"} if draw.random() < 0.3 else {}
        segments.append(segment | draw_spreads(segment, draw) | held)
    stop = {**draw_spec(Stop, draw), "name": "pit", "duration": f"{race / 4} s"}
    del stop["duration_spread"]
    stop |= draw.choice([{"after_lap": 0, "time": None}, {"after_lap": 1, "time": None}, {"time": f"{race / 3} s"}])
    duty = draw_spec(Duty, draw)
    if race == SHORT_RACE:
        interval = quantity_of(Duty, "sample_interval")
        assert interval is not None
        low, high = FAST_SAMPLES
        duty["sample_interval"] = draw_quantity(interval._replace(low=low, high=high), draw)
    return {**duty, "laps": 1, "seed": draw.randrange(1000), "segment": segments, "stop": [stop]}


def draw_fluid(draw: random.Random) -> dict[str, object]:
    """Draw an oil: a preset or its own data, with a cold point or without."""
    fluid = draw_spec(ScenarioSpec.model_fields["fluid"].annotation, draw)  # type: ignore[arg-type]
    if draw.random() < 0.3:
        for key in ("viscosity_40", "viscosity_100", "density_15"):
            del fluid[key]
        fluid["preset"] = draw.choice(list(GRADES))
    if draw.random() < 0.5:
        del fluid["cold_temperature"], fluid["cold_viscosity"]
    return fluid


def draw_pump(draw: random.Random) -> dict[str, object]:
    """Draw a pump, with its coefficients or with data-sheet points, with flow control or without."""
    model = ScenarioSpec.model_fields["pump"].annotation
    assert model is not None
    pump = draw_spec(model, draw)
    pump["bypass_routing"] = draw.choice(["inlet", "reservoir"])
    if draw.random() < 0.2:
        del pump["controlled_flow"]
    if draw.random() < 0.2:
        del pump["slip_coefficient"]
        point = draw_spec(typing.get_args(model.model_fields["flow_point"].annotation)[0], draw)
        pump["flow_point"] = point
    if draw.random() < 0.2:
        del pump["friction"]
        pump["torque_point"] = draw_spec(typing.get_args(model.model_fields["torque_point"].annotation)[0], draw)
    return pump


def draw_scenario(draw: random.Random) -> dict[str, object]:
    """Draw a whole scenario as nested dicts."""
    race = SHORT_RACE if draw.random() < 1.0 / 3.0 else LONG_RACE
    scenario: dict[str, object] = {"format": 1, "fluid": draw_fluid(draw), "pump": draw_pump(draw)}
    for part in ("reservoir", "cap", "steering_gear", "return_line", "cooler", "feed_line", "surroundings", "air"):
        model = ScenarioSpec.model_fields[part].annotation
        assert model is not None
        scenario[part] = draw_spec(model, draw)
    if draw.random() < 0.5:
        for key in ("thermostat_open_temperature", "thermostat_shut_temperature"):
            del scenario["cooler"][key]  # type: ignore[attr-defined]
    weather = draw_spec(Weather, draw)
    points = [{**draw_spec(WeatherPoint, draw), "time": f"{time} s"} for time in (0.0, 0.4 * race, race)]
    scenario["weather"] = {**weather, "point": points}
    start = draw_spec(ScenarioSpec.model_fields["start"].annotation, draw)  # type: ignore[arg-type]
    if draw.random() < 0.7:  # it must fit the steering gear and leave an air space: most draws would be refused
        del start["trapped_air"]
    scenario["start"] = start
    scenario["duty"] = draw_duty(draw, race)
    scenario["output"] = draw_spec(Output, draw)
    cap, limits_of = typing.cast("dict[str, str]", scenario["cap"]), (("reservoir", "rating"), ("pump", "seal_rating"))
    ratings = [parse(scenario[part][key], "pressure level") for part, key in limits_of]  # type: ignore[index]
    held = min(parse(cap["relief_pressure"], "pressure difference"), *ratings)
    scenario["event"] = draw_events(draw, race, held, sealed=cap["kind"] == "sealed")
    return scenario


def valid_scenario(seed: int) -> tuple[ul.Scenario, int]:
    """Draw until a scenario file would be accepted; return it and the number of refused draws."""
    draw = random.Random(seed)
    for refused in range(100_000):
        try:
            return ul.Scenario.from_dict(draw_scenario(draw)), refused
        except ul.ScenarioError:
            pass_on = refused
    raise RuntimeError(f"no valid scenario in {pass_on} draws")


def boiled_over(scenario: ul.Scenario) -> bool:
    """Return whether the tank ran dry because water all but boiled in it: bubbles without bound drive the oil out."""
    try:
        ul.simulate(scenario.replace({"output.interval": None}))  # all rows, so that the last is just before the end
    except ul.SimulationError as error:
        if error.status != STATUS_OIL_GONE or error.partial is None:
            return False
        return bool(error.partial.vapour_pressure[-1] > BOILING * error.partial.ambient_pressure[-1])
    return False


def lost_by_rounding(data: xr.Dataset) -> float:
    """Return what share an audit cannot tell: it takes the air's pressure as that of the air space less the vapour's.

    In an air space of all but pure vapour that is the small difference of two large numbers.
    """
    pressure = data.headspace_pressure
    return ROUNDINGS * float(np.finfo(float).eps * (pressure / (pressure - data.vapour_pressure)).max())


def main() -> int:
    """March the races and print what came of them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    worst = dict.fromkeys(LIMITS, 0.0)
    failures, boiled, refused_draws, short = [], [], 0, 0
    for seed in range(arguments.seed, arguments.seed + arguments.count):
        scenario, refused = valid_scenario(seed)
        refused_draws += refused
        short += scenario.spec.duty.segment[0].duration == SHORT_RACE / 4
        try:
            data = ul.simulate(scenario)
        except ul.SimulationError as error:
            if boiled_over(scenario):
                boiled.append(seed)
            else:
                failures.append({"seed": seed, "failure": str(error)})
            continue
        numbers = [name for name in data.data_vars if data[name].dtype.kind == "f"]
        known = dict.fromkeys(WHILE_TURNING, data.pump_speed.values > 0.0)
        bad = [str(name) for name in numbers if not (np.isfinite(data[name].values) == known.get(name, True)).all()]
        if bad:
            failures.append({"seed": seed, "failure": f"not finite: {', '.join(bad)}"})
        lost = lost_by_rounding(data)
        for name, limit in LIMITS.items():
            if lost < ONE_TENTH * limit:
                worst[name] = max(worst[name], data.attrs[name])
            if not data.attrs[name] <= limit + lost:
                failures.append({"seed": seed, "failure": f"{name} {data.attrs[name]:.2e}"})
    for failure in failures:
        print(json.dumps(failure))
    result = {
        "count": arguments.count,
        "failures": len(failures),
        "short_races": short,
        "boiled_over": boiled,
        "refused_draws": refused_draws,
        "worst": worst,
    }
    print(json.dumps({"name": "random_scenarios", **result}))
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
