"""All that a stepwise simulation needs, in one record without pointers: a copy of its bytes is a copy of it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled
from ullage.errors import STATUS_AT_ODDS, STATUS_DONE
from ullage.kernel.derive import derive
from ullage.kernel.filling import InitialGas, fill, filling_of, initial_gas
from ullage.kernel.inputs import Inputs, Warmth, goes_on, mix, write_channels
from ullage.kernel.march import march
from ullage.kernel.modes import SWITCHES
from ullage.kernel.outputs import OUTPUT_DTYPE, Rows
from ullage.kernel.params import CHANNELS, PARAMETER_DTYPE, Parameters
from ullage.kernel.setting import begin
from ullage.kernel.settings import Settings
from ullage.kernel.state import Array, Scratch, State, record_dtype
from ullage.numerics.linear import copy_into

_STEP_ROWS = 4  # start of the race, end of the step before, beginning and end of this one
_BEFORE, _BEGINS, _ENDS = 1, 2, 3
_PER_SECOND = 1e9
_LONGEST_STEP = 60.0  # that of samples; what is longer is cut, for the bay follows the engine within minutes [s]
_PART = 30.0  # length of the parts of a longer step [s]
_FROM, _TO = 2, 3  # inputs at both ends of a step that is cut
_ROUNDING = 1e-15  # share of a time by which sums of steps may miss a whole nanosecond


class Unit:
    """A stepwise simulation.

    `inputs` are those at the beginning and at the end of a step, and both once more of a step that is cut into parts;
    `time` and `channels` are the channel table of the step, `log` the switches in it, `rows` the outputs at its end.
    `states` are the state, and what is shown of it where inputs jump; `has_jumped` is 1 while the outputs are those
    after a jump, with the channels of the first row. `status` is the code of a failure, or
    `STATUS_DONE`.
    """

    settings: Settings
    parameters: Parameters
    warmth: Warmth
    states: Rows
    scratch: Scratch
    inputs: Rows
    time: Array
    channels: Array
    output_rows: NDArray[np.int64]
    log: Array
    rows: Rows
    has_jumped: int
    status: int


UNIT_DTYPE = np.dtype(
    [
        ("settings", record_dtype(Settings)),
        ("parameters", PARAMETER_DTYPE),
        ("warmth", record_dtype(Warmth)),
        ("states", record_dtype(State), (2,)),
        ("scratch", record_dtype(Scratch)),
        ("inputs", record_dtype(Inputs), (4,)),
        ("time", np.float64, (_STEP_ROWS,)),
        ("channels", np.float64, (_STEP_ROWS, len(CHANNELS))),
        ("output_rows", np.int64, (_STEP_ROWS,)),
        ("log", np.float64, (1, len(SWITCHES), 2)),
        ("rows", OUTPUT_DTYPE, (1,)),
        ("has_jumped", np.int64),
        ("status", np.int64),
    ]
)
Units = NDArray[Any]
_WITH_ATTRIBUTES: np.dtype[Any] = np.dtype((np.record, UNIT_DTYPE))  # one for all: another is looked at in every call


def empty_unit() -> Units:
    """Return an array of one zeroed unit."""
    units = np.zeros(1, dtype=_WITH_ATTRIBUTES)
    units["output_rows"] = -1, -1, -1, 0
    return units


@compiled
def _clear(log: Array) -> None:
    for switch in range(len(SWITCHES)):
        log[0, switch, 0] = 0.0
        log[0, switch, 1] = 0.0


@compiled
def _fit_together(c: Settings, p: Parameters, gas: InitialGas) -> bool:
    """Return whether parameters that are in range, each for itself, can be those of one circuit."""
    thins = c.fluid_viscosity_100 < c.fluid_viscosity_40
    switch = p.fan_off <= p.fan_on and p.thermostat_shut <= p.thermostat_open
    pump = p.slip_coefficient > 0.0 and p.friction > 0.0
    return thins and switch and pump and gas.headspace_volume > 0.0 and gas.air_pressure > 0.0


@compiled
def begin_unit(units: Units) -> int:
    """Complete a new unit and write its outputs at the start.

    Parameters
    ----------
    units : record array of shape (1,)
        An empty unit but for its settings and its inputs at the end of a step. What it begins with is that of a race
        with these settings.

    Returns
    -------
    int
        Status code, `STATUS_AT_ODDS` if the settings cannot be those of one circuit.
    """
    u = units[0]
    gas = initial_gas(filling_of(u.settings))
    state = u.states[0]
    derive(u.settings, gas.oil_mass, u.parameters)
    u.status = STATUS_DONE if _fit_together(u.settings, u.parameters, gas) else STATUS_AT_ODDS
    if u.status != STATUS_DONE:
        return int(u.status)
    fill(gas, u.parameters, state)
    u.inputs[0] = u.inputs[1]
    u.warmth.block_temperature = state.temperature[0]
    u.warmth.bay_rise = 0.0
    first, last = u.channels[_BEGINS], u.channels[_ENDS]
    write_channels(u.settings, u.warmth, u.inputs[0], u.inputs[1], 0.0, first, last)
    copy_into(u.channels[0], first)
    copy_into(u.channels[_BEFORE], first)
    _clear(u.log)
    begin(u.parameters, state, u.channels, u.rows, u.log)
    return int(u.status)


@compiled
def _later(time: float, seconds: float) -> float:
    """Return a time plus a step [s], on a whole nanosecond if only rounding keeps it from one."""
    end = time + seconds
    whole = math.floor(end * _PER_SECOND + 0.5) / _PER_SECOND
    return whole if abs(whole - end) <= _ROUNDING * end else end


@compiled
def _show(u: Unit) -> None:
    """Write the outputs as they are with inputs that have jumped; the state stays as it is."""
    block, rise = u.warmth.block_temperature, u.warmth.bay_rise
    write_channels(u.settings, u.warmth, u.inputs[1], u.inputs[1], 0.0, u.channels[_BEFORE], u.channels[_BEGINS])
    u.warmth.block_temperature, u.warmth.bay_rise = block, rise
    if goes_on(u.channels[0 if u.has_jumped == 1 else _ENDS], u.channels[_BEFORE]):
        return
    copy_into(u.channels[0], u.channels[_BEFORE])
    u.has_jumped = 1
    u.states[1] = u.states[0]
    begin(u.parameters, u.states[1], u.channels, u.rows, u.log)
    u.rows[0].cavitation_exposure = u.states[0].cavitation_exposure
    _clear(u.log)


@compiled
def _march_to(u: Unit, end: float) -> int:
    """March a step that is not cut."""
    s = u.states[0]
    copy_into(u.channels[_BEFORE], u.channels[_ENDS])
    begins, ends = u.channels[_BEGINS], u.channels[_ENDS]
    write_channels(u.settings, u.warmth, u.inputs[0], u.inputs[1], end - s.time, begins, ends)
    first = _BEFORE
    if goes_on(u.channels[_BEFORE], begins):
        copy_into(begins, u.channels[_BEFORE])
        first = _BEGINS
    u.time[_BEFORE] = s.time
    u.time[_BEGINS] = s.time
    u.time[_ENDS] = end
    u.has_jumped = 0
    status = march(u.parameters, s, u.scratch, u.time, u.channels, first, _ENDS, u.output_rows, u.rows, u.log)
    u.inputs[0] = u.inputs[1]
    return status


@compiled
def advance_unit(units: Units, seconds: float) -> int:
    """March a unit on.

    Parameters
    ----------
    units : record array of shape (1,)
        A unit that has begun. Its inputs at the end of the step are set; on the way there they go straight from the
        last ones, and what is held holds from the beginning of the step.
    seconds : float
        Length of the step [s]; one of no length takes the inputs over at once, as a jump. What is longer than a minute
        is marched in parts.

    Returns
    -------
    int
        Status code, `STATUS_DONE` or that of a failure; a unit that failed stays as it is.
    """
    u = units[0]
    if u.status != STATUS_DONE:
        return int(u.status)
    begin = u.states[0].time
    end = _later(begin, seconds)
    _clear(u.log)
    if end <= begin:
        _show(u)
        u.inputs[0] = u.inputs[1]
        return STATUS_DONE
    parts = math.ceil((end - begin) / _PART) if end - begin > _LONGEST_STEP else 1
    u.inputs[_FROM] = u.inputs[0]
    u.inputs[_TO] = u.inputs[1]
    for part in range(1, parts):
        share = part / parts
        mix(u.inputs[_FROM], u.inputs[_TO], share, u.inputs[1])
        u.status = _march_to(u, begin + share * (end - begin))
        if u.status != STATUS_DONE:
            return int(u.status)
    u.inputs[1] = u.inputs[_TO]
    u.status = _march_to(u, end)
    return int(u.status)
