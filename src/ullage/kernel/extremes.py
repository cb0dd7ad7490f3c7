"""Extremes of a race and how long it was in trouble, kept step by step so that they need no rows."""

from __future__ import annotations

import numpy as np

from ullage.compiled import compiled
from ullage.kernel.hydraulics import STARVED_CHAMBERS, STARVED_LINE
from ullage.kernel.outputs import Row
from ullage.kernel.state import State

PUMP_FILLED = 5.0
FULL_EXPOSURE = 0.05
MUCH_GAS = 0.2
UNCOVERED = 0.01  # gas in the feed line from which an outlet counts as uncovered; own choice


@compiled
def clear_extremes(s: State) -> None:
    """Start the extremes and times of a race, or of a part of it, before its first row is observed."""
    for i in range(len(s.peak_oil_temperature)):
        s.peak_oil_temperature[i] = -np.inf
    s.peak_oil_time = np.nan
    s.lowest_feed_gauge_pressure = np.inf
    s.lowest_feed_time = np.nan
    s.headspace_gauge_pressure_at_lowest_feed = np.nan
    s.lowest_vapour_margin = np.inf
    s.lowest_air_margin = np.inf
    s.lowest_rating_margin = np.inf
    s.lowest_rating_time = np.nan
    s.highest_inlet_void_fraction = 0.0
    s.highest_pump_void_fraction = 0.0
    s.highest_pump_void_time = np.nan
    s.lowest_sight_glass_transmittance = np.inf
    s.lowest_seal_margin = np.inf
    s.lowest_tank_margin = np.inf
    s.highest_headspace_gauge_pressure = -np.inf
    s.highest_oil_level = -np.inf
    s.lowest_oil_level = np.inf
    s.lowest_steering_flow_with_gas = np.inf
    s.first_uncovered_time = np.nan
    s.highest_vapour_pressure = 0.0
    s.highest_steering_flow = 0.0
    s.time_turning = 0.0
    s.time_below_rating = 0.0
    s.time_below_bubble_point = 0.0
    s.time_starved = 0.0
    s.time_chambers_unfilled = 0.0
    s.time_outlet_uncovered = 0.0
    s.cavitation_exposure = 0.0
    s.relief_openings = 0


@compiled
def observe(s: State, row: Row, race_start: float, length: float) -> None:
    """Take the outputs at the end of a step into the extremes.

    Parameters
    ----------
    s : record
        State; its extremes and times change.
    row : record
        Outputs at the end of the step; the exposure is written into it.
    race_start : float
        Start of the race [s].
    length : float
        Length of the step [s]; it counts as its end does.

    Notes
    -----
    What concerns the pump inlet counts while the pump turns and from 5 s after the start. Exposure to cavitation is
    the time with gas in the pump, a second counting in full from a void of 5 % and in proportion below: it compares
    races of one truck, no more.
    """
    _observe_heat(s, row)
    s.lowest_seal_margin = min(s.lowest_seal_margin, row.seal_margin)
    s.lowest_tank_margin = min(s.lowest_tank_margin, row.tank_margin)
    s.highest_headspace_gauge_pressure = max(s.highest_headspace_gauge_pressure, row.headspace_gauge_pressure)
    s.highest_oil_level = max(s.highest_oil_level, row.oil_level)
    s.lowest_oil_level = min(s.lowest_oil_level, row.oil_level)
    s.highest_vapour_pressure = max(s.highest_vapour_pressure, row.vapour_pressure)
    if row.pump_speed <= 0.0 or row.time < race_start + PUMP_FILLED:
        return
    if row.feed_gauge_pressure < s.lowest_feed_gauge_pressure:
        s.lowest_feed_gauge_pressure = row.feed_gauge_pressure
        s.lowest_feed_time = row.time
        s.headspace_gauge_pressure_at_lowest_feed = row.headspace_gauge_pressure
    s.lowest_vapour_margin = min(s.lowest_vapour_margin, row.vapour_margin)
    s.lowest_air_margin = min(s.lowest_air_margin, row.air_margin)
    if row.rating_margin < s.lowest_rating_margin:
        s.lowest_rating_margin = row.rating_margin
        s.lowest_rating_time = row.time
    s.time_turning += length
    if row.rating_margin < 0.0:
        s.time_below_rating += length
    if row.air_margin < 0.0:
        s.time_below_bubble_point += length
    _observe_gas(s, row, length)
    row.cavitation_exposure = s.cavitation_exposure


@compiled
def _observe_heat(s: State, row: Row) -> None:
    before, hottest = -np.inf, -np.inf
    for i in range(len(row.oil_temperature)):
        before = max(before, s.peak_oil_temperature[i])
        s.peak_oil_temperature[i] = max(s.peak_oil_temperature[i], row.oil_temperature[i])
        hottest = max(hottest, s.peak_oil_temperature[i])
    if hottest > before:
        s.peak_oil_time = row.time


@compiled
def _observe_gas(s: State, row: Row, length: float) -> None:
    """Count what keeps oil from the pump and what gas takes from the steering."""
    if row.starved == STARVED_LINE:
        s.time_starved += length
    if row.starved == STARVED_CHAMBERS:
        s.time_chambers_unfilled += length
    if s.line_gas > UNCOVERED:
        s.time_outlet_uncovered += length
        if np.isnan(s.first_uncovered_time):
            s.first_uncovered_time = row.time
    s.highest_inlet_void_fraction = max(s.highest_inlet_void_fraction, row.inlet_void_fraction)
    if row.pump_void_fraction > s.highest_pump_void_fraction:
        s.highest_pump_void_fraction = row.pump_void_fraction
        s.highest_pump_void_time = row.time
    s.lowest_sight_glass_transmittance = min(s.lowest_sight_glass_transmittance, row.sight_glass_transmittance)
    s.highest_steering_flow = max(s.highest_steering_flow, row.steering_flow)
    if row.pump_void_fraction >= MUCH_GAS:
        s.lowest_steering_flow_with_gas = min(s.lowest_steering_flow_with_gas, row.steering_flow)
    s.cavitation_exposure += length * min(1.0, row.pump_void_fraction / FULL_EXPOSURE)
