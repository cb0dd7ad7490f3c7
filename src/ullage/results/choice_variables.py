"""Names, units and descriptions of the Dataset over the choices at a stop."""

from __future__ import annotations

from ullage.kernel.state import QUADRATURES
from ullage.results.summary import STATE_FIGURES
from ullage.results.variables import SUMMARY_FIGURES, VARIABLES, Variable

EXPOSURE = "cavitation_exposure"
EXPOSURE_SINCE_STOP = "exposure_since_stop"

CHOICE_TRACES = {name: variable for name, variable in VARIABLES.items() if name not in (*QUADRATURES, EXPOSURE)}
CHOICE_TRACES[EXPOSURE_SINCE_STOP] = Variable(
    "s", "time with gas in the pump since the stop, in full from 5 % of gas on"
)

OWN_FIGURES = {
    "stop_duration": Variable("s", "how long the truck stands"),
    "finish_delay": Variable("s", "how much later than with the cap left shut the race ends"),
    "opened": Variable("s", "time since the stop began at which the cap goes off"),
    "refitted": Variable("s", "time since the stop began at which the cap goes on again"),
    "hottest_oil_opened": Variable("K", "hottest oil when the cap goes off"),
    "gauge_pressure_opened": Variable(
        "Pa", "pressure in the air space when the cap goes off, all of it spent", "gauge"
    ),
    "regained_gauge_pressure": Variable("Pa", "highest pressure in the air space in the stint after the stop", "gauge"),
    "regained_time": Variable("s", "time since the stop began of that highest pressure"),
    "stint_gauge_pressure": Variable("Pa", "mean pressure in the air space over the stint after the stop", "gauge"),
    "returned_share": Variable("1", "that mean over the one with the cap left shut"),
    "returned_from_oil": Variable(
        "Pa",
        "part of the highest that air from the oil is worth, since the refit",
        "difference",
        "out of the oil positive",
    ),
    "returned_through_cap": Variable(
        "Pa",
        "part of the highest that air through cap and regulator is worth, since the refit",
        "difference",
        "into the tank positive",
    ),
    "returned_by_heat": Variable(
        "Pa",
        "part of the highest by heat: oil that grew, warmer air, thinner air around, since the refit",
        "difference",
        "raising the pressure positive",
    ),
    "feed_gauge_pressure_after_stop": Variable(
        "Pa", "mean pressure at the pump inlet port over the first ten minutes of driving", "gauge"
    ),
    "pump_chamber_pressure_after_stop": Variable("Pa", "mean pressure in the pump's chambers over the same", "level"),
    "stint_feed_gauge_pressure": Variable("Pa", "mean pressure at the pump inlet port over the stint", "gauge"),
    "finish_gauge_pressure": Variable("Pa", "pressure in the air space at the finish", "gauge"),
    "overnight_gauge_pressure": Variable("Pa", "pressure in the air space cold next morning", "gauge"),
    "overnight_lowest_gauge_pressure": Variable("Pa", "lowest pressure in the air space over night", "gauge"),
    "overnight_oil_level": Variable("1", "share of the tank that is oil cold next morning"),
    "overnight_air_admitted": Variable("kg", "air that comes in through the cap over night", sign="inward positive"),
}
CHOICE_FIGURES = {
    **OWN_FIGURES,
    **{name: SUMMARY_FIGURES[name] for name in (*STATE_FIGURES, "shaft_energy")},
    "status": SUMMARY_FIGURES["status"],
}
# what hangs on how fast air goes in and out of the oil: these by each model of the air as well
BY_AIR_MODEL = (
    EXPOSURE,
    "regained_gauge_pressure",
    "stint_gauge_pressure",
    "returned_share",
    "returned_from_oil",
    "returned_through_cap",
    "feed_gauge_pressure_after_stop",
    "pump_chamber_pressure_after_stop",
    "stint_feed_gauge_pressure",
    "finish_gauge_pressure",
    "overnight_gauge_pressure",
    "lowest_feed_gauge_pressure",
    "highest_pump_void_fraction",
    "oil_lost",
)
STOP_FIGURES = {
    "gauge_pressure_at_stop": Variable("Pa", "pressure in the air space as the stop begins", "gauge"),
    "oil_temperature_at_stop": Variable("K", "oil temperature as the stop begins"),
    "oil_level_at_stop": Variable("1", "share of the tank taken by oil and its bubbles as the stop begins"),
    "cooling_time": Variable("s", "how long the oil in the tank takes to cool with the cap shut"),
    "coolest_oil": Variable("K", "lowest temperature that the oil in the tank gets to in the longest wait"),
    "settled_time": Variable("s", "how long it takes to come within 2 K of that"),
    "half_cooled_time": Variable("s", "how long it takes to get half-way to cool enough"),
    "mark_by_temperature": Variable("1", "share of the tank that is oil, cold and rested, at a temperature of the day"),
    "mark_height_by_temperature": Variable(
        "m", "height of that oil over the mark, in a tank with upright walls", sign="above the mark positive"
    ),
}
CHOICE_COORDINATES = {
    "time_since_stop": Variable("s", "time since the stop began"),
    "day_temperature": Variable("K", "temperature of the day"),
}
