"""How a segment is driven: words, bands and gears made numbers, and what changes of single laps make of them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from ullage.duty.generator import ENGINE_FURTHEST, FURTHEST, largest_load_spread
from ullage.duty.profile import Gearbox
from ullage.scenario.duty_spec import Duty
from ullage.scenario.fields import quantity_of
from ullage.scenario.lap_spec import Change, Gear, Segment
from ullage.scenario.lap_words import STEERING, SURFACES, Severity

_WITHIN_BAND = 4.0  # standard deviations from end to end


class Speed(NamedTuple):
    """Mean and standard deviation of a speed, SI units."""

    mean: float
    spread: float

    def times(self, factor: float) -> Speed:
        """Return it with both changed by a factor."""
        return Speed(factor * self.mean, factor * self.spread)


class Driven(NamedTuple):
    """A segment in numbers, SI units; with a gearbox the engine speed is 0, as it follows from the vehicle speed.

    `assumed` names the keys whose values come from a word.
    """

    vehicle_speed: Speed
    engine_speed: Speed
    steering_load: Severity
    gearbox: Gearbox | None
    ground_roughness: float
    assumed: tuple[str, ...]

    @property
    def varies(self) -> bool:
        """Whether the channels are drawn about their means."""
        return max(self.vehicle_speed.spread, self.engine_speed.spread, self.steering_load.spread) > 0.0

    @property
    def furthest(self) -> tuple[float, float, float]:
        """How high both speeds can get, and the mean steering load, SI units."""
        fastest = self.vehicle_speed.mean + FURTHEST * self.vehicle_speed.spread
        turns = self.engine_speed.mean + ENGINE_FURTHEST * self.engine_speed.spread
        if self.gearbox is not None:
            turns = max(self.gearbox.up, self.gearbox.ratios[-1] * fastest)
        return fastest, turns, self.steering_load.load

    def changed(self, factors: Factors) -> Driven:
        """Return how the segment is driven in laps that differ."""
        vehicle, engine, load = factors
        box = self.gearbox
        return self._replace(
            vehicle_speed=self.vehicle_speed.times(vehicle),
            engine_speed=self.engine_speed.times(engine),
            steering_load=_times(self.steering_load, load),
            gearbox=box and box._replace(down=engine * box.down, up=engine * box.up),
        )


class Factors(NamedTuple):
    """What changes of laps do to vehicle speed, engine speed and steering load."""

    vehicle_speed: float
    engine_speed: float
    steering_load: float


class Spell(NamedTuple):
    """Laps in a row, first and last, in which a segment is driven in one way."""

    first_lap: int
    last_lap: int
    factors: Factors


def driven(segment: Segment, gears: tuple[Gear, ...]) -> Driven:
    """Make numbers of a segment.

    Parameters
    ----------
    segment : Segment
        A segment.
    gears : tuple of Gear
        The gears of the truck, if it names them.

    Returns
    -------
    Driven
        Values of its own come before those of its words, and its word for the steering before that of its surface. A
        band stands for its middle, and a quarter of its width as the standard deviation. Spreads of bands and words are
        no wider than the accepted range leaves room for.
    """
    surface = SURFACES[segment.surface] if segment.surface else None
    gearbox = _gearbox(segment, gears)
    shares = (surface.vehicle_speed_share, surface.engine_speed_share) if surface else (0.0, 0.0)
    vehicle = _speed(segment, "vehicle_speed", shares[0], FURTHEST)
    engine = Speed(0.0, 0.0) if gearbox else _speed(segment, "engine_speed", shares[1], ENGINE_FURTHEST)
    return Driven(
        vehicle,
        engine,
        _load(segment),
        gearbox,
        surface.ground_roughness if surface else 1.0,
        tuple(_assumed(segment, gearbox is not None)),
    )


def usual_steering(segment: Segment) -> Severity | None:
    """Return what the word for the steering of a segment or of its surface stands for."""
    if segment.steering:
        return STEERING[segment.steering]
    return STEERING[SURFACES[segment.surface].steering] if segment.surface else None


def spells(duty: Duty, segment: Segment) -> Iterator[Spell]:
    """Go through the laps in which a segment is driven, those that are driven alike together.

    Parameters
    ----------
    duty : Duty
        The race; changes that meet multiply.
    segment : Segment
        One of its segments.

    Yields
    ------
    Spell
        Laps, and the factors in them.
    """
    first, last = segment.first_lap, min(segment.last_lap or duty.laps, duty.laps)
    factors = np.ones((duty.laps, 3))
    for change in changes_of(duty, segment):
        laps = slice(change.first_lap - 1, change.last_lap)
        factors[laps] *= (change.vehicle_speed_factor, change.engine_speed_factor, change.steering_load_factor)
    rows = factors[first - 1 : last].tolist()
    begin = 0
    for place in range(1, len(rows) + 1):
        if place == len(rows) or rows[place] != rows[begin]:
            yield Spell(first + begin, first + place - 1, Factors(*rows[begin]))
            begin = place


def changes_of(duty: Duty, segment: Segment) -> Iterator[Change]:
    """Go through the changes that concern a segment."""
    return (change for change in duty.change if change.segment in (None, segment.name))


def highest(name: str) -> float:
    """Return the highest value that is accepted for a quantity of a segment, SI units."""
    quantity = quantity_of(Segment, name)
    return quantity.limits()[1] if quantity else 0.0


def largest_spread(name: str, mean: float, furthest: float) -> float:
    """Return the largest standard deviation of a speed that keeps it within its accepted range."""
    return max(0.0, min(mean, highest(name) - mean) / furthest)


def _times(load: Severity, factor: float) -> Severity:
    """Return a steering load that is changed by a factor; its peak stays within the accepted range."""
    mean, spread, peak = (factor * value for value in load)
    most = highest("steering_load_peak")
    return (
        Severity(mean, spread, peak)
        if peak <= most
        else Severity(mean, min(spread, largest_load_spread(mean, most)), most)
    )


def _speed(segment: Segment, name: str, share: float, furthest: float) -> Speed:
    low, high = getattr(segment, f"{name}_low"), getattr(segment, f"{name}_high")
    mean, spread = getattr(segment, name) or 0.0, getattr(segment, f"{name}_spread")
    if low is not None and high is not None:
        mean, spread = 0.5 * (low + high), (high - low) / _WITHIN_BAND
    elif spread is None:
        spread = share * mean
    else:
        return Speed(mean, spread)
    return Speed(mean, min(spread, largest_spread(name, mean, furthest)))


def _gearbox(segment: Segment, gears: tuple[Gear, ...]) -> Gearbox | None:
    down, up = segment.engine_speed_low, segment.engine_speed_high
    if not gears or segment.engine_speed is not None or down is None or up is None:
        return None
    return Gearbox(tuple(gear.engine_speed / gear.vehicle_speed for gear in gears), down, up)


def _load(segment: Segment) -> Severity:
    load, spread, peak = segment.steering_load, segment.steering_load_spread, segment.steering_load_peak
    usual = usual_steering(segment)
    if usual is None:
        return Severity(load or 0.0, spread or 0.0, peak or 0.0)
    mean = usual.load if load is None else load
    scale = mean / usual.load
    highest_load = min(scale * usual.peak, highest("steering_load_peak")) if peak is None else peak
    if spread is None:
        spread = min(scale * usual.spread, largest_load_spread(mean, highest_load))
    return Severity(mean, spread, highest_load)


def _assumed(segment: Segment, by_gear: bool) -> Iterator[str]:
    """Go through the keys of a segment whose values come from its words."""
    if segment.surface:
        for name in ("vehicle_speed", "engine_speed"):
            banded = getattr(segment, f"{name}_low") is not None or (by_gear and name == "engine_speed")
            if not banded and getattr(segment, f"{name}_spread") is None:
                yield f"{name}_spread"
    if usual_steering(segment):
        for name in ("steering_load", "steering_load_spread", "steering_load_peak"):
            if getattr(segment, name) is None:
                yield name
