"""The state of one race at one instant, as a record: physical state, modes, quadratures and step memory.

A race can be stopped, its record copied, and marched on with the same result to the last bit.
"""

from __future__ import annotations

import functools
from typing import Any, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

RESERVOIR, PUMP, STEERING_GEAR, COOLER = 0, 1, 2, 3
NODES = ("reservoir", "pump", "steering_gear", "cooler")

Array = NDArray[np.float64]
Kind = TypeVar("Kind")


class Quadratures:
    """Time integrals of flows over the boundary, kept for the balances: energies [J] and masses [kg]."""

    shaft_work: float
    ram_work: float
    cooler_energy: float
    surroundings_energy: float
    top_up_energy: float
    air_energy: float
    lost_energy: float
    oil_added: float
    oil_lost: float
    oil_drawn_off: float
    air_vented: float
    air_admitted: float
    air_added: float
    air_lost: float


class Extremes:
    """Extremes and times over accepted step ends, SI units; what concerns the pump inlet, while the pump turns."""

    peak_oil_temperature: Array
    peak_oil_time: float
    lowest_feed_gauge_pressure: float
    lowest_feed_time: float
    headspace_gauge_pressure_at_lowest_feed: float
    lowest_vapour_margin: float
    lowest_air_margin: float
    lowest_rating_margin: float
    lowest_rating_time: float
    highest_inlet_void_fraction: float
    highest_pump_void_fraction: float
    highest_pump_void_time: float
    lowest_sight_glass_transmittance: float
    lowest_seal_margin: float
    lowest_tank_margin: float
    highest_headspace_gauge_pressure: float
    highest_oil_level: float
    lowest_oil_level: float
    highest_vapour_pressure: float
    highest_steering_flow: float
    lowest_steering_flow_with_gas: float
    time_turning: float
    time_below_rating: float
    time_below_bubble_point: float
    time_starved: float
    time_chambers_unfilled: float
    time_outlet_uncovered: float
    first_uncovered_time: float
    cavitation_exposure: float
    relief_openings: int


class State(Quadratures, Extremes):
    """State of a race.

    `air_heat` is N = m T of the headspace air [kg K], `gas_rate` are the last rates of the five unknowns of the gas,
    `pressure_feedback` what its pressure does to the rate of N [kg K s-1 Pa-1].
    `power` are the last powers of the oil step, `surface_height` is that of the oil surface over the tank's floor [m],
    `clear_volume` what is above the oil without its bubbles at reference pressure [m3], `compliance` the yield of wall
    and liquid [m3 Pa-1], `line_gas` the share of the feed line that is gas. `feed_flow` is its flow when the step began
    [m3 s-1], `feed_elapsed` the time since [s], 0 where the inertia of its oil rests, `spare_flow`
    what the pump then had beyond it [m3 s-1]. `fan_called` is 1 while the fan's thermostat calls for it,
    `fan_forced` while the crew forces it on; `recharge_pressure` is that of the crew's regulator over ambient [Pa].
    """

    time: float
    temperature: Array
    temperature_rate: Array
    power: Array
    air_heat: float
    air_mass: float
    dissolved_air: float
    free_air: float
    trapped_air: float
    oil_mass: float
    oil_energy: float
    cap_on: int
    relief_stuck: int
    vacuum_stuck: int
    leak_area: float
    recharge_pressure: float
    relief_open: int
    vacuum_open: int
    fan_called: int
    fan_forced: int
    cooler_open: int
    hot_oil: int
    at_vapour: int
    fresh: int
    valve_free_time: float
    oil_step: float
    gas_step: float
    gas_fresh: int
    gas_rate: Array
    headspace_power: float
    air_pressure: float
    pressure_feedback: float
    headspace_volume: float
    surface_height: float
    reservoir_mass: float
    reservoir_density: float
    vapour_pressure: float
    compliance: float
    clear_volume: float
    line_gas: float
    feed_flow: float
    feed_elapsed: float
    spare_flow: float
    steps: int
    rejected: int
    evaluations: int


class Scratch:
    """Working space of an oil step."""

    middle_matrix: Array
    middle_source: Array
    end_matrix: Array
    end_source: Array
    system: Array
    middle: Array
    predicted: Array
    end: Array
    rate: Array
    middle_power: Array
    end_power: Array


QUADRATURES = tuple(Quadratures.__annotations__)
_SHAPES = {"middle_matrix": (4, 4), "end_matrix": (4, 4), "system": (4, 4)}
_SHAPES |= {"gas_rate": (5,), "power": (5,), "middle_power": (5,), "end_power": (5,)}  # type: ignore[dict-item]
_NUMBERS = {"float": np.float64, "int": np.int64}


@functools.cache
def record_dtype(kind: type) -> np.dtype[Any]:
    """Return the structured dtype of a record class: floats, ints, and arrays of four unless told otherwise.

    Parameters
    ----------
    kind : type
        A class whose annotations are the fields.

    Returns
    -------
    numpy.dtype
        One field an annotation, those of base classes last.
    """
    fields: list[Any] = []
    for part in kind.__mro__[:-1]:
        for name, annotation in part.__annotations__.items():
            if annotation == "Array":
                fields.append((name, np.float64, _SHAPES.get(name, (4,))))
            else:
                fields.append((name, _NUMBERS[annotation]))
    return np.dtype(fields)


@functools.cache
def _with_attributes(kind: type) -> np.dtype[Any]:
    return np.dtype((np.record, record_dtype(kind)))


def record_array(kind: type, memory: NDArray[Any]) -> NDArray[Any]:
    """Return memory as an array of one record: compiled code takes it forty times as fast as a record.

    Parameters
    ----------
    kind : type
        A class whose annotations are the fields.
    memory : array
        Memory of the size of the record.

    Returns
    -------
    record array of shape (1,)
        A view; its record has attribute access, compiled or not.
    """
    return np.ndarray(1, _with_attributes(kind), memory)


def empty_array(kind: type) -> NDArray[Any]:
    """Return an array of one zeroed record of a class."""
    return record_array(kind, np.zeros(record_dtype(kind).itemsize, np.uint8))


def empty_record(kind: type[Kind]) -> Kind:
    """Return one zeroed record with attribute access, compiled or not.

    Parameters
    ----------
    kind : type
        `State` or `Scratch`.

    Returns
    -------
    numpy record
        A view of its own memory.
    """
    return cast("Kind", empty_array(cast("type", kind))[0])


def filled_record(kind: type[Kind], values: dict[str, float]) -> Kind:
    """Return a record in which some fields have values and all others are zero.

    Parameters
    ----------
    kind : type
        Class of the record.
    values : dict
        A number by field, SI units; an array takes it in all its places.

    Returns
    -------
    numpy record
        A record of its own memory.
    """
    record: Any = empty_record(kind)
    for name, value in values.items():
        record[name] = value
    return cast("Kind", record)


def copied(state: State) -> State:
    """Return a copy of a state record with its own memory."""
    other = empty_record(State)
    for name in record_dtype(State).names or ():
        setattr(other, name, getattr(state, name))
    return other
