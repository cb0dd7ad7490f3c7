"""The march over the race: SciPy's LSODA between jumps of the duty cycle and switches of valves and fan."""

import bisect
import itertools
import math
from dataclasses import dataclass, field

import numpy as np
from scipy.integrate import solve_ivp

from second_solution.balances import (
    Modes,
    air_space,
    cap_flow,
    hydraulics,
    relief_reseat,
    right_hand_side,
    vacuum_reseat,
)
from second_solution.truck import STEERING_GEAR, State, Truck

VALVE_REST = 0.02  # a valve of the cap that has opened stays open as long [s]
RELATIVE_TOLERANCE = 1e-7
ABSOLUTE_TOLERANCE = np.array([1e-4] * 4 + [1e-7] + [1e-10] * 3 + [1e-4] + [1e-9] * 2)  # in the order of State
COLUMNS = (  # of the table of the duty cycle
    *("engine_speed", "vehicle_speed", "steering_load", "steering_position", "ambient_pressure", "ambient_temperature"),
    *("bay_temperature", "block_temperature", "top_up_flow", "top_up_temperature", "forward_acceleration"),
    *("left_acceleration", "upward_acceleration", "cap_on", "relief_stuck", "vacuum_stuck", "leak_area"),
    *("core_blockage", "strainer_factor", "bore_share", "drain_flow", "water_content", "mark_fills"),
    *("recharge_pressure", "fan_forced"),
)
MODE_OF = {"cap relief": "relief_open", "cap vacuum": "vacuum_open", "fan": "fan", "thermostat": "core"}
ON_THE_POINT = 1e-6  # [Pa] or [K]: what a switch is found to
USED = ("engine_speed", "vehicle_speed", "steering_load", "ambient_pressure", "ambient_temperature")
USED += ("bay_temperature", "block_temperature", "cap_on", "leak_area", "core_blockage", "strainer_factor")
USED += ("bore_share", "forward_acceleration", "left_acceleration", "upward_acceleration")


class Channels:
    """The channels of the duty cycle at one time, within a piece without jumps."""

    def __init__(self, truck, times, values):
        columns = (values[:, COLUMNS.index(name)].tolist() for name in USED)
        self._times, self._rows = times, list(zip(*columns, strict=True))
        self._ratio = truck.pump.drive_ratio * (1.0 - truck.pump.belt_slip)
        self.headspace_pressure = 0.0

    def at(self, time):
        """Set all channels to a time, linear between rows."""
        i = min(max(bisect.bisect_right(self._times, time) - 1, 0), len(self._times) - 2)
        left, right = self._times[i], self._times[i + 1]
        x = min(max((time - left) / (right - left), 0.0), 1.0)
        values = [a + x * (b - a) for a, b in zip(self._rows[i], self._rows[i + 1], strict=True)]
        engine, self.vehicle_speed, self.steering_load, self.ambient_pressure, self.ambient_temperature = values[:5]
        self.bay_temperature, self.block_temperature, cap, self.leak_area, self.core_blockage = values[5:10]
        self.strainer_factor, self.bore_share, *self.acceleration = values[10:]
        self.pump_speed, self.engine_runs, self.cap_on, self.time = engine * self._ratio, engine > 0.0, cap > 0.5, time
        return self


@dataclass
class Solution:
    """What the march shows at the wanted times, what was switched, and what it cost."""

    times: list = field(default_factory=list)
    rows: list = field(default_factory=list)
    switches: list = field(default_factory=list)  # (time, name, direction)
    evaluations: int = 0

    def __getitem__(self, name):
        return np.array([row[name] for row in self.rows])

    def switched(self, name, direction):
        """Times at which something was switched."""
        return [time for time, *what in self.switches if what == [name, direction]]


class March:
    """One race of a truck.

    `tightening` divides the tolerances. No step is longer than `longest_step`, so that none passes over a kink of the
    channels, which have one at every whole second, without its error being looked at.
    """

    def __init__(self, spec, table, tightening=1.0, longest_step=1.0):
        self.truck, self.spec, self.table = Truck(spec), spec, table
        cooler = spec.cooler
        self.tightening, self.longest_step = tightening, longest_step
        self.modes = Modes(fan=cooler.fan_on_temperature is None, core=cooler.thermostat_open_temperature is None)
        self.opened = -math.inf
        self.solution = Solution()

    def run(self, wanted):
        """Solve up to the last of some times, and show the truck at each."""
        clock, values = self.table.time, self.table.channels
        cuts = [0, *(np.flatnonzero(np.diff(clock) == 0.0) + 1).tolist(), len(clock)]
        state = self._start(Channels(self.truck, clock[:2].tolist(), values[:2]))
        for first, last in itertools.pairwise(cuts):
            piece = Channels(self.truck, clock[first:last].tolist(), values[first:last])
            begin, end = float(clock[first]), min(float(clock[last - 1]), wanted[-1])
            if begin < end:
                state = self._piece(piece, begin, end, state, {time for time in wanted if begin < time <= end})
        return self.solution

    def _start(self, channels):
        channels.at(0.0)
        T = self.spec.start.temperature
        T = channels.ambient_temperature if T is None else T
        state = self.truck.initial_state(T, channels.ambient_pressure, self.spec).to_list()
        self._show(0.0, state, channels)
        return state

    def _piece(self, channels, time, end, y, wanted):
        """Integrate a piece without jumps, from switch to switch; a valve that has just opened is left alone."""
        while time < end:
            self._switch(y, channels.at(time))
            rest = self.opened + VALVE_REST
            stop = rest if time < rest < end else end
            result = solve_ivp(
                lambda t, y: right_hand_side(self.truck, State.from_list(y.tolist()), self.modes, channels.at(t)),
                (time, stop),
                np.array(y),
                "LSODA",
                t_eval=sorted({sample for sample in wanted if time < sample < stop} | {stop}),
                events=[] if time < rest else self._events(y, channels),
                rtol=RELATIVE_TOLERANCE / self.tightening,
                atol=ABSOLUTE_TOLERANCE / self.tightening,
                max_step=self.longest_step,
            )
            if result.status < 0:
                raise ArithmeticError(result.message)
            self.solution.evaluations += result.nfev
            for sample, shown in zip(np.asarray(result.t).tolist(), np.asarray(result.y).T.tolist(), strict=True):
                if sample in wanted:
                    self._show(sample, shown, channels.at(sample))
            time, y = _end_of(result, stop)
        return y

    # --- switches

    def _gauge(self, y, channels):
        return air_space(self.truck, State.from_list(y)).p - channels.ambient_pressure

    def _margins(self, y, channels):
        """What stands before the next switch: name, direction, and a number that falls through zero when it comes."""
        cap, cooler, modes = self.truck.cap, self.truck.cooler, self.modes
        found = []
        if channels.cap_on:
            gauge = self._gauge(y, channels)
            if modes.relief_open:
                found.append(("cap relief", "shut", gauge - relief_reseat(cap)))
            else:
                found.append(("cap relief", "open", cap.relief_pressure - gauge))
            if modes.vacuum_open:
                found.append(("cap vacuum", "shut", -gauge - vacuum_reseat(cap)))
            else:
                found.append(("cap vacuum", "open", cap.vacuum_pressure + gauge))
        T = y[STEERING_GEAR]  # of the oil that comes to the cooler
        if cooler.fan_on_temperature is not None:
            off = ("fan", "off", T - cooler.fan_off_temperature)
            found.append(off if modes.fan else ("fan", "on", cooler.fan_on_temperature - T))
        if cooler.thermostat_open_temperature is not None:
            shut = ("thermostat", "shut", T - cooler.thermostat_shut_temperature)
            found.append(shut if modes.core else ("thermostat", "open", cooler.thermostat_open_temperature - T))
        return found

    def _events(self, y, channels):
        """Functions of time and state that fall through zero when a switch is due."""

        def event_of(number):
            def event(t, y):
                return self._margins(y.tolist(), channels.at(t))[number][2]

            event.terminal, event.direction = True, -1.0
            return event

        return [event_of(number) for number in range(len(self._margins(y, channels)))]

    def _switch(self, y, channels):
        """Switch what is due at a time; an open neck has no valves."""
        if not channels.cap_on:
            self.modes.relief_open = self.modes.vacuum_open = False
        for name, direction, margin in self._margins(y, channels):
            valve = name.startswith("cap")
            if margin > ON_THE_POINT or (valve and direction == "shut" and channels.time < self.opened + VALVE_REST):
                continue
            setattr(self.modes, MODE_OF[name], direction in ("open", "on"))
            if valve and direction == "open":
                self.opened = channels.time
            self.solution.switches.append((channels.time, name, direction))

    # --- what is shown

    def _show(self, time, y, channels):
        state = State.from_list(y)
        space = air_space(self.truck, state)
        flow = hydraulics(self.truck, state, space, channels)
        standing = channels.pump_speed == 0.0
        T_g = state.mass_temperature / state.gas_mass
        self.solution.times.append(time)
        self.solution.rows.append(
            {
                "oil_temperature": state.T,
                "headspace_temperature": T_g,
                "headspace_pressure": space.p,
                "headspace_air_mass": state.gas_mass,
                "dissolved_air_mass": state.dissolved,
                "free_air_mass": state.bubbles,
                "oil_mass": self.truck.oil_mass,
                "feed_pressure": flow.feed_pressure,
                "supply_pressure": flow.supply_pressure,
                "steering_flow": flow.steering_flow,
                "pump_flow": flow.feed_flow,
                "pump_void_fraction": np.nan if standing else flow.pump_void,
                "inlet_void_fraction": np.nan if standing else flow.inlet_void,
                "shaft_power": flow.shaft_power,
                "cavitation_exposure": state.exposure,
                "air_vented": state.vented,
                "air_admitted": state.admitted,
                "cap_air_flow": cap_flow(self.truck, self.modes, channels, space.p, T_g),
            }
        )


def _end_of(result, stop):
    """Where an integration ended: at its first switch, or at its stop."""
    hits = [
        (times[-1], states[-1]) for times, states in zip(result.t_events, result.y_events, strict=True) if len(times)
    ]
    time, y = min(hits, key=lambda hit: hit[0]) if hits else (stop, result.y[:, -1])
    return float(time), y.tolist()
