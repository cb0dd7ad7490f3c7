"""The march over the race: SciPy's LSODA between jumps of the duty cycle and switches of valves and fan."""

import bisect
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
SHOWN = "oil_temperature headspace_temperature headspace_pressure headspace_air_mass dissolved_air_mass free_air_mass"
SHOWN += " oil_mass feed_pressure supply_pressure steering_flow pump_void_fraction inlet_void_fraction shaft_power"
SHOWN += " cavitation_exposure"
ABSOLUTE = np.array([1e-3] * 4 + [1e-6, 1e-9, 1e-9, 1e-9, 1e-3])  # next to the relative tolerance 1e-6

CHANNELS = (
    "engine_speed",
    "vehicle_speed",
    "steering_load",
    "ambient_pressure",
    "ambient_temperature",
    "bay_temperature",
    "block_temperature",
    "cap_on",
)


class Channels:
    """The channels of the duty cycle at one time, within a piece without jumps."""

    def __init__(self, truck, times, columns, order):
        self._times, self._rows = times, list(zip(*(columns[:, order[name]].tolist() for name in CHANNELS), strict=True))
        self._ratio = truck.pump.drive_ratio * (1.0 - truck.pump.belt_slip)
        self.headspace_pressure = 0.0

    def at(self, time):
        """Set all channels to a time, linear between rows."""
        i = min(max(bisect.bisect_right(self._times, time) - 1, 0), len(self._times) - 2)
        left, right = self._times[i], self._times[i + 1]
        x = min(max((time - left) / (right - left), 0.0), 1.0)
        values = [a + x * (b - a) for a, b in zip(self._rows[i], self._rows[i + 1], strict=True)]
        engine, self.vehicle_speed, self.steering_load, self.ambient_pressure, self.ambient_temperature = values[:5]
        self.bay_temperature, self.block_temperature, cap = values[5:]
        self.pump_speed, self.engine_runs, self.cap_on, self.time = engine * self._ratio, engine > 0.0, cap > 0.5, time
        return self


@dataclass
class Solution:
    """What the march shows at the samples, what was switched, and what it cost."""

    time: list = field(default_factory=list)
    rows: list = field(default_factory=list)
    switches: list = field(default_factory=list)  # (time, name, direction)
    evaluations: int = 0
    steps: int = 0

    def __getitem__(self, name):
        return np.array([row[name] for row in self.rows])

    def openings(self, name):
        return sum(1 for _, switched, direction in self.switches if (switched, direction) == (name, "open"))


class March:
    """One race."""

    def __init__(self, spec, table, channel_names, tightening=1.0, longest_step=1.0):
        self.truck, self.spec, self.table = Truck(spec), spec, table
        self.order = {name: i for i, name in enumerate(channel_names)}
        self.tightening, self.longest_step = tightening, longest_step
        self.modes, self.solution, self.opened = Modes(fan=spec.cooler.fan_on_temperature is None), Solution(), -1.0

    def run(self, times):
        """Solve for the rows at some times."""
        piece_ends = [0, *(np.flatnonzero(np.diff(self.table.time) == 0.0) + 1), len(self.table.time)]
        y = None
        for begin, end in zip(piece_ends, piece_ends[1:], strict=False):
            clock = self.table.time[begin:end].tolist()
            channels = Channels(self.truck, clock, self.table.channels[begin:end], self.order)
            channels.at(clock[0])
            if y is None:
                y = self._start(channels)
            wanted = [time for time in times if clock[0] < time <= clock[-1]]
            y = self._piece(channels, clock[0], clock[-1], y, wanted)
        return self.solution

    def _start(self, channels):
        T = self.spec.start.temperature
        state = self.truck.initial_state(
            channels.ambient_temperature if T is None else T, channels.ambient_pressure, self.spec
        )
        self._show(0.0, state.to_list(), channels)
        return state.to_list()

    def _piece(self, channels, time, end, y, wanted):
        """Integrate a piece without jumps, from switch to switch."""
        wanted_set = set(wanted)
        while time < end:
            self._switch(channels.at(time), y)
            resting = (self.modes.relief_open or self.modes.vacuum_open) and time < self.opened + VALVE_REST
            stop = min(end, self.opened + VALVE_REST) if resting else end
            events = [] if resting else self._events(channels)
            result = solve_ivp(
                lambda t, y: right_hand_side(self.truck, State.from_list(y.tolist()), self.modes, channels.at(t)),
                (time, stop),
                np.array(y),
                "LSODA",
                t_eval=[*(sample for sample in wanted if time < sample < stop), stop],
                events=events,
                rtol=1e-6 / self.tightening,
                atol=ABSOLUTE / self.tightening,
                max_step=self.longest_step,
            )
            self.solution.evaluations += result.nfev
            hits = [(found[0], states[0]) for found, states in zip(result.t_events or [], result.y_events or [], strict=True)
                    if len(found)]
            reached, y = min(hits, key=lambda hit: hit[0]) if hits else (stop, result.y[:, -1])
            if result.status < 0:
                raise ArithmeticError(result.message)
            for sample, state in zip(result.t, result.y.T, strict=True):
                if sample in wanted_set and sample <= reached:
                    self._show(sample, state.tolist(), channels.at(sample))
            time, y = reached, list(y)
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
        if cooler.fan_on_temperature is not None and cooler.fan_air_speed > 0.0:
            T = y[STEERING_GEAR]  # of the oil that comes to the cooler
            if modes.fan:
                found.append(("fan", "off", T - cooler.fan_off_temperature))
            else:
                found.append(("fan", "on", cooler.fan_on_temperature - T))
        return found

    def _events(self, channels):
        def event_of(number):
            def event(t, y):
                margin = self._margins(y.tolist(), channels.at(t))[number][2]
                return margin

            event.terminal, event.direction = True, -1.0
            return event

        return [event_of(number) for number in range(len(self._margins([300.0] * 9, channels)))]

    def _switch(self, channels, y):
        """Switch what is due at a time; a lifted cap has no valves."""
        if not channels.cap_on:
            self.modes.relief_open = self.modes.vacuum_open = False
        for name, direction, margin in self._margins(y, channels):
            scale = 1e-3 if name != "fan" else 1e-9
            if margin > scale or (direction == "shut" and channels.time < self.opened + VALVE_REST - 1e-9):
                continue
            attribute = {"cap relief": "relief_open", "cap vacuum": "vacuum_open", "fan": "fan"}[name]
            setattr(self.modes, attribute, direction in ("open", "on"))
            if direction == "open":
                self.opened = channels.time
            self.solution.switches.append((channels.time, name, direction))

    # --- what is shown

    def _show(self, time, y, channels):
        state = State.from_list(y)
        space = air_space(self.truck, state)
        flow = hydraulics(self.truck, state, space, channels)
        standing = channels.pump_speed == 0.0
        T_g = state.gas_mT / state.gas_mass
        self.solution.time.append(time)
        self.solution.rows.append({
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
            "pump_void_fraction": np.nan if standing else flow.pump_void,
            "inlet_void_fraction": np.nan if standing else flow.inlet_void,
            "shaft_power": flow.shaft_power,
            "cavitation_exposure": state.exposure,
            "cap_air_flow": cap_flow(self.truck, self.modes, channels, space.p, T_g),
        })
