"""The circuit step by step, driven from outside: for vehicle simulations, control loops and test benches."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Mapping, Sequence
from importlib.metadata import version
from typing import Any, Literal, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from ullage.embed.accepted import StepInputs
from ullage.errors import STATUS_DONE, ScenarioError, SimulationError, UllageError
from ullage.kernel.inputs import INPUTS, Inputs
from ullage.kernel.modes import SWITCHES
from ullage.kernel.outputs import OUTPUT_DTYPE, Row
from ullage.kernel.state import record_dtype
from ullage.kernel.unit import UNIT_DTYPE, Units, advance_unit, begin_unit, empty_unit
from ullage.scenario.compile import allowed_tolerance, compile_unit
from ullage.scenario.duty_spec import FORMAT
from ullage.scenario.load import Scenario, a_scenario

Amount = float | str
Switch = Literal["on", "off"]

_PLACE = {name: place for place, name in enumerate(INPUTS)}
_ROW: np.dtype[Any] = np.dtype((np.record, OUTPUT_DTYPE))
_INPUTS: np.dtype[Any] = np.dtype((np.record, record_dtype(Inputs)))
_HEAD = struct.Struct("<8sIII")  # mark, format version, version and layout of the record, check sum of all else
_MARK = b"ullage s"
_LAYOUT = zlib.crc32(f"{version('ullage')} {UNIT_DTYPE.descr}".encode())


class StateError(UllageError):
    """A saved state that cannot be gone on from."""


class Event(NamedTuple):
    """What switched by itself during a step: first time [s], what, how, and how many times."""

    time: float
    name: str
    direction: str
    times: int


class Stepper:
    """One circuit that is marched on step by step, driven by what the caller gives.

    Parameters
    ----------
    scenario : Scenario
        The truck, the weather's pressure and the start. Its race gives the first values of all inputs and nothing more.
    tolerance_factor : float
        Factor on the tolerances, 1e-4 to 10; that of `simulate`.

    Raises
    ------
    ValueError
        If the tolerance factor is out of range.
    TypeError
        If `scenario` is not one.
    SimulationError
        If its race cannot begin.

    Notes
    -----
    Driven with the inputs of a race at the ends of its samples (`race_inputs`), it gives what `simulate` gives, to the
    last bit; with other steps within 0.02 K and 50 Pa in races like the demo. Where its scenario has samples of 0.1 s
    or less, the oil in the feed line has inertia, as in `simulate`; steps should then be no longer either.

    A stepper can be copied and pickled. Several can be used at once, each from one thread at a time.
    """

    def __init__(self, scenario: Scenario, *, tolerance_factor: float = 1.0) -> None:
        self._units = compile_unit(a_scenario(scenario).spec, allowed_tolerance(tolerance_factor))
        status = begin_unit(self._units)
        if status != STATUS_DONE:
            raise SimulationError(status, 0.0)
        self._bind()

    def _bind(self) -> None:
        """Look at parts of the record: a view is found once, for it takes longer than a step."""
        self._bytes: NDArray[np.uint8] = self._units.view(np.uint8)
        self._before = self._bytes.copy()
        self._given: NDArray[np.float64] = self._units["inputs"].view(np.float64)[0, len(INPUTS) : 2 * len(INPUTS)]
        self._inputs: NDArray[Any] = self._units["inputs"][0, 1:2]
        self._row: NDArray[Any] = self._units["rows"][0]
        self._clock: NDArray[np.float64] = self._units["states"]["time"][0]
        self._log: NDArray[np.float64] = self._units["log"][0, 0]

    def __getstate__(self) -> Units:
        return self._units.copy()

    def __setstate__(self, units: Units) -> None:
        self._units = empty_unit()
        self._units[:] = units
        self._bind()

    def advance(
        self,
        seconds: Amount,
        *,
        engine_speed: Amount | None = None,
        vehicle_speed: Amount | None = None,
        steering_load: Amount | None = None,
        elevation: Amount | None = None,
        ambient_temperature: Amount | None = None,
        acceleration: Sequence[Amount] | None = None,
        cap: Switch | None = None,
        engine: Switch | None = None,
        fan: Amount | Literal["auto"] | None = None,
        inputs: Mapping[str, Amount] | np.void | None = None,
    ) -> None:
        """March on.

        Parameters
        ----------
        seconds : float or str
            Length of the step [s]. With 0 the inputs are taken over at once, as a jump.
        engine_speed, vehicle_speed : float or str
            [rad s-1], [m s-1], or text with a unit. All numbers are those at the end of the step; on the way there they
            go straight from the last ones. None keeps the last value.
        steering_load : float or str
            Pressure for the ram [Pa].
        elevation : float or str
            Above sea level [m].
        ambient_temperature : float or str
            [K].
        acceleration : sequence of three
            Of the truck, forward, left and up [m s-2]; 0 at rest.
        cap, engine : "on" or "off"
            From the beginning of the step on, as all that follows.
        fan : "auto", float or str
            Share of its full air speed at which the fan runs, 0 to 1, or "auto": its thermostat decides.
        inputs : mapping, or a row of `race_inputs`
            Any input by its name; those that have no word of their own are ram position, ground, water, top-ups,
            recharges and faults.

        Raises
        ------
        ScenarioError
            With everything that is wrong with the values; nothing has happened then.
        SimulationError
            If the step cannot be finished; the stepper stays as it was before the step.
        """
        read = StepInputs()
        read.mapping(inputs)
        read.keyword("seconds", seconds)
        for name, value in (
            ("engine_speed", engine_speed),
            ("vehicle_speed", vehicle_speed),
            ("steering_load", steering_load),
            ("elevation", elevation),
            ("ambient_temperature", ambient_temperature),
            ("cap", cap),
            ("engine", engine),
            ("acceleration", acceleration),
            ("fan", fan),
        ):
            if value is not None:
                read.keyword(name, value)
        if read.faults:
            raise ScenarioError(read.faults)
        self._march(read.seconds, read.numbers)

    def _march(self, seconds: float, numbers: dict[str, float]) -> None:
        np.copyto(self._before, self._bytes)
        for name, number in numbers.items():
            self._given[_PLACE[name]] = number
        status = advance_unit(self._units, seconds)
        if status != STATUS_DONE:
            failed_at = self.time
            np.copyto(self._bytes, self._before)
            raise SimulationError(status, failed_at)

    @property
    def time(self) -> float:
        """Time since the start [s]."""
        return float(self._clock[0])

    @property
    def outputs(self) -> Row:
        """Every output at the end of the last step: a record with the variables of `simulate` in SI units.

        `oil_temperature` has a place for each node: reservoir, pump, steering gear, cooler. `cap_state` is a code:
        closed, relief open, vacuum open, vented, off, stuck, from 0 on.
        """
        return cast("Row", np.frombuffer(self._row.tobytes(), _ROW)[0])

    @property
    def inputs(self) -> Inputs:
        """Every input as it is now: a record in SI units."""
        return cast("Inputs", np.frombuffer(self._inputs.tobytes(), _INPUTS)[0])

    @property
    def events(self) -> list[Event]:
        """What switched by itself during the last step, in order: valves of the cap, fan, thermostats, limits."""
        found = [
            Event(float(first), *SWITCHES[place], int(times))
            for place, (times, first) in enumerate(self._log)
            if times > 0.0
        ]
        return sorted(found)

    def save_state(self) -> bytes:
        """Return all that is needed to go on from here, as bytes: to be copied, kept in a file, sent elsewhere."""
        data = self._units.tobytes()
        head = _HEAD.pack(_MARK, FORMAT, _LAYOUT, 0)
        return _HEAD.pack(_MARK, FORMAT, _LAYOUT, zlib.crc32(head + data)) + data

    def restore(self, state: bytes) -> None:
        """Go on from a saved state.

        Parameters
        ----------
        state : bytes
            From `save_state` of a stepper of the same scenario and tolerance.

        Raises
        ------
        StateError
            If it is damaged, or of another circuit, or of another version of this library; nothing has happened then.
        """
        units = _units_in(state)
        if units["settings"].tobytes() != self._units["settings"].tobytes():
            raise StateError("the state is that of another scenario or tolerance: make a stepper of that one")
        self._units[:] = units


def _units_in(state: bytes) -> Units:
    if not isinstance(state, bytes) or len(state) < _HEAD.size or not state.startswith(_MARK):
        raise StateError("this is no state that a stepper has saved")
    mark, format_version, layout, check = _HEAD.unpack_from(state)
    data = state[_HEAD.size :]
    if format_version != FORMAT or layout != _LAYOUT:
        raise StateError("the state was saved by another version of ullage: go on with that one")
    if len(data) != UNIT_DTYPE.itemsize or zlib.crc32(_HEAD.pack(mark, format_version, layout, 0) + data) != check:
        raise StateError("the state is damaged")
    return np.frombuffer(data, dtype=UNIT_DTYPE)
