"""One screen that says what was understood of a scenario."""

from __future__ import annotations

from collections.abc import Iterator

from ullage.scenario.circuit import fluid_grade, initial_gas, race_pieces, start_temperature, timed_events
from ullage.scenario.fields import Level
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
    assumed = [key for key in scenario.keys() if key.quantity.weak and not key.given]
    lines = [
        scenario.spec.title or "untitled scenario",
        *_circuit(scenario, units),
        *_race(scenario, units),
        *[f"  warning: {text}" for text in _warnings(scenario, units)],
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
    spec = scenario.spec
    grade = fluid_grade(spec.fluid)
    yield (
        f"  oil        {spec.fluid.preset or 'own data'}: {show(grade.viscosity_40, 'viscosity', units)} at 40 degC, "
        f"{show(grade.viscosity_100, 'viscosity', units)} at 100 degC, {show(grade.density_15, 'density', units)}"
    )
    gas = initial_gas(spec)
    yield (
        f"  reservoir  {show(spec.reservoir.volume, 'volume', units)}, {100 * spec.reservoir.fill:.0f} % oil at "
        f"{show(spec.reservoir.fill_temperature, 'temperature', units)}; whole circuit {gas.oil_mass:.3g} kg of oil"
    )
    if spec.cap.kind == "sealed":
        yield (
            f"  cap        sealed, relief {show(spec.cap.relief_pressure, 'pressure difference', units)}, "
            f"vacuum valve {show(spec.cap.vacuum_pressure, 'pressure difference', units)}"
        )
    else:
        yield f"  cap        vented, breather {show(spec.cap.breather_area, 'valve area', units)}"
    pump = spec.pump
    control = "no flow control"
    if pump.controlled_flow is not None:
        control = f"{show(pump.controlled_flow, 'flow', units)} controlled, bypass to the {pump.bypass_routing}"
    yield (
        f"  pump       {show(pump.displacement, 'volume', units)} a revolution at {pump.drive_ratio:.3g} times engine speed, {control}, "
        f"relief {show(pump.relief_pressure, 'pressure difference', units)} in the {pump.relief_location.replace('_', ' ')}"
    )
    yield f"  feed line  {show(spec.feed_line.bore, 'short length', units)} bore, {show(spec.feed_line.length, 'length', units)}"


def _race(scenario: Scenario, units: str) -> Iterator[str]:
    spec = scenario.spec
    pieces, stops = race_pieces(spec)
    distance = sum((piece.end - piece.start) * piece.stretch.vehicle_speed for piece in pieces)
    heights = [height for piece in pieces for height in (piece.elevation_start, piece.elevation_end)]
    yield (
        f"  race       {spec.duty.laps} laps, {_distance(distance, units)}, {pieces[-1].end / 3600:.2f} h, "
        f"{show(min(heights), 'length', units)} to {show(max(heights), 'length', units)}, start at {show(start_temperature(spec), 'temperature', units)}"
    )
    for stop in stops:
        yield f"  stop       {stop.name}: {_clock(stop.start)} to {_clock(stop.end)}"
    for event in timed_events(spec):
        yield f"  event      {_clock(event.time)} {event.name} {event.direction}"


def _distance(metres: float, units: str) -> str:
    return f"{metres / factor('mile', 'm'):.4g} miles" if units == "us" else f"{metres / 1000.0:.4g} km"


def _clock(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def _warnings(scenario: Scenario, units: str) -> Iterator[str]:
    spec = scenario.spec
    pump = spec.pump
    fastest = max(piece.stretch.engine_speed for piece in race_pieces(spec)[0])
    speed = fastest * pump.drive_ratio * (1.0 - pump.belt_slip)
    if pump.maximum_speed is not None and speed > pump.maximum_speed:
        yield (
            f"the pump turns up to {show(speed, 'rotation', units)}; its limit is {show(pump.maximum_speed, 'rotation', units)}"
        )
    cap = spec.cap.relief_pressure + spec.cap.full_lift_rise
    if spec.cap.kind == "sealed":
        for part, rating in (("tank", spec.reservoir.rating), ("shaft seal", pump.seal_rating)):
            if cap > rating.pascal:
                yield (
                    f"the cap lets the pressure rise to {show(cap, 'pressure difference', units)} gauge; the {part} is rated "
                    f"{show(rating.pascal, 'pressure difference', units)}"
                )
