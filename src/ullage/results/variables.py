"""Names, units and descriptions of everything in a Dataset."""

from __future__ import annotations

from typing import NamedTuple

FORMAT_VERSION = 1  # of result files and of what the command prints as JSON


class Variable(NamedTuple):
    """Unit and description of a variable, and what is positive where that is not plain.

    `pressure` is "level" for an absolute pressure, "gauge" for one over ambient, "difference" for a margin. `absent`
    says when there is no such figure, which is then null in JSON; `value` is its type there.
    """

    units: str
    long_name: str
    pressure: str = ""
    sign: str = ""
    absent: str = ""
    value: str = "number"


VARIABLES = {
    "oil_temperature": Variable("K", "oil temperature"),
    "headspace_temperature": Variable("K", "temperature of the air space"),
    "headspace_pressure": Variable("Pa", "pressure in the air space", "level"),
    "headspace_gauge_pressure": Variable("Pa", "pressure in the air space over ambient", "gauge"),
    "headspace_volume": Variable("m3", "volume of the air space"),
    "ambient_pressure": Variable("Pa", "ambient pressure", "level"),
    "ambient_temperature": Variable("K", "ambient temperature"),
    "oil_level": Variable("1", "share of the tank volume taken by oil and its bubbles"),
    "oil_level_clear": Variable("1", "share of the tank volume that the oil would take without its bubbles"),
    "oil_mass": Variable("kg", "oil in the whole circuit"),
    "feed_pressure": Variable("Pa", "static pressure at the pump inlet port", "level"),
    "feed_gauge_pressure": Variable("Pa", "static pressure at the pump inlet port over ambient", "gauge"),
    "vapour_margin": Variable("Pa", "feed pressure less vapour pressure; unknown while the pump stands", "difference"),
    "air_margin": Variable("Pa", "feed pressure less bubble point; unknown while the pump stands", "difference"),
    "rating_margin": Variable(
        "Pa",
        "feed pressure less what the pump needs at its inlet, by its rating or against vapour; unknown while it stands",
        "difference",
    ),
    "headspace_air_mass": Variable("kg", "air in the air space"),
    "dissolved_air_mass": Variable("kg", "air dissolved in the oil"),
    "free_air_mass": Variable("kg", "air in bubbles in the tank's oil"),
    "trapped_air_mass": Variable("kg", "air still trapped in gear and hoses since the first fill"),
    "dissolved_air_pressure": Variable(
        "Pa", "pressure at which the dissolved air would neither go in nor out", "level"
    ),
    "vapour_pressure": Variable("Pa", "pressure at which the water in the tank's oil boils", "level"),
    "pump_chamber_pressure": Variable("Pa", "pressure in the pump's chambers, behind its inlet port", "level"),
    "inlet_void_fraction": Variable("1", "share of gas in what reaches the inlet port; unknown while the pump stands"),
    "pump_void_fraction": Variable("1", "share of the pump's chambers that oil does not fill; unknown while it stands"),
    "sight_glass_transmittance": Variable("1", "light that passes a sight glass in the feed line: 1 is clear oil"),
    "cavitation_exposure": Variable("s", "time with gas in the pump since the start, in full from 5 % of gas on"),
    "starved": Variable("1", "what starves the pump: 0 nothing, 1 the feed line, 2 its own port and chambers"),
    "pump_viscosity": Variable("m2 s-1", "kinematic viscosity in the pump"),
    "seal_margin": Variable("Pa", "shaft-seal rating less feed gauge pressure", "difference"),
    "tank_margin": Variable("Pa", "tank rating less gauge pressure of the air space", "difference"),
    "pump_speed": Variable("rad s-1", "pump shaft speed"),
    "pump_flow": Variable("m3 s-1", "flow through the feed line", sign="tank to pump positive"),
    "steering_flow": Variable("m3 s-1", "flow through the steering valve", sign="pump to gear positive"),
    "supply_pressure": Variable("Pa", "pressure between pump and steering valve", "level"),
    "shaft_power": Variable("W", "power at the pump shaft", sign="into the pump positive"),
    "cooler_heat": Variable("W", "heat given off by the cooler", sign="out of the oil positive"),
    "surroundings_heat": Variable("W", "heat given off to bay and engine", sign="out of the oil positive"),
    "cap_air_flow": Variable("kg s-1", "air through the cap, less what a recharge puts in", sign="outward positive"),
    "cap_oil_flow": Variable("kg s-1", "oil lost through the cap or neck", sign="outward positive"),
    "cap_state": Variable("1", "state of the cap"),
    "shaft_work": Variable("J", "energy from the pump shaft since the start", sign="into the pump positive"),
    "ram_work": Variable("J", "energy that left as ram work since the start", sign="out of the circuit positive"),
    "cooler_energy": Variable("J", "heat given off by the cooler since the start", sign="out of the oil positive"),
    "surroundings_energy": Variable(
        "J", "heat given off to bay and engine since the start", sign="out of the oil positive"
    ),
    "top_up_energy": Variable("J", "enthalpy brought by top-ups since the start", sign="into the tank positive"),
    "air_energy": Variable("J", "enthalpy of air through the cap since the start", sign="outward positive"),
    "lost_energy": Variable("J", "enthalpy of oil lost or drawn off since the start", sign="outward positive"),
    "oil_added": Variable("kg", "oil poured in since the start"),
    "oil_lost": Variable("kg", "oil lost through cap, neck or a leak since the start"),
    "oil_drawn_off": Variable("kg", "oil that the crew drew off since the start"),
    "air_vented": Variable("kg", "air let out through the cap since the start"),
    "air_admitted": Variable("kg", "air let in through the cap, or put in by recharges, since the start"),
    "air_added": Variable("kg", "air brought dissolved in top-ups since the start"),
    "air_lost": Variable("kg", "air in the oil that was lost or drawn off since the start"),
}
# not a number while the pump stands
WHILE_TURNING = ("vapour_margin", "air_margin", "rating_margin", "inlet_void_fraction", "pump_void_fraction")
# what a truck may have sensors for, in the order in which it is told
_SENSED = (
    "feed_gauge_pressure",
    "headspace_gauge_pressure",
    "supply_pressure",
    "oil_temperature",
    "headspace_temperature",
    "ambient_temperature",
)
MEASURED_VARIABLES = {
    f"measured_{name}": VARIABLES[name]._replace(long_name=f"measured {VARIABLES[name].long_name}") for name in _SENSED
}
EVENT_VARIABLES = {
    "event_time": Variable("s", "time of the event"),
    "event_name": Variable("1", "what was switched"),
    "event_direction": Variable("1", "how it was switched"),
    "event_count": Variable("1", "times that it happened in its minute of the race"),
}
TEXT_WIDTH = {"event_name": "U32", "event_direction": "U16"}
COORDINATES = {
    "time": Variable("s", "race time"),
    "lap": Variable("1", "lap"),
    "distance": Variable("m", "distance driven"),
    "elevation": Variable("m", "elevation", sign="above sea level positive"),
}
DUTY_VARIABLES = {
    "vehicle_speed": Variable("m s-1", "speed of the truck"),
    "engine_speed": Variable("rad s-1", "speed of the engine"),
    "steering_load": Variable("Pa", "pressure for the ram"),
    "elevation": Variable("m", "elevation", sign="above sea level positive"),
    "forward_acceleration": Variable("m s-2", "acceleration of the truck", sign="speeding up positive"),
    "left_acceleration": Variable("m s-2", "acceleration of the truck", sign="in a left-hand bend positive"),
    "upward_acceleration": Variable("m s-2", "acceleration of the truck", sign="thrown up positive; 0 at rest"),
}
DUTY_FIGURES = {
    "laps": Variable("1", "laps in which it is driven"),
    "time": Variable("s", "time that it is driven, in all these laps"),
    "distance": Variable("m", "way driven, in all these laps"),
    "vehicle_speed": Variable("m s-1", "speed of the truck: mean, spread, lowest, highest"),
    "engine_speed": Variable("rad s-1", "speed of the engine: mean, spread, lowest, highest"),
    "steering_load": Variable("Pa", "pressure for the ram: mean, spread, lowest, highest"),
    "over_relief": Variable("1", "share of the time with a steering load over the pump's relief setting"),
    "climb": Variable("m", "sum of all rises"),
    "descent": Variable("m", "sum of all falls", sign="falling positive"),
    "standing_engine_on": Variable("s", "time that the truck stands with the engine running"),
    "standing_engine_off": Variable("s", "time that the truck stands with the engine off"),
}
_PUMP_STANDS = "the pump never turns after the first 5 s"
_NO_GAS = "oil always fills them"
_COVERED = "it never does"
SUMMARY_FIGURES = {
    "peak_oil_temperature": Variable("K", "hottest oil, by node"),
    "peak_oil_lap": Variable("1", "lap of the hottest oil", value="integer"),
    "peak_oil_time": Variable("s", "race time of the hottest oil"),
    "lowest_feed_gauge_pressure": Variable(
        "Pa", "lowest pressure at the pump inlet port", "gauge", absent=_PUMP_STANDS
    ),
    "lowest_feed_time": Variable("s", "race time of that lowest pressure", absent=_PUMP_STANDS),
    "lowest_feed_lap": Variable("1", "lap of that lowest pressure", absent=_PUMP_STANDS, value="integer"),
    "headspace_gauge_pressure_at_lowest_feed": Variable(
        "Pa", "pressure in the air space just then", "gauge", absent=_PUMP_STANDS
    ),
    "lowest_vapour_margin": Variable(
        "Pa", "least distance of the feed pressure from vapour", "difference", absent=_PUMP_STANDS
    ),
    "lowest_air_margin": Variable(
        "Pa", "least distance of the feed pressure from the bubble point", "difference", absent=_PUMP_STANDS
    ),
    "lowest_rating_margin": Variable(
        "Pa", "least distance of the feed pressure from the pump's need", "difference", absent=_PUMP_STANDS
    ),
    "lowest_rating_time": Variable("s", "race time of that least distance", absent=_PUMP_STANDS),
    "lowest_seal_margin": Variable("Pa", "least distance of the shaft seal from its rating", "difference"),
    "lowest_tank_margin": Variable("Pa", "least distance of the tank from its rating", "difference"),
    "highest_headspace_gauge_pressure": Variable("Pa", "highest pressure in the air space", "gauge"),
    "highest_oil_level": Variable("1", "fullest tank, share of its volume taken by oil and bubbles"),
    "lowest_oil_level": Variable("1", "emptiest tank, share of its volume taken by oil and bubbles"),
    "highest_vapour_pressure": Variable("Pa", "highest vapour pressure of the water in the tank's oil", "level"),
    "time_turning": Variable("s", "time in which the pump turned"),
    "time_below_rating": Variable("s", "time with a feed pressure below what the pump needs"),
    "time_below_bubble_point": Variable("s", "time in which air can come out of the oil at the pump inlet"),
    "time_starved": Variable("s", "time in which the line could not bring the flow above vapour pressure and 5 kPa"),
    "time_chambers_unfilled": Variable("s", "time in which the pump's own port could not fill its chambers"),
    "time_outlet_uncovered": Variable("s", "time with air in the feed line that the outlet of the tank took in"),
    "first_uncovered_time": Variable("s", "race time at which the outlet first took in air", absent=_COVERED),
    "first_uncovered_lap": Variable("1", "lap in which the outlet first took in air", absent=_COVERED, value="integer"),
    "highest_inlet_void_fraction": Variable("1", "most gas in what reached the inlet port", absent=_PUMP_STANDS),
    "highest_pump_void_fraction": Variable(
        "1", "largest share of the pump's chambers that oil did not fill", absent=_PUMP_STANDS
    ),
    "highest_pump_void_time": Variable("s", "race time of that largest share", absent=_NO_GAS),
    "highest_pump_void_lap": Variable("1", "lap of that largest share", absent=_NO_GAS, value="integer"),
    "highest_steering_flow": Variable("m3 s-1", "most flow to the steering", sign="pump to gear positive"),
    "lowest_steering_flow_with_gas": Variable(
        "m3 s-1",
        "least flow to the steering with at least a fifth of gas in the pump",
        sign="pump to gear positive",
        absent="there never is that much",
    ),
    "cavitation_exposure": Variable("s", "time with gas in the pump, a second counting in full from 5 % of gas on"),
    "lowest_sight_glass_transmittance": Variable("1", "cloudiest sight glass", absent=_PUMP_STANDS),
    "relief_openings": Variable("1", "lifts of the cap's relief valve", value="integer"),
    "air_vented": Variable("kg", "air let out through the cap"),
    "air_missing_share": Variable(
        "1",
        "air let out less air let in through the cap, over all air in tank and oil at the start",
        sign="outward positive",
    ),
    "trapped_air_freed": Variable("kg", "trapped air that came out of gear and hoses"),
    "trapped_air_left": Variable("kg", "air still trapped in gear and hoses at the end"),
    "oil_lost": Variable("kg", "oil lost through cap, neck or a leak"),
    "oil_drawn_off": Variable("kg", "oil that the crew drew off"),
    "shaft_energy": Variable("J", "energy from the pump shaft", sign="into the pump positive"),
    "air_taken_up": Variable(
        "1",
        "how far the oil's air pressure has gone from that of the start to that of the air space at the end, 0 to 1",
    ),
    "air_excess_pressure": Variable(
        "Pa", "pressure of the air in the oil less that of the air space, at the end", sign="more in the oil positive"
    ),
    "air_dissolved_share": Variable(
        "1", "air dissolved in the oil at the end over that at the start", absent="the oil held none"
    ),
    "left_oil_range": Variable(
        "", "whether oil went over 200 degC; the figures after that mean little", value="boolean"
    ),
    "at_vapour_pressure": Variable("", "whether the air space held hardly anything but vapour", value="boolean"),
    "cap_openings": Variable("", "each opening of the cap: what the tank held before it and what came back after it"),
    "faults": Variable("", "each fault of the truck"),
    "stops": Variable("", "each stop: its name, and what the tank held when it begins"),
    "finish": Variable("", "what the tank held at the end"),
    "misfit": Variable(
        "", "simulated less measured, by variable, that of the oil by node as well; empty without `[measured]`"
    ),
    "cap_off_at_end": Variable("", "whether the cap is off at the end", value="boolean"),
    "duration": Variable("s", "length of the race in time"),
    "distance": Variable("m", "length of the race on the ground"),
    "laps": Variable("1", "laps driven", value="integer"),
    "oil_balance": Variable("1", "worst imbalance of oil over the initial amount"),
    "air_balance": Variable("1", "worst imbalance of air over the initial amount"),
    "energy_balance": Variable("1", "worst imbalance of energy over the energy moved"),
    "status": Variable("", "`done`, or why the race stopped", value="string"),
}
_NAME = Variable("", "its name", value="string")
TANK_FIGURES = {
    "time": Variable("s", "race time"),
    "hottest_oil": Variable("K", "hottest oil just before"),
    "gauge_pressure": Variable("Pa", "pressure in the air space just before", "gauge"),
}
STOP_TANK_FIGURES = {"name": _NAME, **TANK_FIGURES}
_OFF = "the cap stays off"
_OFF_OR_NO_AIR = f"{_OFF} or the oil holds no air"
OPENING_FIGURES = {
    **TANK_FIGURES,
    "refitted": Variable("s", "race time at which the cap goes on again", absent=_OFF),
    "regained_by": Variable(
        "s",
        "ten minutes after that, or the end of stop or race or the next opening or recharge if that is sooner",
        absent=_OFF,
    ),
    "regained_gauge_pressure": Variable("Pa", "highest sample from the refit up to there", "gauge", absent=_OFF),
    "gauge_pressure_in_oil": Variable(
        "Pa", "pressure at which the oil's air would rest at the refit", "gauge", absent=_OFF_OR_NO_AIR
    ),
    "gauge_pressure_from_oil": Variable(
        "Pa", "what that air alone gives once air space and oil have shared it", "gauge", absent=_OFF_OR_NO_AIR
    ),
}
FAULT_FIGURES = {
    "name": _NAME,
    "begin": Variable("s", "race time at which it begins"),
    "end": Variable("s", "race time at which it ends", absent="nothing ends it"),
    "lap": Variable("1", "lap in which it begins", value="integer"),
}
_NO_ROW = "there is no such row"
MISFIT_FIGURES = {
    "rows": Variable("1", "rows that have both", value="integer"),
    "mean": Variable("", "mean over them, in the unit of the variable", absent=_NO_ROW),
    "root_mean_square": Variable("", "how far off typically, in the unit of the variable", absent=_NO_ROW),
    "largest": Variable("", "the one furthest from zero, in the unit of the variable", absent=_NO_ROW),
    "largest_time": Variable("s", "race time of that largest one", absent=_NO_ROW),
    "largest_lap": Variable("1", "lap of that largest one", absent=_NO_ROW, value="integer"),
}
SUMMARY_PARTS = {"of an opening": OPENING_FIGURES, "of a fault": FAULT_FIGURES, "of a misfit": MISFIT_FIGURES}
AIR_MODELS = ("frozen", "kinetic", "equilibrium")
CAP_STATES = ("closed", "relief_open", "vacuum_open", "vented", "off", "stuck")


def attributes(variable: Variable) -> dict[str, str]:
    """Return the attributes that a variable of a Dataset carries."""
    attributes = {"long_name": variable.long_name}
    if variable.units:
        attributes["units"] = variable.units
    if variable.pressure == "level":
        attributes["pressure_reference"] = "absolute"
    if variable.pressure == "gauge":
        attributes["pressure_reference"] = "ambient"
    if variable.sign:
        attributes["sign"] = variable.sign
    return attributes


def described(variable: Variable) -> str:
    """Return what a figure is, and when it is null in JSON."""
    return f"{variable.long_name}; null if {variable.absent}" if variable.absent else variable.long_name
