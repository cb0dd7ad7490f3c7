"""A timed event as a scenario describes it, and how large a fault may be."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple

from pydantic import Field

from ullage.scenario.fields import Level, Quantity, Spec, quantity, quantity_of
from ullage.units import parse

FAULT_ON = "fault on"
FAULT_OFF = "fault off"
FAN_ON = "fan on"
FAN_AUTO = "fan auto"
TOP_UP_DURATION = 20.0
RECHARGE_DURATION = 30.0
LOSS_DURATION = 60.0

Fault = Literal[
    "seal leak",
    "relief stuck open",
    "relief stuck shut",
    "vacuum valve stuck open",
    "vacuum valve stuck shut",
    "blocked cooler",
    "blocked strainer",
    "collapsed hose",
    "lost oil",
    "water got in",
    "filled hot to the cold mark",
]


class Size(NamedTuple):
    """The key of an event that says how large a fault is: its accepted range and its value if it stays out."""

    key: str
    low: str
    high: str
    default: str
    help: str

    def si(self, text: str) -> float:
        """Return one of the texts in SI units."""
        found = quantity_of(Event, self.key)
        return parse(text, found.kind if found else "number")


FAULT_SIZES = {
    "seal leak": Size("diameter", "0.02 mm", "5 mm", "0.3 mm", "hole in the seal of the cap, both ways"),
    "blocked cooler": Size("share", "0", "0.99", "0.7", "share of the core that is blocked"),
    "blocked strainer": Size("factor", "1", "1000", "10", "times the drop of the clean strainer"),
    "collapsed hose": Size("share", "0.1", "1", "0.5", "share of the bore of the feed line that is left"),
    "lost oil": Size("volume", "10 mL", "10 L", "0.5 L", "oil that runs out, measured at the start temperature"),
    "water got in": Size("volume", "1 mL", "200 mL", "20 mL", "water that gets into the oil"),
}


class Action(Spec):
    """Something that is done: what, how much of it, and how long after the truck came to a stop."""

    action: Literal[
        "cap off",
        "cap on",
        "top-up",
        "recharge",
        "fan on",
        "fan auto",
        "engine off",
        "engine on",
        "fault on",
        "fault off",
    ] = Field(description="what is done")
    fault: Fault | None = Field(default=None, description="which fault begins or ends")
    after: float = quantity("time", "0 s", "24 h", "0 s", "time since the stop began")
    volume: float | None = quantity(
        "volume", "1 mL", "10 L", None, "of a top-up at its temperature, of lost oil, of water"
    )
    temperature: float | None = quantity("temperature", "-30 degC", "80 degC", None, "top-up temperature")
    duration: float | None = quantity(
        "time", "1 s", "24 h", None, "of a top-up, 20 s if absent; of a recharge, 30 s; of a loss of oil, 60 s"
    )
    pressure: Level | None = quantity(
        "pressure level",
        "0.5 psig",
        "40 psig",
        None,
        "over ambient, that the regulator of a recharge is set to; put air in only through a regulator",
    )
    diameter: float | None = quantity("short length", "0.02 mm", "5 mm", None, "hole of a seal leak")
    share: float | None = quantity(
        "number", "0", "1", None, "of a blocked core that is shut, of the bore of a collapsed hose that is left"
    )
    factor: float | None = quantity("number", "1", "1000", None, "drop of a blocked strainer over that of a clean one")

    @classmethod
    def accepted(cls, name: str, before: Mapping[str, Any], /) -> Quantity | None:
        """Return what a key accepts: the size of a fault, what that fault accepts."""
        quantity = quantity_of(cls, name)
        for fault, size in FAULT_SIZES.items():
            if quantity and (FAULT_ON, fault, name) == (before.get("action"), before.get("fault"), size.key):
                return quantity._replace(low=size.low, high=size.high)
        return quantity

    @property
    def size(self) -> float | None:
        """The size of its fault, SI units: as given or usual; None for a fault of one size and without a fault."""
        usual = FAULT_SIZES.get(self.fault or "")
        if usual is None:
            return None
        given: float | None = getattr(self, usual.key)
        return usual.si(usual.default) if given is None else given


class Event(Action):
    """Something that is done at a time of the race, or a time after the truck came to a named stop."""

    time: float | None = quantity("time", "0 s", "48 h", None, "race time")
    stop: str | None = Field(default=None, description="name of the stop that it counts from")
