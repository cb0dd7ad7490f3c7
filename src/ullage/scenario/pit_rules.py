"""Rules on the study of a pit stop. The events of a choice follow the rules of any event, each choice on its own."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator

from ullage.duty.laps import StopTime
from ullage.hints import did_you_mean
from ullage.scenario.checks import Find, Found, Rule, rule
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.event_rules import EVENT_RULES
from ullage.scenario.event_spec import Event
from ullage.scenario.limits import Place
from ullage.scenario.pit_spec import STANDARD_CHOICES, Choice
from ullage.scenario.race import pit_stop
from ullage.scenario.race_rules import RACE_RULES
from ullage.scenario.stop_rules import CLOCK, misplaced_stops
from ullage.scenario.timed_events import event_times
from ullage.units import clock, show_both

PIT_RULES: list[Rule] = []
PIT_RACE_RULES: list[Rule] = []  # on a race that is right

MOST_CHOICES = 12
_MOMENT = {("event", "time"), ("event", "stop")}
_EVENTS = "pit.choice.event"


@rule(PIT_RULES, "pit.stop", "duty.stop.name")
def _stop(spec: ScenarioSpec) -> Iterator[Found]:
    names = [stop.name for stop in spec.duty.stop]
    if spec.pit.stop is not None and spec.pit.stop not in names:
        there = f"there are: {', '.join(names) or 'none'}{did_you_mean(spec.pit.stop, names)}"
        yield ("pit", "stop"), f"is no stop; {there}"


@rule(PIT_RULES, "pit.choice")
def _many(spec: ScenarioSpec) -> Iterator[Found]:
    if len(spec.pit.choice) > MOST_CHOICES:
        yield ("pit", "choice"), f"has more than {MOST_CHOICES} choices; leave some out"


@rule(PIT_RULES, "pit.choice.name", each="pit.choice")
def _names(spec: ScenarioSpec) -> Iterator[Found]:
    counts = Counter(choice.name for choice in spec.pit.choice)
    for place, choice in enumerate(spec.pit.choice):
        if not choice.name.strip():
            yield ("pit", "choice", place, "name"), "is empty"
        elif choice.name in STANDARD_CHOICES:
            yield ("pit", "choice", place, "name"), "is the name of a choice that is always there; take another"
        elif counts[choice.name] > 1:
            yield ("pit", "choice", place, "name"), "is used twice"


@rule(PIT_RULES, "pit.recharge_pressure")
def _gauge(spec: ScenarioSpec) -> Iterator[Found]:
    level = spec.pit.recharge_pressure
    if level is not None and not level.gauge:
        yield (
            ("pit", "recharge_pressure"),
            'is absolute, and a regulator is set over ambient: write it as gauge, such as "8 psig"',
        )


@rule(PIT_RULES, "pit.recharge_pressure", "cap.kind")
def _vented(spec: ScenarioSpec) -> Iterator[Found]:
    if spec.pit.recharge_pressure is not None and spec.cap.kind == "vented":
        yield ("pit", "recharge_pressure"), "needs a sealed cap: a vented one lets the air out again"


@rule(
    PIT_RACE_RULES,
    "pit.recharge_pressure",
    "cap.relief_pressure",
    "reservoir.rating",
    "pump.seal_rating",
)
def _too_high(spec: ScenarioSpec) -> Iterator[Found]:
    limit, what = min(
        (spec.cap.relief_pressure, "the relief pressure of the cap"),
        (spec.reservoir.rating.pascal, "the rating of the tank"),
        (spec.pump.seal_rating.pascal, "the rating of the shaft seal"),
    )
    level = spec.pit.recharge_pressure
    if level is not None and level.pascal > limit:
        text = f"is above {what}, {show_both(limit, 'pressure difference')}: set the regulator below that"
        yield ("pit", "recharge_pressure"), text


@rule(PIT_RACE_RULES, *CLOCK, "pit.stop", "pit.choice.stop_duration", f"{_EVENTS}.after", each=_EVENTS)
def _after(spec: ScenarioSpec) -> Iterator[Found]:
    stop = pit_stop(spec)
    for place, choice in enumerate(spec.pit.choice):
        standing = choice.stop_duration or (stop.end - stop.start if stop else math.inf)
        for number, event in enumerate(choice.event):
            if event.after > standing:
                text = f"is longer than the stop, {clock(standing)}: give a time within it, or a longer stop_duration"
                yield ("pit", "choice", place, "event", number, "after"), text


@rule(PIT_RACE_RULES, *CLOCK, "pit.stop", "pit.choice.stop_duration", each="pit.choice")
def _standing(spec: ScenarioSpec) -> Iterator[Found]:
    for place, choice in enumerate(spec.pit.choice):
        if choice.stop_duration is None:
            continue
        for number, text in misplaced_stops(_chosen(spec, choice)):
            name = spec.duty.stop[number].name
            yield ("pit", "choice", place, "stop_duration"), f"moves the race so that the stop '{name}' {text}"


def _chosen(spec: ScenarioSpec, choice: Choice) -> ScenarioSpec:
    """Return the specification with the standing time of a choice."""
    stop = pit_stop(spec) if choice.stop_duration is not None else None
    if stop is None:
        return spec
    longer = {"duration": choice.stop_duration, "duration_spread": 0.0}
    stops = [each.model_copy(update=longer) if each.name == stop.name else each for each in spec.duty.stop]
    return spec.model_copy(update={"duty": spec.duty.model_copy(update={"stop": tuple(stops)})})


def _events_before(spec: ScenarioSpec, stop: StopTime) -> tuple[Event, ...]:
    times = event_times(spec)
    return tuple(event for event, time in zip(spec.event, times, strict=True) if time < stop.start)


def _apart(judged: Rule) -> Find:
    """Return a rule on events, asked about those of every choice as if the race had no others."""

    def find(spec: ScenarioSpec) -> Iterator[Found]:
        for place, choice in enumerate(spec.pit.choice):
            yield from _asked(judged, spec, choice, place, (), "")

    return find


def _in_the_race(judged: Rule) -> Find:
    """Return a rule on events, asked about those of every choice after what the race plans before the stop."""

    def find(spec: ScenarioSpec) -> Iterator[Found]:
        stop = pit_stop(spec)
        if stop is None:
            return
        before = _events_before(spec, stop)
        for place, choice in enumerate(spec.pit.choice):
            yield from _asked(judged, _chosen(spec, choice), choice, place, before, stop.name)

    return find


def _asked(
    judged: Rule, spec: ScenarioSpec, choice: Choice, place: int, before: tuple[Event, ...], stop: str
) -> Iterator[Found]:
    whole = spec.model_copy(update={"event": (*before, *choice.events(stop))})
    for (table, *rest), text in judged.find(whole):
        number = rest[0] if rest else 0
        if table == "event" and isinstance(number, int) and number >= len(before):
            yield ("pit", "choice", place, "event", number - len(before), *rest[1:]), text


def _of_choices(judged: Rule, find: Find, *reads: tuple[str, ...], each: Place = ()) -> Rule:
    """Return a rule on events as one that reads those of the choices."""
    own = tuple(("pit", "choice", *key) if key[0] == "event" else key for key in judged.reads)
    return Rule(find, own + reads, each)


_RACE_KEYS = (*CLOCK, "pit.stop", "pit.choice.stop_duration", "event")
PIT_RULES += [
    _of_choices(judged, _apart(judged), each=("pit", "choice", "event"))
    for judged in EVENT_RULES
    if not _MOMENT & {*judged.reads}  # a choice is at its stop
]
CHOICE_RULES = [
    _of_choices(judged, _in_the_race(judged), *(tuple(key.split(".")) for key in _RACE_KEYS))
    for judged in RACE_RULES
    if ("event", "action") in judged.reads
]
