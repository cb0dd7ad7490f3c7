"""Positive-displacement pump: slip, torque, and the pressures its flow must overcome."""

from __future__ import annotations

import math

from ullage.compiled import compiled

RELIEF_BAND = 3e5
PORT_VISCOSITY = 1e-4


@compiled
def slip_flow(coefficient: float, displacement: float, difference: float, dynamic_viscosity: float) -> float:
    """Return the internal leakage of a pump.

    Parameters
    ----------
    coefficient : float
        Slip coefficient [1], about 1e-8.
    displacement : float
        Displacement per radian [m3].
    difference : float
        Pressure rise over the pump [Pa].
    dynamic_viscosity : float
        Dynamic viscosity [Pa s].

    Returns
    -------
    float
        Leakage [m3 s-1].

    References
    ----------
    Wilson, ASME paper 48-SA-14 (1948), equation from memory: `Cs (D / 2 pi) dp / mu`.
    """
    return coefficient * displacement * difference / dynamic_viscosity


@compiled
def shaft_torque(
    displacement: float,
    difference: float,
    dynamic_viscosity: float,
    speed: float,
    friction: float,
    viscous: float,
    idle_torque: float,
) -> float:
    """Return the torque at the shaft of a turning pump.

    Parameters
    ----------
    displacement : float
        Displacement per radian [m3].
    difference : float
        Pressure rise over the pump [Pa].
    dynamic_viscosity : float
        Dynamic viscosity [Pa s].
    speed : float
        Shaft speed [rad s-1].
    friction : float
        Dry-friction coefficient [1], about 0.06.
    viscous : float
        Viscous-drag coefficient [1], about 6e4.
    idle_torque : float
        Torque of seals and bearings [N m].

    Returns
    -------
    float
        Torque [N m].

    References
    ----------
    Wilson, ASME paper 48-SA-14 (1948), equation from memory: `(D / 2 pi) [dp (1 + Cf) + Cd mu omega]`.
    """
    return displacement * (difference * (1.0 + friction) + viscous * dynamic_viscosity * speed) + idle_torque


@compiled
def slip_coefficient(
    displacement: float, speed: float, flow: float, difference: float, dynamic_viscosity: float
) -> float:
    """Return the slip coefficient that reproduces one flow point of a data sheet.

    Parameters
    ----------
    displacement : float
        Displacement per radian [m3].
    speed : float
        Shaft speed [rad s-1].
    flow : float
        Delivered flow at that point [m3 s-1], below displacement times speed.
    difference : float
        Pressure rise [Pa].
    dynamic_viscosity : float
        Dynamic viscosity at that point [Pa s].

    Returns
    -------
    float
        Slip coefficient [1].

    References
    ----------
    Inverse of `slip_flow`.
    """
    return (displacement * speed - flow) * dynamic_viscosity / (displacement * difference)


@compiled
def friction_coefficient(
    displacement: float,
    difference: float,
    dynamic_viscosity: float,
    speed: float,
    torque: float,
    viscous: float,
    idle_torque: float,
) -> float:
    """Return the dry-friction coefficient that reproduces one torque point of a data sheet.

    Parameters
    ----------
    displacement : float
        Displacement per radian [m3].
    difference : float
        Pressure rise [Pa].
    dynamic_viscosity : float
        Dynamic viscosity at that point [Pa s].
    speed : float
        Shaft speed [rad s-1].
    torque : float
        Measured torque [N m].
    viscous : float
        Viscous-drag coefficient [1].
    idle_torque : float
        Torque of seals and bearings [N m].

    Returns
    -------
    float
        Dry-friction coefficient [1].

    References
    ----------
    Inverse of `shaft_torque`.
    """
    rest = (torque - idle_torque) / displacement - viscous * dynamic_viscosity * speed
    return rest / difference - 1.0


@compiled
def relief_band(relief_pressure: float) -> float:
    """Return over what rise of pressure [Pa] a relief valve opens that is full open at a setting [Pa]."""
    return min(RELIEF_BAND, 0.1 * relief_pressure)


@compiled
def relief_share(demand: float, relief_pressure: float) -> float:
    """Return the share of the controlled flow that crosses the relief valve.

    Parameters
    ----------
    demand : float
        Pressure rise that the whole flow through the steering would need [Pa].
    relief_pressure : float
        Relief setting, full opening [Pa].

    Returns
    -------
    float
        Share between 0 and 1 [1]; it rises smoothly over the last 3 bar (or a tenth of a lower setting).

    Notes
    -----
    Cubic smooth step; a real valve opens over a few bar (common practice).
    """
    u = min(1.0, max(0.0, (demand - relief_pressure) / relief_band(relief_pressure) + 1.0))
    return u * u * (3.0 - 2.0 * u)


@compiled
def open_centre_drop(flow: float, rated_drop: float, rated_flow: float) -> float:
    """Return the drop over an open-centre steering valve.

    Parameters
    ----------
    flow : float
        Flow [m3 s-1].
    rated_drop : float
        Drop at the rated flow [Pa].
    rated_flow : float
        Rated flow [m3 s-1].

    Returns
    -------
    float
        Drop [Pa].

    References
    ----------
    Sharp-edged orifice: square of the flow.
    """
    ratio = flow / rated_flow
    return rated_drop * ratio * ratio


@compiled
def filter_drop(flow_ratio: float, viscosity_ratio: float, rated_drop: float, bypass_pressure: float) -> float:
    """Return the drop over the return filter, limited by its bypass valve.

    Parameters
    ----------
    flow_ratio : float
        Flow over the flow of the rating point [1].
    viscosity_ratio : float
        Viscosity over the viscosity of the rating point [1].
    rated_drop : float
        Drop at the rating point [Pa].
    bypass_pressure : float
        Setting of the bypass valve [Pa]; 1.5 to 2 bar is common practice.

    Returns
    -------
    float
        Drop [Pa], below the bypass setting.

    References
    ----------
    Darcy's law through the medium; smooth minimum with the bypass.
    """
    ratio = rated_drop * flow_ratio * viscosity_ratio / bypass_pressure
    square = ratio * ratio
    return bypass_pressure * ratio / math.sqrt(math.sqrt(1.0 + square * square))


@compiled
def port_loss(speed_ratio: float, viscosity: float, loss: float, viscous_loss: float) -> float:
    """Return the pressure that the oil loses on its way from the inlet port into the pump's chambers.

    Parameters
    ----------
    speed_ratio : float
        Pump speed over its speed limit [1].
    viscosity : float
        Kinematic viscosity of the oil in the pump [m2 s-1].
    loss : float
        Loss at the speed limit, of thin oil [Pa], some 30 kPa (weak).
    viscous_loss : float
        Further loss at the speed limit and 100 mm2/s [Pa], some 30 kPa (weak).

    Returns
    -------
    float
        Loss [Pa].

    Notes
    -----
    A velocity head and a laminar part; engineering judgement. No maker's data stand behind the two coefficients.
    """
    return speed_ratio * (loss * speed_ratio + viscous_loss * (viscosity / PORT_VISCOSITY))
