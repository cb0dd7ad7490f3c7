"""The cap as a set of openings: what its present mode lets through."""

from __future__ import annotations

from typing import NamedTuple

from ullage.compiled import compiled, inlined
from ullage.kernel.params import CAP_VENTED, STUCK_OPEN, Parameters
from ullage.kernel.state import State
from ullage.physics import valve

RECHARGE_AREA = 2e-6


class Cap(NamedTuple):
    """What the cap lets through: effective areas [m2] and the pressures that govern a lifting valve [Pa].

    `recharge_pressure` is that of air put in, over ambient, through a non-return valve of `RECHARGE_AREA`: 2 mm2 with
    its discharge coefficient, the size of a tyre valve (engineering judgement).
    """

    fixed_area: float
    weep_area: float
    relief_area: float
    relief_reseat: float
    relief_full: float
    vacuum_area: float
    vacuum_reseat: float
    vacuum_full: float
    recharge_pressure: float


class Splash(NamedTuple):
    """Air space under the cap [m3], below which volume the cap passes oil [m3], of what density [kg m-3].

    `weight` is the weight of the rates in an implicit step [s], 0 for an instant.
    """

    volume: float
    least_volume: float
    oil_density: float
    weight: float


@compiled
def cap_areas(p: Parameters, s: State) -> Cap:
    """Return what the cap lets through in its present mode.

    Parameters
    ----------
    p, s : record
        Parameters, and the state with the cap's modes.

    Returns
    -------
    Cap
        Areas; a shut valve has none, one that is stuck open lets air both ways.
    """
    if s.cap_on == 0:
        return Cap(p.neck_area, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 1.0, s.recharge_pressure)
    if p.cap_kind == CAP_VENTED:
        return Cap(s.leak_area + p.breather_area, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 1.0, s.recharge_pressure)
    open_for_good = s.leak_area
    if s.relief_stuck == STUCK_OPEN:
        open_for_good += p.relief_area
    if s.vacuum_stuck == STUCK_OPEN:
        open_for_good += p.vacuum_area
    return Cap(
        open_for_good,
        p.weep_area,
        p.relief_area * s.relief_open,
        p.relief_reseat,
        p.relief_full,
        p.vacuum_area * s.vacuum_open,
        p.vacuum_reseat,
        p.vacuum_full,
        s.recharge_pressure,
    )


@compiled
def open_area(cap: Cap, difference: float) -> float:
    """Return the effective area of the cap at a pressure difference.

    Parameters
    ----------
    cap : Cap
        What the cap lets through.
    difference : float
        Headspace less ambient pressure [Pa].

    Returns
    -------
    float
        Area for the flow outward if the difference is positive, else inward [m2].
    """
    if difference > 0.0:
        area = cap.fixed_area + cap.weep_area
        if cap.relief_area > 0.0:
            area += cap.relief_area * valve.lift_share(difference, cap.relief_reseat, cap.relief_full)
        return area
    area = cap.fixed_area
    if cap.vacuum_area > 0.0:
        area += cap.vacuum_area * valve.lift_share(-difference, cap.vacuum_reseat, cap.vacuum_full)
    return area


@compiled
def _oil_out(splash: Splash, area: float, difference: float) -> tuple[float, float]:
    """Return the oil that leaves [kg s-1] and the share of the opening that it takes, for an implicit step."""
    if splash.volume >= splash.least_volume or difference <= 0.0 or area <= 0.0:
        return 0.0, 0.0
    most = valve.liquid_orifice_flow(area, difference, splash.oil_density)
    emptied = splash.weight * most / (splash.oil_density * splash.least_volume)
    share = min(1.0, max(0.0, (1.0 - splash.volume / splash.least_volume) / (1.0 + emptied)))
    return most * share, share


@inlined
def cap_flows(
    cap: Cap, splash: Splash, pressure: float, ambient: float, ambient_temperature: float, air_share: float
) -> tuple[float, float, float]:
    """Return what passes the cap, and the air that a recharge puts in.

    Parameters
    ----------
    cap : Cap
        What the cap lets through.
    splash : Splash
        Where oil stands under it.
    pressure, ambient : float
        Pressures inside and outside [Pa].
    ambient_temperature : float
        Temperature outside [K].
    air_share : float
        Share of the gas inside that is air, and may leave [1].

    Returns
    -------
    tuple of float
        Oil out, air in, and what air out would be if the gas inside had 1 K: over the root of its temperature it is the
        air out [kg s-1].
    """
    difference = pressure - ambient
    area = open_area(cap, difference)
    oil_out, liquid_share = _oil_out(splash, area, difference)
    air_in = 0.0
    if cap.recharge_pressure > 0.0:
        supply = ambient + cap.recharge_pressure
        air_in = valve.gas_orifice_flow(RECHARGE_AREA, supply, pressure, ambient_temperature)
    if area <= 0.0:
        return oil_out, air_in, 0.0
    if difference < 0.0:
        return oil_out, air_in + valve.gas_orifice_flow(area, ambient, pressure, ambient_temperature), 0.0
    return oil_out, air_in, (1.0 - liquid_share) * air_share * valve.gas_orifice_flow(area, pressure, ambient, 1.0)
