"""The accepted range of a quantity, in the unit of the value that lies outside of it."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from ullage.unit_list import NUMBER_AND_UNIT
from ullage.units import digits, parse

_DIGITS = 4


def range_in_unit_of(text: str, low: float, high: float, kind: str) -> str:
    """Write a range in the unit of a value.

    Parameters
    ----------
    text : str
        A value that `parse` accepts.
    low, high : float
        Limits on the scale on which `parse` returns the value [SI].
    kind : str
        Name in `ullage.units.KINDS`.

    Returns
    -------
    str
        Such as "1.1 bar to 2.757 bar", rounded inwards: the limits as printed are accepted. Empty if the value is
        a sum, such as "1 h 5 min".
    """
    match = NUMBER_AND_UNIT.fullmatch(text.strip())
    if match is None or (kind == "time" and re.search("[0-9]", match[2])):
        return ""
    unit = match[2].replace(" vac", " gauge")
    zero = parse(f"0 {unit}", kind)
    step = parse(f"1 {unit}", kind) - zero
    noise = 1e-9 * (high - low) / step
    lowest = _rounded((low - zero) / step, noise, math.ceil)
    highest = _rounded((high - zero) / step, noise, math.floor)
    return f"{lowest} {unit} to {highest} {unit}" if unit else f"{lowest} to {highest}"


def _rounded(value: float, noise: float, towards: Callable[[float], int]) -> str:
    if abs(value) <= noise:
        return "0"
    if abs(float(digits(value, _DIGITS)) - value) <= noise:
        return digits(value, _DIGITS)
    step = 10.0 ** (math.floor(math.log10(abs(value))) + 1 - _DIGITS)
    return digits(towards(value / step) * step, _DIGITS)
