"""Which choices there are at a stop, standard ones and the crew's own, and why one cannot be had."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from ullage.advise.choices import (
    PlannedStop,
    Stand,
    cooled_then_opened,
    left_off,
    left_shut,
    recharged,
    refitted,
    switched_off,
    topped_up,
    waiting,
    with_stand,
)
from ullage.advise.cooling import Cooling, cool_down
from ullage.errors import ScenarioError
from ullage.physics import oil
from ullage.results.trace import Trace
from ullage.scenario.circuit import ambient_temperature, initial_gas
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.load import Scenario
from ullage.scenario.pit_spec import Pit
from ullage.scenario.settings import fluid_grade
from ullage.units import factor

SHUT, AS_PLANNED = "shut", "as_planned"
IDLING, ENGINE_OFF, IDLING_THEN_OFF = "idling", "engine off", "idling, then engine off"
LEAST_RECHARGE = 3.4e3  # gauge pressure from which a recharge is worth it, half a psi [Pa]; own choice

_IDLE = 900.0 * factor("rpm", "rad/s")  # of an engine that the stop has off
_LEAST_TOP_UP = 0.25e-3  # poured in if nothing is missing [m3]
_BELOW_THE_CAP = 0.9  # a regulator stays this far below the cap's setting and the ratings; own choice

Changes = dict[str, Any]


class Situation(NamedTuple):
    """The race as asked, the same with the cap left alone at the stop, the stop, and the march up to it."""

    asked: Scenario
    shut: Scenario
    stop: PlannedStop
    before: Trace

    @property
    def pit(self) -> Pit:
        """What is asked for at the stop."""
        return self.asked.spec.pit

    @property
    def gauge_pressure(self) -> float:
        """Gauge pressure of the air space as the stop begins [Pa]."""
        return float(self.before.rows[-1].headspace_gauge_pressure)


class Offer(NamedTuple):
    """A choice: what to change of the scenario for it and what that makes of it, or why it cannot be had."""

    label: str
    changes: Changes
    scenario: Scenario | None
    reason: str = ""


def ways_to_cool(x: Situation) -> dict[str, Cooling]:
    """Return how the oil cools: the engine idling with the fan on, the engine off, or first the one, then the other.

    Where idling is enough there is no use in the third; where it is not, the engine goes off once the oil has settled.
    """
    spec = x.asked.spec
    planned = spec.duty.stop[x.stop.place]
    idle = planned.engine_speed if planned.engine == "on" and planned.engine_speed > 0.0 else _IDLE
    idling = _cool_down(x, waiting("on", idle, fan=spec.cooler.fan_air_speed > 0.0 and x.before.state.fan_forced == 0))
    found = {IDLING: idling, ENGINE_OFF: _cool_down(x, waiting("off", None, fan=False))}
    if math.isnan(idling.time):
        found[IDLING_THEN_OFF] = _cool_down(x, switched_off(idling.stand, idling.settled))
    return found


def _cool_down(x: Situation, stand: Stand) -> Cooling:
    return cool_down(x.shut, x.stop, stand, x.before, x.pit.open_below, max(x.pit.longest_wait, x.stop.duration))


def offers(x: Situation, cooling: dict[str, Cooling]) -> list[Offer]:
    """Return every choice at a stop.

    Parameters
    ----------
    x : Situation
        The stop.
    cooling : dict
        From `ways_to_cool`.

    Returns
    -------
    list of Offer
        The standard ones, what the scenario itself does there, and the crew's own.
    """
    stands: dict[str, Stand | str] = {
        "refit": refitted(x.stop.duration, x.pit.open_for),
        "top_up": topped_up(x.stop.duration, x.pit.open_for, top_up_volume(x)),
        "recharge": _recharge(x),
        "cool_then_open": _cool_then_open(x, cooling.get(IDLING_THEN_OFF, cooling[IDLING])),
        "cool_then_open_engine_off": _cool_then_open(x, cooling[ENGINE_OFF]),
        "left_off": left_off(),
    }
    untouched = left_shut(x.asked, x.stop)
    planned = x.asked.to_dict().get("event", [])
    found = [Offer(SHUT, untouched, x.shut), *(_offer(x, label, stand) for label, stand in stands.items())]
    if planned != untouched["event"]:
        found.append(Offer(AS_PLANNED, {"event": planned}, x.asked))
    return found + [_offer(x, choice.name, _own(x, place)) for place, choice in enumerate(x.pit.choice)]


def _offer(x: Situation, label: str, stand: Stand | str) -> Offer:
    if isinstance(stand, str):
        return Offer(label, {}, None, stand)
    changes = with_stand(x.shut, x.stop, stand)
    try:
        return Offer(label, changes, x.shut.replace(changes))
    except ScenarioError as error:
        return Offer(label, changes, None, f"clashes with what the race plans: {error.faults[0].text}")


def top_up_volume(x: Situation) -> float:
    """Return what is poured in [m3]: as asked, else the oil that has gone since the start, at least a quarter litre."""
    if x.pit.top_up_volume is not None:
        return x.pit.top_up_volume
    spec = x.asked.spec
    density = oil.density(ambient_temperature(spec, x.stop.start), fluid_grade(spec.fluid).density_15)
    return max(_LEAST_TOP_UP, (initial_gas(spec).oil_mass - float(x.before.state.oil_mass)) / density)


def recharge_pressure(x: Situation) -> float:
    """Return what the regulator is set to over ambient [Pa]: as asked, else what the tank had, but below the cap."""
    if x.pit.recharge_pressure is not None:
        return x.pit.recharge_pressure.pascal
    spec = x.asked.spec
    limits = (spec.cap.relief_pressure, spec.reservoir.rating.pascal, spec.pump.seal_rating.pascal)
    return min(x.gauge_pressure, _BELOW_THE_CAP * min(limits))


def overnight_temperature(spec: ScenarioSpec) -> float:
    """Return what the night cools to [K]: as asked, else the ambient temperature at the start."""
    asked = spec.pit.overnight_temperature
    return ambient_temperature(spec, 0.0) if asked is None else asked


def _recharge(x: Situation) -> Stand | str:
    if x.asked.spec.cap.kind == "vented":
        return "a vented cap holds no pressure"
    if recharge_pressure(x) < LEAST_RECHARGE:
        return "the tank has no pressure worth putting back"
    return recharged(x.stop.duration, x.pit.open_for, recharge_pressure(x))


def _cool_then_open(x: Situation, cooling: Cooling) -> Stand | str:
    if math.isnan(cooling.time):
        return "the oil does not cool far enough within the longest wait"
    return cooled_then_opened(cooling.stand, x.stop.duration, cooling.time, x.pit.open_for)


def _own(x: Situation, place: int) -> Stand:
    choice, events = x.pit.choice[place], x.asked.to_dict()["pit"]["choice"][place].get("event", [])
    cap = [event["action"] for event in events if event["action"] in ("cap off", "cap on")]
    return Stand(tuple(events), choice.stop_duration, choice.engine, choice.engine_speed, cap[-1:] == ["cap off"])
