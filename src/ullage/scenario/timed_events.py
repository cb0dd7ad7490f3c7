"""The timed events of a specification: when they happen, and how much each of them is in SI units."""

from __future__ import annotations

from collections.abc import Callable

from ullage.duty.events import FAN_OVERRIDE, FAULTS, LOST_OIL, RECHARGE, TOP_UP, WATER, TimedEvent, in_order
from ullage.physics import oil
from ullage.scenario.circuit import ambient_temperature, hole_area, initial_gas
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.event_spec import (
    FAN_AUTO,
    FAN_ON,
    LOSS_DURATION,
    RECHARGE_DURATION,
    TOP_UP_DURATION,
    Event,
)
from ullage.scenario.race import race_pieces
from ullage.scenario.settings import fluid_grade, start_temperature

WATER_DENSITY = 998.0  # at 20 degC [kg m-3]

# what a fault does to its channel, in the unit of the channel, where that is not the size of the event itself
_IN_ITS_CHANNEL: dict[str, Callable[[ScenarioSpec, Event, float], float]] = {
    "seal leak": lambda spec, _, diameter: hole_area(spec.cap, diameter),
    LOST_OIL: lambda spec, event, _: lost_mass(spec, event) / (event.duration or LOSS_DURATION),
    WATER: lambda spec, _, volume: WATER_DENSITY * volume / initial_gas(spec).oil_mass,
}


def event_times(spec: ScenarioSpec) -> list[float]:
    """Return the race times [s] of the events in the order in which they are written."""
    begins = {stop.name: stop.start for stop in race_pieces(spec)[1]}
    return [event.time if event.time is not None else begins[event.stop or ""] + event.after for event in spec.event]


def timed_events(spec: ScenarioSpec) -> list[TimedEvent]:
    """Return the timed events of a specification in the order in which they happen."""
    return in_order([_timed(spec, event, time) for event, time in zip(spec.event, event_times(spec), strict=True)])


def _timed(spec: ScenarioSpec, event: Event, time: float) -> TimedEvent:
    if event.action == TOP_UP:
        temperature = event.temperature if event.temperature is not None else ambient_temperature(spec, time)
        mass = (event.volume or 0.0) * oil.density(temperature, fluid_grade(spec.fluid).density_15)
        return TimedEvent(time, TOP_UP, "start", mass, temperature, event.duration or TOP_UP_DURATION)
    if event.action == RECHARGE:
        pressure = event.pressure.pascal if event.pressure else 0.0
        return TimedEvent(time, RECHARGE, "start", duration=event.duration or RECHARGE_DURATION, size=pressure)
    if event.action in (FAN_ON, FAN_AUTO):
        return TimedEvent(time, FAN_OVERRIDE, "on" if event.action == FAN_ON else "off")
    name, direction = event.action.split()
    if event.fault is None:
        return TimedEvent(time, name, direction)
    lasts = (event.duration or LOSS_DURATION) if event.fault == LOST_OIL else 0.0
    size = FAULTS[event.fault].size if event.size is None else event.size
    if convert := _IN_ITS_CHANNEL.get(event.fault):
        size = convert(spec, event, size)
    return TimedEvent(time, event.fault, direction, duration=lasts, size=size)


def lost_mass(spec: ScenarioSpec, event: Event) -> float:
    """Return the mass of oil [kg] that an event loses: its volume at the start temperature."""
    if event.fault != LOST_OIL:
        return 0.0
    return (event.size or 0.0) * oil.density(start_temperature(spec), fluid_grade(spec.fluid).density_15)
