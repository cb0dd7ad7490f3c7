"""Names, units and descriptions of everything in a Dataset."""

from __future__ import annotations

from typing import NamedTuple


class Variable(NamedTuple):
    """Unit and description of a variable; `level` marks an absolute pressure, `gauge` one over ambient."""

    units: str
    long_name: str
    pressure: str = ""


VARIABLES = {
    "oil_temperature": Variable("K", "oil temperature"),
    "headspace_temperature": Variable("K", "temperature of the air space"),
    "headspace_pressure": Variable("Pa", "pressure in the air space", "level"),
    "headspace_gauge_pressure": Variable("Pa", "pressure in the air space over ambient", "gauge"),
    "headspace_volume": Variable("m3", "volume of the air space"),
    "ambient_pressure": Variable("Pa", "ambient pressure", "level"),
    "ambient_temperature": Variable("K", "ambient temperature"),
    "oil_level": Variable("1", "share of the tank volume taken by oil"),
    "oil_mass": Variable("kg", "oil in the whole circuit"),
    "feed_pressure": Variable("Pa", "static pressure at the pump inlet port", "level"),
    "feed_gauge_pressure": Variable("Pa", "static pressure at the pump inlet port over ambient", "gauge"),
    "vapour_margin": Variable("Pa", "feed pressure less vapour pressure; unknown while the pump stands", "difference"),
    "air_margin": Variable("Pa", "feed pressure less bubble point; unknown while the pump stands", "difference"),
    "rating_margin": Variable(
        "Pa", "feed pressure less what the pump needs at its inlet; unknown while the pump stands", "difference"
    ),
    "headspace_air_mass": Variable("kg", "air in the air space"),
    "dissolved_air_mass": Variable("kg", "air dissolved in the oil"),
    "pump_viscosity": Variable("m2 s-1", "kinematic viscosity in the pump"),
    "seal_margin": Variable("Pa", "shaft-seal rating less feed gauge pressure", "difference"),
    "tank_margin": Variable("Pa", "tank rating less gauge pressure of the air space", "difference"),
    "pump_speed": Variable("rad s-1", "pump shaft speed"),
    "pump_flow": Variable("m3 s-1", "flow through the feed line"),
    "steering_flow": Variable("m3 s-1", "flow through the steering valve"),
    "supply_pressure": Variable("Pa", "pressure between pump and steering valve", "level"),
    "shaft_power": Variable("W", "power at the pump shaft"),
    "cooler_heat": Variable("W", "heat given off by the cooler"),
    "surroundings_heat": Variable("W", "heat given off to bay and engine"),
    "cap_air_flow": Variable("kg s-1", "air through the cap, outward positive"),
    "cap_oil_flow": Variable("kg s-1", "oil lost through the cap or neck"),
    "cap_state": Variable("1", "state of the cap"),
    "shaft_work": Variable("J", "energy from the pump shaft since the start"),
    "ram_work": Variable("J", "energy that left as ram work since the start"),
    "cooler_energy": Variable("J", "heat given off by the cooler since the start"),
    "surroundings_energy": Variable("J", "heat given off to bay and engine since the start"),
    "top_up_energy": Variable("J", "enthalpy brought by top-ups since the start"),
    "air_energy": Variable("J", "enthalpy of air through the cap since the start, outward positive"),
    "lost_energy": Variable("J", "enthalpy of lost oil since the start"),
    "oil_added": Variable("kg", "oil poured in since the start"),
    "oil_lost": Variable("kg", "oil lost through cap or neck since the start"),
    "air_vented": Variable("kg", "air let out through the cap since the start"),
    "air_admitted": Variable("kg", "air let in through the cap since the start"),
    "air_added": Variable("kg", "air brought dissolved in top-ups since the start"),
    "air_lost": Variable("kg", "air dissolved in lost oil since the start"),
}
EVENT_VARIABLES = {
    "event_time": Variable("s", "time of the event"),
    "event_name": Variable("", "what was switched"),
    "event_direction": Variable("", "how it was switched"),
    "event_count": Variable("1", "times that it happened in its minute of the race"),
}
TEXT_WIDTH = {"event_name": "U32", "event_direction": "U16"}
COORDINATES = {
    "time": Variable("s", "race time"),
    "lap": Variable("1", "lap"),
    "distance": Variable("m", "distance driven"),
    "elevation": Variable("m", "elevation above sea level"),
}
CAP_STATES = ("closed", "relief_open", "vacuum_open", "vented", "off", "stuck")
