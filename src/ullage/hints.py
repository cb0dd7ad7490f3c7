"""What to write instead: examples of a kind of quantity, the nearest unit, the nearest word."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from typing import NamedTuple

from ullage.unit_list import NUMBER_AND_UNIT


class Customary(NamedTuple):
    """What a kind of quantity is called, examples of how it is written, and its common units."""

    name: str
    examples: str
    units: tuple[str, ...]


CUSTOMARY = {
    "length": Customary("a length", '"1.2 m" or "4 ft"', ("m", "cm", "mm", "km", "in", "ft", "mile", "mi")),
    "short length": Customary("a length", '"22 mm" or "0.875 in"', ("mm", "cm", "m", "um", "in", "ft")),
    "area": Customary("an area", '"210 cm2" or "33 in2"', ("cm2", "mm2", "m2", "in2", "ft2")),
    "valve area": Customary("an area", '"20 mm2" or "0.03 in2"', ("mm2", "cm2", "m2", "in2", "ft2")),
    "volume": Customary(
        "a volume", '"7.6 L" or "2 gal"', ("L", "mL", "cm3", "cc", "mm3", "m3", "in3", "ft3", "gal", "qt")
    ),
    "density": Customary("a density", '"870 kg/m3"', ("kg/m3", "kg/L", "g/cm3", "g/mL", "lb/ft3", "lb/gal")),
    "temperature": Customary("a temperature", '"35 degC" or "95 degF"', ("degC", "degF", "K")),
    "temperature difference": Customary("a temperature difference", '"25 K" or "45 degF"', ("K", "degC", "degF")),
    "pressure level": Customary(
        "a pressure level",
        '"5 psig", "16 psia" or "2 inHg vac"',
        ("psig", "psia", "barg", "bara", "kPag", "kPaa", "inHg vac", "inHg abs", "inHg gauge"),
    ),
    "pressure difference": Customary(
        "a pressure difference", '"16 psi" or "1.1 bar"', ("psi", "bar", "kPa", "MPa", "Pa", "mbar", "inHg", "atm")
    ),
    "flow": Customary(
        "a flow", '"38 L/min" or "10 gpm"', ("L/min", "gpm", "lpm", "gal/min", "m3/s", "cm3/s", "mL/min", "ft3/min")
    ),
    "mass flow": Customary("a mass flow", '"0.1 kg/s" or "6 kg/min"', ("kg/s", "kg/min", "g/s", "lb/min")),
    "speed": Customary("a speed", '"60 km/h" or "40 mph"', ("km/h", "mph", "m/s", "ft/s", "kph")),
    "air speed": Customary("an air speed", '"5 m/s" or "16 ft/s"', ("m/s", "ft/s", "ft/min", "km/h", "mph")),
    "rotation": Customary("a shaft speed", '"4000 rpm"', ("rpm", "rad/s", "rev/s", "rev/min")),
    "time": Customary("a time", '"90 s" or "2 h 31 min"', ("s", "min", "h", "ms", "day", "d", "hr", "sec")),
    "frequency": Customary("a number a second", '"100 Hz"', ("Hz", "kHz", "1/s")),
    "acceleration": Customary("an acceleration", '"4 m/s2" or "0.4 gn"', ("m/s2", "gn", "ft/s2")),
    "viscosity": Customary("a viscosity", '"34 mm2/s" or "34 cSt"', ("mm2/s", "cSt", "m2/s")),
    "diffusivity": Customary("a diffusivity", '"5e-10 m2/s"', ("m2/s", "mm2/s", "cm2/s")),
    "conductance": Customary("a conductance", '"4 W/K"', ("W/K", "kW/K", "BTU/h/degF")),
    "heat capacity": Customary("a heat capacity", '"2 kJ/K"', ("kJ/K", "J/K", "BTU/degF")),
    "torque": Customary("a torque", '"25 N*m" or "18 ft*lbf"', ("N*m", "ft*lbf", "in*lbf")),
    "expansion": Customary("an expansion", '"7e-5 1/K"', ("1/K", "1/degF")),
    "compliance": Customary("a compliance", '"2e-10 m3/Pa"', ("m3/Pa", "mL/bar", "cm3/bar", "in3/psi")),
    "number": Customary("a plain number or a percentage", '0.8 or "80 %"', ("%",)),
}

# how a unit is spelled by hand, in small letters without blanks and points
_SPELLED = {
    "c": "degC",
    "f": "degF",
    "celsius": "degC",
    "fahrenheit": "degF",
    "'": "ft",
    "feet": "ft",
    "foot": "ft",
    '"': "in",
    "inches": "in",
    "metres": "m",
    "meters": "m",
    "liters": "L",
    "litres": "L",
    "gallons": "gal",
    "quarts": "qt",
    "ccm": "cm3",
    "l/m": "L/min",
    "liters/min": "L/min",
    "litres/min": "L/min",
    "1/min": "rpm",
    "/min": "rpm",
    "min-1": "rpm",
    "hz": "rev/s",
    "kmh": "km/h",
    "kmph": "km/h",
    "pounds": "psi",
    "lbs": "psi",
    "hours": "h",
    "hrs": "h",
    "minutes": "min",
    "seconds": "s",
    "days": "day",
    "g": "gn",
    "gs": "gn",
    "gee": "gn",
    "m/s^2": "m/s2",
    "nm": "N*m",
    "ft-lb": "ft*lbf",
    "ftlb": "ft*lbf",
    "ftlbs": "ft*lbf",
    "lb-ft": "ft*lbf",
    "lbft": "ft*lbf",
}
_LETTER = {"psi": ("psig", "psia"), "bar": ("barg", "bara"), "kPa": ("kPag", "kPaa")}
_CLOCK = re.compile(r"([0-9]{1,4}):([0-9]{1,2})(?::([0-9]{1,2}))?")
_COMMA = re.compile(r"([-+]?[0-9]+),([0-9]+)(\s*[^0-9,\s][^,]*|)")
_FRACTION = re.compile(r"([0-9]{1,3})\s*/\s*([1-9][0-9]{0,2})(\s*[^0-9\s].*)")
_DASH_SIZE = re.compile(r"-?\s*[0-9]+\s*AN|AN\s*-?\s*[0-9]+", re.IGNORECASE)


def advice(text: str, kind: str) -> str:
    """Say what to write instead of text that is no quantity of a kind.

    Parameters
    ----------
    text : str
        What was written, at most some hundred signs.
    kind : str
        A key of `CUSTOMARY`.

    Returns
    -------
    str
        The near miss in brackets if there is one, and what is wanted, for the end of a sentence.
    """
    near = _near_miss(text.strip(), kind)
    return f" ({near}); {wanted(kind)}" if near else f"; {wanted(kind)}"


def wanted(kind: str) -> str:
    """Say what a kind of quantity is, with examples."""
    return f"{CUSTOMARY[kind].name} is wanted, such as {CUSTOMARY[kind].examples}"


def did_you_mean_unit(unit: str, kind: str) -> str:
    """Return the customary unit of a kind that is spelled most alike, as a question in brackets, or ""."""
    near = _nearest(unit, kind)
    return f" (did you mean '{near[0]}'?)" if near else ""


def _near_miss(text: str, kind: str) -> str:
    if kind == "time" and (clock := _CLOCK.fullmatch(text)):
        return _clock_in_words(*clock.groups())
    if kind in ("length", "short length") and _DASH_SIZE.fullmatch(text):
        return "a dash size counts sixteenths of an inch of a tube's outside: measure the inner diameter"
    if comma := _COMMA.fullmatch(text):
        return _without_comma(*comma.groups())
    if fraction := _FRACTION.fullmatch(text):
        return f'write "{int(fraction[1]) / int(fraction[2]):.6g}{fraction[3]}"'
    found = NUMBER_AND_UNIT.fullmatch(text)
    if not found or not found[2] or kind == "number":
        return ""
    texts = [f'"{found[1]} {unit}"' for unit in _nearest(found[2], kind)]
    return f"did you mean {' or '.join(texts)}?" if texts else ""


def _clock_in_words(first: str, second: str, third: str | None) -> str:
    first, second = f"{int(first)}", f"{int(second)}"
    if third is not None:
        return f'write "{first} h {second} min {int(third)} s"'
    return f'write "{first} h {second} min" or "{first} min {second} s"'


def _without_comma(whole: str, part: str, unit: str) -> str:
    if len(part) == 3:
        return f'a comma can mean two things: write "{whole}{part}{unit}" or "{whole}.{part}{unit}"'
    return f'with a decimal point: "{whole}.{part}{unit}"'


def _nearest(unit: str, kind: str) -> tuple[str, ...]:
    """Return the customary unit that is spelled most alike; for a bare pressure where a level is wanted, its levels."""
    plain = re.sub(r"[\s().]", "", unit).lower()
    if plain not in (known.lower() for known in CUSTOMARY[kind].units):
        plain = _SPELLED.get(plain, plain).lower()
    if kind == "pressure level":
        for bare in CUSTOMARY["pressure difference"].units:
            if plain == bare.lower():
                return _LETTER.get(bare, (f"{bare} gauge", f"{bare} abs"))
    near = nearest_word(plain, CUSTOMARY[kind].units)
    prefixed = plain[1:] == near.lower() and plain[:1] in "kmµu"
    return (near,) if near and not prefixed else ()


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return the known word that is spelled most alike, as a question in brackets, or "" if there is none."""
    near = nearest_word(word, known)
    return f" (did you mean '{near}'?)" if near else ""


def nearest_word(word: str, known: Iterable[str]) -> str:
    """Return the known word that is spelled most alike, whatever the case, or ""."""
    names = {name.lower(): name for name in known}
    return next((names[near] for near in difflib.get_close_matches(word.lower()[:60], names, n=1)), "")
