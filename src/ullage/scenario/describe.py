"""One screen that says what was understood of a scenario."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial
from typing import Any, NamedTuple

from ullage.duty.profile import Spread
from ullage.scenario.circuit import level_at
from ullage.scenario.describe_race import race_lines
from ullage.scenario.duty_facts import duty_facts
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import Level
from ullage.scenario.load import Key, Scenario
from ullage.scenario.pit_spec import Choice
from ullage.scenario.plan_lines import plan_sentences
from ullage.scenario.race import duty_notes, lost_in_samples, pit_stop, race_pieces
from ullage.scenario.settings import fluid_grade, start_temperature
from ullage.scenario.stretches import loads_of
from ullage.scenario.word_lines import word_lines
from ullage.units import clock, factor, show

HOT_MARK = 393.15
_LOST = 0.01  # of load times engine speed that is told
_PULSE_SAMPLES = 0.1 + 1e-9  # a third of the shortest pulses of the steering [s]
LOWEST_CUSTOM, HIGHEST_CUSTOM = 0.6096, 1.2192  # 2 to 4 ft/s in a suction line, common practice [m s-1]


def describe(scenario: Scenario, units: str) -> str:
    """Describe a scenario in one screen.

    Parameters
    ----------
    scenario : Scenario
        A checked scenario.
    units : str
        "metric" or "us".

    Returns
    -------
    str
        Circuit, marks, race, stops and events by time, warnings, every value that a word stands for, and every
        weak value that was assumed.
    """
    keys = list(scenario.quantities())
    assumed = [key for key in keys if key.quantity.weak and not key.given]
    ordinary = [key for key in keys if key.value is not None and not key.quantity.weak and not key.given]
    lines = [
        scenario.spec.title or "untitled scenario",
        *_circuit(scenario.spec, units),
        *_marks(scenario.spec, units),
        *_pump(scenario.spec, units),
        *race_lines(scenario.spec, units),
        *_measured(scenario.spec),
        *_pit(scenario.spec, units),
        *warning_lines(scenario, units),
        *word_lines(scenario.spec, units),
        "assumed (uncertain by a factor of two or more; a value of your own is better):",
        *_columns([f"{key.path} = {_written(key, units)}" for key in assumed]),
        f"  and {len(ordinary)} ordinary values at their defaults, listed in docs/scenario.md",
    ]
    return "\n".join(lines)


def scenario_facts(scenario: Scenario) -> dict[str, Any]:
    """Return what is known of a scenario before it is run, as it stands in JSON, SI units; the plan in sentences."""
    duty = {**duty_facts(scenario.spec), "plan": [*plan_sentences(scenario.spec, "metric")]}
    return {"scenario_hash": scenario.hash, "stops": scenario.stops, "duty": duty}


def _written(key: Key, units: str) -> str:
    if isinstance(key.value, Level):
        return f"{show(key.value.pascal, key.quantity.kind, units)} {'gauge' if key.value.gauge else 'absolute'}"
    return show(key.value, key.quantity.kind, units)


def _columns(items: list[str]) -> list[str]:
    """Set items in two columns."""
    half = (len(items) + 1) // 2
    right = [*items[half:], ""] if len(items) % 2 else items[half:]
    return [f"  {a:<54} {b}".rstrip() for a, b in zip(items[:half], right, strict=True)]


def _circuit(spec: ScenarioSpec, units: str) -> Iterator[str]:
    shown = partial(show, units=units)
    grade = fluid_grade(spec.fluid)
    yield (
        f"  oil        {spec.fluid.preset or 'own data'}: {shown(grade.viscosity_40, 'viscosity')} at 40 degC, "
        f"{shown(grade.viscosity_100, 'viscosity')} at 100 degC, {shown(grade.density_15, 'density')}"
    )
    volumes = (spec.pump.oil_volume, spec.steering_gear.oil_volume, spec.cooler.oil_volume)
    pump, gear, cooler = (shown(volume, "volume") for volume in volumes)
    whole = spec.reservoir.fill * spec.reservoir.volume + sum(volumes)
    yield (
        f"  volumes    tank {shown(spec.reservoir.volume, 'volume')}; oil in pump {pump}, gear and hoses {gear}, "
        f"cooler and return {cooler}; {shown(whole, 'volume')} of oil in all"
    )
    if spec.cap.kind == "sealed":
        yield (
            f"  cap        sealed, relief {shown(spec.cap.relief_pressure, 'pressure difference')}, "
            f"vacuum valve {shown(spec.cap.vacuum_pressure, 'pressure difference')}"
        )
    else:
        yield f"  cap        vented, breather {shown(spec.cap.breather_area, 'valve area')}"
    line = spec.feed_line
    yield (
        f"  feed line  {shown(line.bore, 'short length')} bore, {shown(line.length, 'length')} long, "
        f"outlet {shown(spec.reservoir.outlet_height, 'length')} above the pump inlet"
    )
    velocity = _feed_flow(spec) / (0.25 * math.pi * line.bore**2)
    if velocity > 0.0:
        yield f"  feed flow  {_beside_custom(velocity, units)}"


def _feed_flow(spec: ScenarioSpec) -> float:
    """Return the most that the feed line carries [m3 s-1]: the set flow, or all that the pump sweeps."""
    pump = spec.pump
    swept = pump.displacement / (2.0 * math.pi) * min(_fastest(spec), pump.maximum_speed)
    if pump.controlled_flow is None or pump.bypass_routing == "reservoir":
        return swept
    return min(swept, pump.controlled_flow)


def _fastest(spec: ScenarioSpec) -> float:
    """Return the highest pump speed of a race [rad s-1]."""
    highest = max(float(piece.profile.engine_speed.max()) for piece in race_pieces(spec)[0])
    return highest * spec.pump.drive_ratio * (1.0 - spec.pump.belt_slip)


def _beside_custom(velocity: float, units: str) -> str:
    unit, scale = ("ft/s", factor("ft", "m")) if units == "us" else ("m/s", 1.0)
    shown, slow, fast = (round(value / scale, 1) for value in (velocity, LOWEST_CUSTOM, HIGHEST_CUSTOM))
    custom = f"the custom of {slow:g} to {fast:g} {unit} (common practice)"
    if shown <= fast:
        return f"at most {shown:g} {unit}; not over {custom}"
    return f"at most {shown:g} {unit}, over {custom}: watch the lowest feed, cold above all"


def _marks(spec: ScenarioSpec, units: str) -> Iterator[str]:
    shown, tank = partial(show, units=units), spec.reservoir
    start = start_temperature(spec)
    yield (
        f"  cold mark  {_percent(tank.fill)} ({shown(tank.fill * tank.volume, 'volume')}) with all oil at "
        f"{shown(tank.fill_temperature, 'temperature')}; {_percent(level_at(spec, start))} at "
        f"{shown(start, 'temperature')}, as the race starts"
    )
    yield f"  hot mark   {_percent(level_at(spec, HOT_MARK))} with all oil at {shown(HOT_MARK, 'temperature')}"


def _percent(share: float) -> str:
    return f"{100.0 * share:.3g} %"


def _pump(spec: ScenarioSpec, units: str) -> Iterator[str]:
    shown, pump = partial(show, units=units), spec.pump
    control = "no flow control"
    if pump.controlled_flow is not None:
        control = f"{shown(pump.controlled_flow, 'flow')} controlled, bypass to the {pump.bypass_routing}"
    yield (
        f"  pump       {shown(pump.displacement, 'displacement')} a revolution, "
        f"{pump.drive_ratio:.3g} times engine speed, {control}"
    )
    yield (
        f"  relief     {shown(pump.relief_pressure, 'hydraulic pressure')}, in the "
        f"{pump.relief_location.replace('_', ' ')}"
    )


def _measured(spec: ScenarioSpec) -> Iterator[str]:
    if spec.measured is None:
        return
    log, start = spec.measured.log, spec.measured.starts_at
    begins = f"{clock(start)}" if start >= 0.0 else f"{clock(-start)} before the start"
    yield f"  measured   {spec.measured.file}: {len(log.time)} rows, {clock(log.time[-1])}, from {begins}"
    yield f"             {', '.join(name.replace('_', ' ') for name in log.channels)}"
    yield from (f"             {note}" for note in log.notes)


def _pit(spec: ScenarioSpec, units: str) -> Iterator[str]:
    shown, pit, stop = partial(show, units=units), spec.pit, pit_stop(spec)
    if "pit" not in spec.model_fields_set or stop is None:
        return
    poured = "what is missing" if pit.top_up_volume is None else shown(pit.top_up_volume, "volume")
    level = pit.recharge_pressure
    charged = "what the tank had" if level is None else shown(level.pascal, "pressure difference")
    night = start_temperature(spec) if pit.overnight_temperature is None else pit.overnight_temperature
    yield f"  pit study  at {stop.name}: cap off for {clock(pit.open_for)}, top-up of {poured}, recharge to {charged};"
    yield (
        f"             waiting below {shown(pit.open_below, 'temperature')}, {clock(pit.longest_wait)} at most; "
        f"overnight {clock(pit.overnight)} at {shown(night, 'temperature')}"
    )
    for choice in pit.choice:
        yield f"             own choice {choice.name}: {_choice_words(choice)}"


def _choice_words(choice: Choice) -> str:
    words = [] if choice.stop_duration is None else [f"stands {clock(choice.stop_duration)}"]
    words += [] if choice.engine is None else [f"engine {choice.engine}"]
    events = sorted(choice.event, key=lambda event: event.after)
    words += [f"{event.fault or event.action} after {clock(event.after)}" for event in events]
    return ", ".join(words) or "nothing is done"


def note_lines(scenario: Scenario) -> list[str]:
    """Return how much was mended in the files that the race is made from and set beside, one line each, or none."""
    measured = scenario.spec.measured
    noted = {
        "recording and track": duty_notes(scenario.spec),
        "what was measured": measured.log.notes if measured else (),
    }
    return [f"  notes: {len(notes)} on {what}, see: ullage check" for what, notes in noted.items() if notes]


def warning_lines(scenario: Scenario, units: str) -> list[str]:
    """Return what a scenario does beyond its ratings, and air that it leaves trapped, one line each."""
    return [f"  warning: {warning.text}" for warning in warnings_of(scenario.spec, units)]


class Beyond(NamedTuple):
    """What a scenario does beyond its ratings: in short, and with its numbers."""

    short: str
    text: str


def warnings_of(spec: ScenarioSpec, units: str) -> Iterator[Beyond]:
    """Go through what a scenario does beyond its ratings, and air that it leaves trapped."""
    shown = partial(show, units=units)
    pump, pieces = spec.pump, race_pieces(spec)[0]
    speed = _fastest(spec)
    if speed > pump.maximum_speed:
        limit = "limit is" if "maximum_speed" in pump.model_fields_set else "limit, not given, is taken as"
        text = f"the pump turns up to {shown(speed, 'rotation')}; its {limit} {shown(pump.maximum_speed, 'rotation')}"
        yield Beyond("the pump turns faster than its limit", text)
    cap = spec.cap.relief_pressure + spec.cap.full_lift_rise
    if spec.cap.kind == "sealed":
        for part, rating in (("tank", spec.reservoir.rating), ("shaft seal", pump.seal_rating)):
            if cap > rating.pascal:
                high, rated = (shown(level, "pressure difference") for level in (cap, rating.pascal))
                text = f"the cap lets the pressure rise to {high} gauge; the {part} is rated {rated}"
                yield Beyond(f"the cap lets the pressure rise over the rating of the {part}", text)
    if spec.start.trapped_air > 0.0 and len({piece.stretch.steering_position for piece in pieces}) == 1:
        text = (
            f"no segment moves the ram, so the trapped air, {shown(spec.start.trapped_air, 'volume')}, comes out with "
            "driving, slowly; bleed lock to lock on stands before the start"
        )
        yield Beyond("no segment moves the ram, so trapped air comes out slowly", text)
    if spec.duty.sample_interval > _PULSE_SAMPLES and _pulses_reach_relief(spec):
        short = "steering pulses reach the relief, and samples show their averages only"
        text = f"{short}: the pump may get some kelvin hotter; duty.sample_interval = '0.1 s' shows nearly all of it"
        yield Beyond(short, text)
    lock, relief = loads_of(spec).on_the_lock, pump.relief_pressure
    if 0.0 < lock < relief:
        short = "a wheel on the lock does not reach the relief"
        held, opens = (shown(load, "hydraulic pressure") for load in (lock, relief))
        yield Beyond(short, f"{short}: duty.full_lock_load is {held}, the relief opens at {opens}")
    if abs(lost := lost_in_samples(spec)) > _LOST:
        short = "samples change what load and engine speed of the recording come to together"
        change = f"{'less' if lost > 0.0 else 'more'} than its rows say"
        yield Beyond(short, f"{short}, {100.0 * abs(lost):.2g} % {change}; a shorter duty.sample_interval keeps more")


def _pulses_reach_relief(spec: ScenarioSpec) -> bool:
    stretches = (piece.stretch.variation for piece in race_pieces(spec)[0])
    pulsed = (drawn for drawn in stretches if isinstance(drawn, Spread) and drawn.steering_load > 0.0)
    room = spec.pump.relief_pressure - spec.steering_gear.open_centre_drop
    return any(drawn.steering_load_peak > room for drawn in pulsed)
