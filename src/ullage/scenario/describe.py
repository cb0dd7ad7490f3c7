"""One screen that says what was understood of a scenario."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np

from ullage.scenario.circuit import fluid_grade, initial_gas, race_pieces, start_temperature, timed_events
from ullage.scenario.fields import Level, quantity_of
from ullage.scenario.lap_spec import LapRecording, Segment
from ullage.scenario.load import Key, Scenario
from ullage.units import factor, show


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
        Circuit, race, events, warnings, and every weak value that was assumed.
    """
    assumed = [key for key in scenario.quantities() if key.quantity.weak and not key.given]
    lines = [
        scenario.spec.title or "untitled scenario",
        *_circuit(scenario, units),
        *_race(scenario, units),
        *warning_lines(scenario, units),
        "assumed (uncertain by a factor of two or more; a value of your own is better):",
        *_columns([f"{key.path} = {_written(key, units)}" for key in assumed]),
    ]
    return "\n".join(lines)


def _written(key: Key, units: str) -> str:
    if isinstance(key.value, Level):
        return f"{show(key.value.pascal, key.quantity.kind, units)} gauge"
    return show(key.value, key.quantity.kind, units)


def _columns(items: list[str]) -> list[str]:
    """Set items in two columns."""
    half = (len(items) + 1) // 2
    right = [*items[half:], ""] if len(items) % 2 else items[half:]
    return [f"  {a:<54} {b}".rstrip() for a, b in zip(items[:half], right, strict=True)]


def _circuit(scenario: Scenario, units: str) -> Iterator[str]:
    spec, shown = scenario.spec, partial(show, units=units)
    grade = fluid_grade(spec.fluid)
    yield (
        f"  oil        {spec.fluid.preset or 'own data'}: {shown(grade.viscosity_40, 'viscosity')} at 40 degC, "
        f"{shown(grade.viscosity_100, 'viscosity')} at 100 degC, {shown(grade.density_15, 'density')}"
    )
    gas = initial_gas(spec)
    yield (
        f"  reservoir  {shown(spec.reservoir.volume, 'volume')}, {100 * spec.reservoir.fill:.0f} % oil at "
        f"{shown(spec.reservoir.fill_temperature, 'temperature')}; whole circuit {gas.oil_mass:.3g} kg of oil"
    )
    if spec.cap.kind == "sealed":
        yield (
            f"  cap        sealed, relief {shown(spec.cap.relief_pressure, 'pressure difference')}, "
            f"vacuum valve {shown(spec.cap.vacuum_pressure, 'pressure difference')}"
        )
    else:
        yield f"  cap        vented, breather {shown(spec.cap.breather_area, 'valve area')}"
    pump = spec.pump
    control = "no flow control"
    if pump.controlled_flow is not None:
        control = f"{shown(pump.controlled_flow, 'flow')} controlled, bypass to the {pump.bypass_routing}"
    yield (
        f"  pump       {shown(pump.displacement, 'volume')} a revolution, {pump.drive_ratio:.3g} times engine speed, "
        f"{control}"
    )
    yield (
        f"  relief     {shown(pump.relief_pressure, 'pressure difference')}, in the "
        f"{pump.relief_location.replace('_', ' ')}"
    )
    line = spec.feed_line
    yield f"  feed line  {shown(line.bore, 'short length')} bore, {shown(line.length, 'length')} long"


def _race(scenario: Scenario, units: str) -> Iterator[str]:
    spec, shown = scenario.spec, partial(show, units=units)
    pieces, stops = race_pieces(spec)
    distance = sum((piece.end - piece.start) * piece.stretch.vehicle_speed for piece in pieces)
    heights = np.concatenate([piece.profile.elevation for piece in pieces])
    yield (
        f"  race       {spec.duty.laps} laps, {_distance(distance, units)}, {pieces[-1].end / 3600:.2f} h, "
        f"{shown(heights.min(), 'length')} to {shown(heights.max(), 'length')}, "
        f"start at {shown(start_temperature(spec), 'temperature')}"
    )
    if spec.duty.recording:
        yield f"  recording  {_recording(spec.duty.recording, units)}"
    for stop in stops:
        yield f"  stop       {stop.name}: {_clock(stop.start)} to {_clock(stop.end)}"
    for event in timed_events(spec):
        yield f"  event      {_clock(event.time)} {event.name} {event.direction}"


def _recording(recording: LapRecording, units: str) -> str:
    lap = recording.lap
    ranges = [
        f"{name.replace('_', ' ')} {show(values.min(), kind, units)} to {show(values.max(), kind, units)}"
        for name, values in lap.channels.items()
        if (quantity := quantity_of(Segment, name)) and (kind := quantity.kind)
    ]
    return f"{recording.file}: {len(lap.time)} rows, {_clock(lap.time[-1])}; {', '.join(ranges)}"


def _distance(metres: float, units: str) -> str:
    return f"{metres / factor('mile', 'm'):.4g} miles" if units == "us" else f"{metres / 1000.0:.4g} km"


def _clock(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def warning_lines(scenario: Scenario, units: str) -> list[str]:
    """Return what a scenario does beyond the ratings that it gives, one line each."""
    return [f"  warning: {text}" for text in _warnings(scenario, units)]


def _warnings(scenario: Scenario, units: str) -> Iterator[str]:
    spec, shown = scenario.spec, partial(show, units=units)
    pump = spec.pump
    fastest = max(float(piece.profile.engine_speed.max()) for piece in race_pieces(spec)[0])
    speed = fastest * pump.drive_ratio * (1.0 - pump.belt_slip)
    if speed > pump.maximum_speed:
        yield (f"the pump turns up to {shown(speed, 'rotation')}; its limit is {shown(pump.maximum_speed, 'rotation')}")
    cap = spec.cap.relief_pressure + spec.cap.full_lift_rise
    if spec.cap.kind == "sealed":
        for part, rating in (("tank", spec.reservoir.rating), ("shaft seal", pump.seal_rating)):
            if cap > rating.pascal:
                yield (
                    f"the cap lets the pressure rise to {shown(cap, 'pressure difference')} gauge; "
                    f"the {part} is rated {shown(rating.pascal, 'pressure difference')}"
                )
