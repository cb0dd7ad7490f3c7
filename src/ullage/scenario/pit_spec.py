"""What the study of a pit stop is asked: how each choice is done, and choices of the crew's own."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from ullage.scenario.event_spec import Action, Event
from ullage.scenario.fields import Level, Spec, quantity

STANDARD_CHOICES = (
    "shut",
    "refit",
    "top_up",
    "recharge",
    "cool_then_open",
    "cool_then_open_engine_off",
    "left_off",
    "as_planned",
)


class ChoiceEvent(Action):
    """Something that is done in a choice, a time after the truck came to the stop."""

    def at(self, stop: str) -> Event:
        """Return it as an event of the race that counts from a named stop."""
        given = {*self.model_fields_set, "stop"}
        return Event.model_construct(given, **vars(self), time=None, stop=stop)


class Choice(Spec):
    """A choice of the crew's own: what is done at the stop in place of what the race plans there."""

    name: str = Field(description="name of the choice")
    stop_duration: float | None = quantity("time", "1 s", "24 h", None, "standing time; that of the stop if absent")
    engine: Literal["on", "off"] | None = Field(
        default=None, description="whether the engine runs; as at the stop if absent"
    )
    engine_speed: float | None = quantity(
        "rotation", "0 rpm", "10000 rpm", None, "engine speed if it runs; that of the stop if absent"
    )
    event: tuple[ChoiceEvent, ...] = ()

    def events(self, stop: str) -> tuple[Event, ...]:
        """Return what is done as events of the race that count from a named stop."""
        return tuple(event.at(stop) for event in self.event)


class Pit(Spec):
    """What a study of opening the cap at a stop starts from; no race depends on it."""

    stop: str | None = Field(default=None, description="name of the stop; the first of the race if absent")
    open_for: float = quantity("time", "5 s", "1 h", "60 s", "how long the cap is off")
    top_up_volume: float | None = quantity(
        "volume", "1 mL", "10 L", None, "oil poured in; what is missing to the mark if absent, a quarter litre or more"
    )
    recharge_pressure: Level | None = quantity(
        "pressure level", "0.5 psig", "40 psig", None, "set at the regulator; what the tank had before if absent"
    )
    open_below: float = quantity(
        "temperature", "0 degC", "60 degC", "50 degC", "oil in the tank below which waiting ends"
    )
    longest_wait: float = quantity("time", "1 min", "24 h", "6 h", "waiting that is given up")
    overnight: float = quantity("time", "6 h", "24 h", "12 h", "how long the truck stands after the race")
    overnight_temperature: float | None = quantity(
        "temperature", "-40 degC", "55 degC", None, "ambient overnight; that of the start if absent"
    )
    choice: tuple[Choice, ...] = ()
