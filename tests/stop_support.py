"""Made-up results of a stop, by hand and not by a march: shapes as expected, every number invented."""

import numpy as np
import xarray as xr

PSI = 6894.757293168361
STANDARD = ("shut", "refit", "top_up", "recharge", "cool_then_open", "cool_then_open_engine_off", "left_off")
PLANNED, STINT = 360.0, 5400.0
STANDS = {"recharge": 420.0, "cool_then_open": 3960.0, "cool_then_open_engine_off": 7560.0}
CAP_OFF = {"shut": (np.nan, np.nan), "top_up": (120.0, 240.0), "left_off": (120.0, np.nan)}
CAP_OFF |= {"cool_then_open": (3720.0, 3780.0), "cool_then_open_engine_off": (7320.0, 7380.0)}
KEPT = {"shut": 1.0, "recharge": 0.95, "cool_then_open": 0.5, "cool_then_open_engine_off": 0.6, "left_off": 0.0}
LONG = "an invented name that is far too long for any picture of a truck in a pit"


def stop_choices(labels=STANDARD, gauge=12.0 * PSI):
    """Return choices at a stop: what each keeps of the pressure, gas in proportion to what it lost."""
    stands = np.array([STANDS.get(label, PLANNED) for label in labels])
    marks = np.array([CAP_OFF.get(label, (120.0, 180.0)) for label in labels])
    kept = np.array([KEPT.get(label, 0.3) for label in labels])
    time = np.arange(0.0, max(stands) + STINT + 1.0, 10.0)
    since = time - stands[:, None]
    opened, refitted = marks[:, :1], marks[:, 1:]
    air = gauge * np.where(time > opened, kept[:, None] * np.clip((time - refitted) / 600.0, 0.0, 1.0), 1.0)
    air = np.where(np.isnan(refitted) & (time > opened), 0.0, air)
    gas = np.where(since > 0.0, since, 0.0) * (0.5 - 0.3 * kept[:, None])
    done = since <= STINT
    feed = np.where(done & ~((since > 2400.0) & (since < 2700.0)), air - 5.0 * PSI * (since >= 0.0), np.nan)
    along, each = ("choice", "time_since_stop"), "choice"
    pascal, second, kelvin = {"units": "Pa"}, {"units": "s"}, {"units": "K"}
    return xr.Dataset(
        {
            "feed_gauge_pressure": (along, feed, pascal),
            "headspace_gauge_pressure": (along, np.where(done, air, np.nan), pascal),
            "exposure_since_stop": (along, np.where(done, gas, np.nan), second),
            "stop_duration": (each, stands, second),
            "finish_delay": (each, stands - PLANNED, second),
            "opened": (each, marks[:, 0], second),
            "refitted": (each, marks[:, 1], second),
            "regained_gauge_pressure": (each, kept * gauge, pascal),
            "stint_gauge_pressure": (each, kept * gauge, pascal),
            "stint_feed_gauge_pressure": (each, kept * gauge - 5.0 * PSI, pascal),
            "feed_gauge_pressure_after_stop": (each, kept * gauge - 5.0 * PSI, pascal),
            "cavitation_exposure": (each, STINT * (0.5 - 0.3 * kept), second),
            "cavitation_exposure_by_air_model": (
                ("air_model", "choice"),
                np.outer([0.5, 1.0, 1.5], STINT * (0.5 - 0.3 * kept)),
                second,
            ),
            "status": (each, np.full(len(labels), "done", dtype="<U60")),
            "gauge_pressure_at_stop": ((), gauge, pascal),
            "oil_temperature_at_stop": ("node", np.array([380.0, 384.0]), kelvin),
            "cooling_time": ("way", np.array([1560.0, np.nan]), second),
            "half_cooled_time": ("way", np.array([420.0, 3300.0]), second),
            "coolest_oil": ("way", np.array([323.15, 331.0]), kelvin),
            "mark_height_by_temperature": ("day_temperature", np.linspace(-0.011, 0.007, 6), {"units": "m"}),
            "mark_by_temperature": ("day_temperature", np.linspace(0.77, 0.82, 6), {"units": "1"}),
        },
        coords={
            "choice": list(labels),
            "time_since_stop": ("time_since_stop", time, second),
            "node": ["reservoir", "pump"],
            "way": ["idling", "engine off"],
            "air_model": ["frozen", "kinetic", "equilibrium"],
            "day_temperature": ("day_temperature", np.linspace(263.15, 313.15, 6), kelvin),
        },
        attrs={
            "title": "test truck (invented data)",
            "stop": "first pit",
            "stop_time": 8786.1,
            "open_for": 60.0,
            "open_below": 323.15,
            "cold_mark": 0.8,
            "cap_relief_pressure": 16.0 * PSI,
            "tank_rating": 30.0 * PSI,
            "seal_rating": 25.0 * PSI,
            "longest_wait": 7200.0,
            "fan": 1,
            "left_out": "{}",
        },
    )


def healthy_gauges():
    """Return what the gauges of a healthy truck read."""
    speeds = np.array([900.0, 2500.0, 4000.0, 5500.0]) * np.pi / 30.0
    air = np.array([0.0, 3.5, 15.3, 3.0]) * PSI
    feed = air[:, None] - np.array([0.1, 1.5, 4.0, 8.1]) * PSI
    return xr.Dataset(
        {
            "feed_gauge_pressure": (("condition", "engine_speed"), feed, {"units": "Pa"}),
            "headspace_gauge_pressure": ("condition", air, {"units": "Pa"}),
            "oil_temperature": ("condition", np.array([298.15, 330.0, 383.0, 375.0]), {"units": "K"}),
        },
        coords={
            "condition": ["cold", "warming", "hot", "after_stop"],
            "engine_speed": ("engine_speed", speeds, {"units": "rad s-1"}),
        },
    )


def fault_signs(faults=("seal leak", "relief stuck open", "blocked strainer", "collapsed hose", "lost oil")):
    """Return what the gauges read with each fault, and a sentence about it."""
    names = ["healthy", *faults]
    air = np.linspace(15.3, 0.0, len(names)) * PSI
    feed = np.stack([air, air - 7.0 * PSI], axis=1)
    return xr.Dataset(
        {
            "feed_gauge_pressure": (("fault", "engine_speed"), feed, {"units": "Pa"}),
            "headspace_gauge_pressure": ("fault", air, {"units": "Pa"}),
            "oil_level": ("fault", np.full(len(names), 0.86), {"units": "1"}),
            "oil_temperature": ("fault", np.full(len(names), 383.0), {"units": "K"}),
            "sign": ("fault", [f"Sign of {name}: the tank is low, feed falls with revs." for name in names]),
        },
        coords={"fault": names, "engine_speed": ["idle", "race"]},
    )


def still(data):
    """Return choices of a truck whose pump never turns."""
    names = [
        "feed_gauge_pressure",
        "exposure_since_stop",
        "stint_feed_gauge_pressure",
        "cavitation_exposure_by_air_model",
    ]
    return data.assign({name: data[name] * np.nan for name in names})


def vented(data):
    """Return choices of a truck with a vented cap, of which little is known."""
    bare = data.drop_vars(["mark_by_temperature", "cooling_time", "gauge_pressure_at_stop", "oil_temperature_at_stop"])
    known = ("title", "stop", "stop_time", "open_below")
    bare.attrs = {name: data.attrs[name] for name in known}
    return bare.isel(choice=[0])


def failed(data):
    """Return choices of which one stops in the first minutes, another soon after the stop."""
    changed = data.copy(deep=True)
    names = ["feed_gauge_pressure", "headspace_gauge_pressure", "exposure_since_stop"]
    for label, end in (("left_off", 200.0), ("refit", 1500.0)):
        for name in names:
            changed[name].loc[{"choice": label, "time_since_stop": slice(end, None)}] = np.nan
        changed.status.loc[{"choice": label}] = "the reservoir has run out of oil"
        changed.cavitation_exposure_by_air_model.loc[{"choice": label}] = np.nan
    return changed


def wordy(data):
    """Return ten choices and names that are too long."""
    own = [f"{LONG} {count}" for count in range(2)] + ["a_word_without_any_blank_" * 3]
    many = stop_choices((*STANDARD, *own))
    return many.assign_attrs({**data.attrs, "title": f"{LONG} and {LONG} (invented data)", "stop": LONG})


HARD = {
    "plain": lambda data: data,
    "pump never turns": still,
    "vented and little known": vented,
    "two fail": failed,
    "ten choices, long names": wordy,
    "signs of mathematics": lambda data: data.assign_attrs(title="a $x_ of \\frac (invented data)", stop="pit $y^"),
    "only shut": lambda data: data.isel(choice=[0]),
}
