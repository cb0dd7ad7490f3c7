"""What the gauges of a faulty truck show beside a healthy one, in a mechanic's words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
import xarray as xr

from ullage.results.air_words import WORTH_A_LINE
from ullage.results.display import System, gauge_text, shown_text
from ullage.results.verdict import duration_text, glass_word

HEALTHY = "healthy"

# own choice: what a gauge [Pa], a thermometer [K], a look at the level (share of the tank), at the sight glass and an
# ear on the pump tell from healthy; gas counts from a minute, and from half as much again
GAUGE_TELLS = WORTH_A_LINE
THERMOMETER_TELLS = 5.0
LEVEL_TELLS = 0.02
GLASS_TELLS = 0.25
MORE_GAS, LEAST_GAS = 1.5, 60.0

# common practice
LOOK = {
    "seal leak": "put a pressure tester and soapy water on the cold cap",
    "relief stuck open": "put a pressure tester on the cold cap",
    "relief stuck shut": "lift-test the cold cap on a pressure tester",
    "vacuum valve stuck open": "put a pressure tester on the cold cap",
    "vacuum valve stuck shut": "pull a vacuum on the cold cap",
    "blocked cooler": "look at both faces of the core, and a thermometer before and behind it",
    "blocked strainer": "take out the strainer, cold",
    "collapsed hose": "look at the feed hose for a soft or flat spot, hands off it",
    "lost oil": "look at the cold mark, and for the wet spot with cardboard, never by hand",
    "water got in": "let a sample stand in a jar: air clears from the bottom in ten minutes, water stays milky",
    "filled hot to the cold mark": "look at the mark, cold",
}


class Signs(NamedTuple):
    """What gauges show, SI units: hot at the stop, and cold the next morning."""

    tank: float
    feed_idle: float
    feed_racing: float
    oil: float
    glass: float
    gas: float
    cold_tank: float
    cold_feed: float
    cold_level: float

    @property
    def fall(self) -> float:
        """How far the feed falls from idle to racing revs [Pa]."""
        return self.feed_idle - self.feed_racing

    @property
    def cold_loss(self) -> float:
        """What the line takes at idle, cold, and more than the height of the oil gives [Pa]."""
        return self.cold_tank - self.cold_feed


class _Marks(NamedTuple):
    """Which signs of a fault stand out from healthy ones: +1, -1 or 0."""

    tank: int
    feed: int
    idle: int
    revs: int
    fall: int
    oil: int
    milk: int
    gas: int
    cold_tank: int
    cold_loss: int
    cold_level: int
    vacuum: bool


def signs_of(data: xr.Dataset, fault: str) -> Signs:
    """Return what the gauges of a truck with a fault show, from a symptom table in SI units."""
    row = data.sel(fault=fault)
    names = ("oil_temperature", "cavitation_exposure", "overnight_gauge_pressure", "overnight_feed_gauge_pressure")
    oil, gas, cold_tank, cold_feed = (float(row[name]) for name in names)
    feed, glass = row.feed_gauge_pressure.values, row.sight_glass_transmittance.values
    return Signs(
        tank=float(row.headspace_gauge_pressure),
        feed_idle=float(feed[0]),
        feed_racing=float(feed[-1]),
        oil=oil,
        glass=float(glass[-1]),
        gas=gas,
        cold_tank=cold_tank,
        cold_feed=cold_feed,
        cold_level=float(row.overnight_oil_level),
    )


def alike(one: Signs, other: Signs) -> bool:
    """Return whether the gauges cannot tell two trucks apart while they are hot: pressures, oil and sight glass."""
    pressures = np.abs(np.subtract(one[:3], other[:3]))
    return bool(
        np.all(pressures < GAUGE_TELLS)
        and abs(one.oil - other.oil) < THERMOMETER_TELLS
        and abs(one.glass - other.glass) < GLASS_TELLS
    )


def alike_cold(one: Signs, other: Signs) -> bool:
    """Return whether two trucks show the same the next morning: air space, feed at idle, level."""
    pressures = np.abs(np.subtract(one[6:8], other[6:8]))
    return bool(np.all(pressures < GAUGE_TELLS) and abs(one.cold_level - other.cold_level) < LEVEL_TELLS)


def signs_in_words(found: Mapping[str, Signs], racing: float, units: System, cap: float = math.inf) -> dict[str, str]:
    """Say for each fault what the gauges show of it.

    Parameters
    ----------
    found : mapping
        Signs by fault, those of `HEALTHY` among them.
    racing : float
        Engine speed of the readings at racing revs [rad s-1].
    units : str
        "metric" or "us".
    cap : float
        Setting of the cap [Pa]; infinity if it is vented.

    Returns
    -------
    dict
        Text by fault: what differs from healthy by more than gauges can read, what that means, and what else tells
        where the gauges do not.
    """
    sound = found[HEALTHY]
    words = {HEALTHY: _healthy(sound, racing, units)}
    for fault, signs in found.items():
        if fault != HEALTHY:
            twins = {
                name: other for name, other in found.items() if name not in (fault, HEALTHY) and alike(signs, other)
            }
            words[fault] = " ".join([_shown(signs, sound, racing, units, cap), *_else(fault, signs, sound, twins)])
    return words


def _healthy(sound: Signs, racing: float, units: System) -> str:
    tank, idle, revs = (_gauge(value, units) for value in (sound.tank, sound.feed_idle, sound.feed_racing))
    oil, speed = shown_text(sound.oil, "K", units), shown_text(racing, "rad s-1", units)
    glass = glass_word(sound.glass)
    return f"Tank {tank}, feed {idle} at idle and {revs} at {speed}, oil at {oil}, glass {glass}."


def _gauge(value: float, units: System) -> str:
    return gauge_text(value, units).removesuffix(" gauge")


def _sign(difference: float, least: float) -> int:
    return 0 if abs(difference) < least else 1 if difference > 0.0 else -1


def _marks(signs: Signs, sound: Signs) -> _Marks:
    tank, idle, revs = (_sign(signs[place] - sound[place], GAUGE_TELLS) for place in range(3))
    return _Marks(
        tank=tank,
        feed=idle if idle == revs else 0,
        idle=idle,
        revs=revs,
        fall=_sign(signs.fall - sound.fall, GAUGE_TELLS),
        oil=_sign(signs.oil - sound.oil, THERMOMETER_TELLS),
        milk=-_sign(signs.glass - sound.glass, GLASS_TELLS),
        gas=int(signs.gas > max(MORE_GAS * sound.gas, sound.gas + LEAST_GAS)),
        cold_tank=_sign(signs.cold_tank - sound.cold_tank, GAUGE_TELLS),
        cold_loss=_sign(signs.cold_loss - sound.cold_loss, GAUGE_TELLS),
        cold_level=_sign(signs.cold_level - sound.cold_level, LEVEL_TELLS),
        vacuum=signs.cold_tank < min(0.0, sound.cold_tank) - GAUGE_TELLS,
    )


def _shown(signs: Signs, sound: Signs, racing: float, units: System, cap: float) -> str:
    marks = _marks(signs, sound)
    hot, cold = ", ".join(_hot(signs, sound, marks, racing, units)), ", ".join(_cold(signs, sound, marks, units))
    if not (hot or cold):
        return "Nothing on the gauges, hot or cold the next morning."
    parts = [hot or "nothing on the hot gauges", *([f"cold the next morning {cold}"] if cold else [])]
    text = "; ".join(parts)
    over = signs.tank > cap + GAUGE_TELLS
    meaning = "the tank is over its cap, whose relief does not lift: keep clear" if over else _meaning(marks)
    return f"{text[0].upper()}{text[1:]}{f': {meaning}' if meaning else ''}."


def _hot(signs: Signs, sound: Signs, marks: _Marks, racing: float, units: System) -> Iterator[str]:
    if marks.fall > 0:
        speed = shown_text(racing, "rad s-1", units)
        falls = [shown_text(each.fall, "Pa", units) for each in (signs, sound)]
        yield f"feed falls {falls[0]} from idle to {speed}, healthy {falls[1]}"
    together = marks.tank == marks.feed != 0 and marks.fall == 0
    if marks.tank:
        way, what = "lower" if marks.tank < 0 else "higher", "feed and tank" if together else "tank"
        apart = f"{shown_text(abs(signs.tank - sound.tank), 'Pa', units)} {way}"
        at_zero = ", tank near zero" if abs(signs.tank) < GAUGE_TELLS else ""
        yield f"{what} {apart}{' at all revs' if together else ''}{at_zero}"
    if not together and marks.fall <= 0:
        for place, at in ((1, "idle"), (2, "racing revs")):
            if marks.idle if place == 1 else marks.revs:
                yield f"feed at {at} {_gauge(signs[place], units)}, healthy {_gauge(sound[place], units)}"
    if marks.oil:
        yield f"oil at {shown_text(signs.oil, 'K', units)}, healthy {shown_text(sound.oil, 'K', units)}"
    if marks.milk > 0:
        glass, healthy = glass_word(signs.glass), glass_word(sound.glass)
        yield f"glass {glass}, healthy {healthy}" if glass != healthy else f"glass more {glass} than healthy"
    if marks.gas:
        gas = f"gas in the pump for {duration_text(signs.gas)} up to the stop, healthy {duration_text(sound.gas)}"
        yield f"pump growls or whines ({gas})"


def _cold(signs: Signs, sound: Signs, marks: _Marks, units: System) -> Iterator[str]:
    if marks.cold_tank:
        yield f"the tank shows {_gauge(signs.cold_tank, units)}, healthy {_gauge(sound.cold_tank, units)}"
    if marks.cold_loss > 0:
        more = shown_text(signs.cold_loss - sound.cold_loss, "Pa", units)
        yield f"the feed at idle is {more} further below the tank"
    if marks.cold_level:
        apart = 100.0 * abs(signs.cold_level - sound.cold_level)
        yield f"the level is {apart:.0f} % of the tank {'lower' if marks.cold_level < 0 else 'higher'}"


def _meaning(marks: _Marks) -> str:
    """Say what signs mean, by the first that is there: a line shows with revs, a cap or a tank at all of them."""
    if marks.fall > 0 or marks.cold_loss > 0:
        return "strainer or line"
    if marks.milk > 0:
        return "air or water in the oil"
    if marks.oil > 0:
        return "the cooler, or its fan"
    if marks.cold_level < 0:
        return "oil is missing"
    if marks.vacuum:
        return "the cap lets no air in"
    if marks.tank < 0:
        return "cap or tank leaks"
    if marks.tank > 0:
        return "the cap does not lift"
    return "gas in the oil, or a line that starves" if marks.gas else ""


def _else(fault: str, signs: Signs, sound: Signs, twins: Mapping[str, Signs]) -> Iterator[str]:
    """Say with what else a fault can be mistaken, and what tells beside the gauges."""
    shows = not alike(signs, sound)
    same = [name for name, other in twins.items() if shows and alike_cold(signs, other)]
    differ = [name for name in twins if shows and name not in same]
    if differ:
        yield f"Hot it looks like {_listed(differ)}: cold the next morning they differ."
    if same:
        yield f"It looks like {_listed(same)} on these gauges."
    yield f"What tells (common practice): {LOOK[fault]}."


def _listed(names: list[str]) -> str:
    return " or ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]
