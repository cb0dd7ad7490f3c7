"""Rules between the keys of a timed event, and between them and the circuit."""

from __future__ import annotations

from collections.abc import Iterator

from ullage.duty.events import CAP_VALVES, FAULTS, LOST_OIL, RECHARGE, TOP_UP
from ullage.hints import did_you_mean
from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.event_spec import FAN_ON, FAULT_OFF, FAULT_ON, FAULT_SIZES
from ullage.units import show_both

EVENT_RULES: list[Rule] = []

# the keys of an event that belong to some actions and faults only
_KEYS = {name: {size.key} for name, size in FAULT_SIZES.items()}
_KEYS |= {TOP_UP: {"volume", "temperature", "duration"}, LOST_OIL: {"volume", "duration"}}
_KEYS |= {RECHARGE: {"pressure", "duration"}}
_OWNERS = {
    key: [name for name in (TOP_UP, RECHARGE, *FAULT_SIZES) if key in _KEYS[name]]
    for key in ("volume", "temperature", "duration", "pressure", "diameter", "share", "factor")
}
_OWN_KEYS = tuple(f"event.{key}" for key in _OWNERS)


@rule(EVENT_RULES, "event.time", "event.stop", each="event")
def _moment(spec: ScenarioSpec) -> Iterator[Found]:
    for place, event in enumerate(spec.event):
        if (event.time is None) == (event.stop is None):
            yield ("event", place), "give either time or stop"


@rule(EVENT_RULES, "event.stop", "duty.stop.name", each="event")
def _stop(spec: ScenarioSpec) -> Iterator[Found]:
    names = list(dict.fromkeys(stop.name for stop in spec.duty.stop))
    for place, event in enumerate(spec.event):
        if event.stop is not None and event.stop not in names:
            there = f"there are: {', '.join(names) or 'none'}{did_you_mean(event.stop, names)}"
            yield ("event", place, "stop"), f"is no stop; {there}"


@rule(EVENT_RULES, "event.time", "event.after", each="event")
def _after(spec: ScenarioSpec) -> Iterator[Found]:
    for place, event in enumerate(spec.event):
        if event.time is not None and "after" in event.model_fields_set:
            yield ("event", place, "after"), "belongs to a stop; the event has a time of its own"


@rule(EVENT_RULES, "event.action", "event.volume", each="event")
def _pouring(spec: ScenarioSpec) -> Iterator[Found]:
    for place, event in enumerate(spec.event):
        if event.action == TOP_UP and event.volume is None:
            yield ("event", place, "volume"), "missing: a top-up needs a volume"


@rule(EVENT_RULES, "event.action", "event.pressure", each="event")
def _regulator(spec: ScenarioSpec) -> Iterator[Found]:
    for place, event in enumerate(spec.event):
        if event.action == RECHARGE and event.pressure is None:
            text = 'missing: a recharge needs what its regulator is set to, over ambient, such as "8 psig"'
            yield ("event", place, "pressure"), text
        elif event.action == RECHARGE and event.pressure and not event.pressure.gauge:
            text = 'is absolute, and a regulator is set over ambient: write it as gauge, such as "8 psig"'
            yield ("event", place, "pressure"), text


@rule(EVENT_RULES, "event.action", "cap.kind", each="event")
def _holds_no_air(spec: ScenarioSpec) -> Iterator[Found]:
    for place, event in enumerate(spec.event):
        if event.action == RECHARGE and spec.cap.kind == "vented":
            yield ("event", place, "action"), "needs a sealed cap: a vented one lets the air out again; leave this out"


@rule(
    EVENT_RULES,
    *("event.action", "event.pressure"),
    *("cap.kind", "cap.relief_pressure", "reservoir.rating", "pump.seal_rating"),
    each="event",
)
def _set_too_high(spec: ScenarioSpec) -> Iterator[Found]:
    limits = [(spec.reservoir.rating.pascal, "rating of the tank"), (spec.pump.seal_rating.pascal, "shaft-seal rating")]
    limits += [(spec.cap.relief_pressure, "relief pressure of the cap")] if spec.cap.kind == "sealed" else []
    limit, name = min(limits)
    for place, event in enumerate(spec.event):
        pressure = event.pressure if event.action == RECHARGE else None
        if pressure and pressure.gauge and pressure.pascal > limit:
            text = f"is above the {name}, {show_both(limit, 'pressure difference')}: set the regulator below that"
            yield ("event", place, "pressure"), text


@rule(EVENT_RULES, "event.action", "cooler.fan_air_speed", each="event")
def _fan(spec: ScenarioSpec) -> Iterator[Found]:
    for place, event in enumerate(spec.event):
        if event.action == FAN_ON and spec.cooler.fan_air_speed == 0.0:
            yield ("event", place, "action"), "needs a fan on the cooler: cooler.fan_air_speed is 0; leave this out"


@rule(EVENT_RULES, "event.action", "event.fault", each="event")
def _named_fault(spec: ScenarioSpec) -> Iterator[Found]:
    for place, event in enumerate(spec.event):
        wanted = event.action in (FAULT_ON, FAULT_OFF)
        if wanted and event.fault is None:
            yield ("event", place, "fault"), "missing: say which fault, such as 'seal leak'"
        if not wanted and event.fault is not None:
            yield ("event", place, "fault"), f"belongs to '{FAULT_ON}' and '{FAULT_OFF}'; '{event.action}' has none"


@rule(EVENT_RULES, "event.action", "event.fault", each="event")
def _for_good(spec: ScenarioSpec) -> Iterator[Found]:
    for place, event in enumerate(spec.event):
        if event.action == FAULT_OFF and event.fault is not None and not FAULTS[event.fault].curable:
            yield ("event", place, "fault"), "cannot be switched off: what is done is done"


@rule(EVENT_RULES, "event.action", "event.fault", *_OWN_KEYS, each="event")
def _own_keys(spec: ScenarioSpec) -> Iterator[Found]:
    for place, event in enumerate(spec.event):
        what = event.fault if event.action == FAULT_ON and event.fault else event.action
        for key in _OWNERS:
            if key in event.model_fields_set and key not in _KEYS.get(what, ()):
                yield ("event", place, key), f"belongs to {_owners(key)}; '{what}' has none"


def _owners(key: str) -> str:
    names = [f"a {name}" if name in (TOP_UP, RECHARGE) else f"'{name}'" for name in _OWNERS[key]]
    return " or ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]


@rule(EVENT_RULES, "event.action", "event.fault", "cap.kind", each="event")
def _stuck_valve(spec: ScenarioSpec) -> Iterator[Found]:
    for place, event in enumerate(spec.event):
        begins = event.action == FAULT_ON and event.fault is not None
        if spec.cap.kind == "vented" and begins and FAULTS[event.fault or ""].channel in CAP_VALVES:
            yield ("event", place, "fault"), "needs a sealed cap: a vented one has no valves"


@rule(EVENT_RULES, "event.action", "event.fault", "feed_line.strainer_drop", each="event")
def _strainer(spec: ScenarioSpec) -> Iterator[Found]:
    for place, event in enumerate(spec.event):
        begins = event.action == FAULT_ON and event.fault == "blocked strainer"
        if begins and spec.feed_line.strainer_drop == 0.0:
            yield ("event", place, "fault"), "needs a strainer: feed_line.strainer_drop is 0"
