"""Laws of the oil cooler against a public library of heat transfer."""

import pytest
from ht import LMTD, effectiveness_NTU_method
from ht.conv_external import Nu_horizontal_plate_laminar_Baehr
from ht.conv_internal import turbulent_Dittus_Boelter
from ht.hx import effectiveness_from_NTU
from scipy.optimize import brentq

from outside import LIBRARY, Check
from ullage.physics import cooler

UNMIXED = "Kays and London: usual approximation for both fluids unmixed, Python library ht"
EXACT_UNMIXED = "exact series of cross-flow, both fluids unmixed: Python library ht"
MEAN_DIFFERENCE = "logarithmic mean temperature difference: Python library ht"
DITTUS_BOELTER = "Dittus and Boelter, heat transfer in a turbulent tube: Python library ht"
PLATE = "heat transfer of a plate in laminar flow (Baehr and Stephan): Python library ht"

SIZES = [(n, r) for n in (0.05, 0.3, 1.0, 2.0, 5.0, 10.0) for r in (0.01, 0.25, 0.5, 0.75, 1.0)]
MIDDLE = [(n, r) for n, r in SIZES if 1.0 <= n <= 5.0]
FLOW_RATIOS = [0.25, 0.5, 2.0, 3.0]


def effectiveness(sizes, arrangement):
    return [float(effectiveness_from_NTU(NTU=n, Cr=r, subtype=arrangement)) for n, r in sizes]


def heat_from_vapour(units):
    """Return the heat that the mean difference gives a stream of 100 W/K at 35 degC, warmed by vapour at 95 degC."""

    def excess(outlet):
        return 100.0 * units * LMTD(95.0, 95.0, 35.0, outlet) - 100.0 * (outlet - 35.0)

    return 100.0 * (brentq(excess, 35.001, 94.999, xtol=1e-12) - 35.0)


CHECKS = [
    Check(
        "cooler.crossflow_effectiveness",
        "0.05 to 10 transfer units, capacity ratios 0.01 to 1, 30 pairs",
        lambda: [cooler.crossflow_effectiveness(n, r) for n, r in SIZES],
        lambda: effectiveness(SIZES, "crossflow approximate"),
        "1",
        UNMIXED,
        LIBRARY,
        "the same formula; the library's way of writing it cancels some digits",
        rel=1e-10,
    ),
    Check(
        "cooler.crossflow_effectiveness",
        "against the exact series, 1 to 5 transfer units, capacity ratios 0.01 to 1",
        lambda: [cooler.crossflow_effectiveness(n, r) for n, r in MIDDLE],
        lambda: effectiveness(MIDDLE, "crossflow"),
        "1",
        EXACT_UNMIXED,
        LIBRARY,
        "the approximation is off by up to 1.7 %",
        rel=0.017,
    ),
    Check(
        "cooler.crossflow_effectiveness",
        "against the exact series, 0.05 to 10 transfer units, capacity ratios 0.01 to 1",
        lambda: [cooler.crossflow_effectiveness(n, r) for n, r in SIZES],
        lambda: effectiveness(SIZES, "crossflow"),
        "1",
        EXACT_UNMIXED,
        LIBRARY,
        "the approximation is off by up to 3.8 %, at 0.3 transfer units",
        rel=0.04,
    ),
    Check(
        "cooler.core_heat_rate",
        "oil 0.15 kg/s of 2050 J/(kg K) at 95 degC, air 0.5 kg/s of 1006 J/(kg K) at 35 degC, 250 W/K",
        lambda: 60.0 * cooler.core_heat_rate(250.0, 0.15 * 2050.0, 0.5 * 1006.0),
        lambda: effectiveness_NTU_method(
            mh=0.15, mc=0.5, Cph=2050.0, Cpc=1006.0, subtype="crossflow approximate", Thi=95.0, Tci=35.0, UA=250.0
        )["Q"],
        "W",
        UNMIXED,
        LIBRARY,
        "the same method, rounding",
        rel=1e-10,
    ),
    Check(
        "cooler.core_heat_rate",
        "the same cooler and one with slow air, 0.1 kg/s, against the exact series",
        lambda: [60.0 * cooler.core_heat_rate(250.0, 307.5, flow * 1006.0) for flow in (0.5, 0.1)],
        lambda: [
            float(
                effectiveness_NTU_method(
                    mh=0.15, mc=flow, Cph=2050.0, Cpc=1006.0, subtype="crossflow", Thi=95.0, Tci=35.0, UA=250.0
                )["Q"]
            )
            for flow in (0.5, 0.1)
        ],
        "W",
        EXACT_UNMIXED,
        LIBRARY,
        "the approximation is off by up to 1.7 %",
        rel=0.017,
    ),
    Check(
        "cooler.core_heat_rate",
        "a stream of 100 W/K at 35 degC heated by vapour at 95 degC, 0.5, 1 and 3 transfer units",
        lambda: [60.0 * cooler.core_heat_rate(100.0 * n, 100.0, 1e12) for n in (0.5, 1.0, 3.0)],
        lambda: [heat_from_vapour(n) for n in (0.5, 1.0, 3.0)],
        "W",
        MEAN_DIFFERENCE,
        LIBRARY,
        "exact where one side keeps its temperature, rounding",
        rel=1e-9,
    ),
    Check(
        "cooler.scaled_conductance",
        "exponent 0.8, a quarter to three times the flow: as heat transfer in a turbulent tube",
        lambda: [cooler.scaled_conductance(200.0, ratio, 0.8) for ratio in FLOW_RATIOS],
        lambda: [
            200.0 * turbulent_Dittus_Boelter(1e5 * ratio, 0.7) / turbulent_Dittus_Boelter(1e5, 0.7)
            for ratio in FLOW_RATIOS
        ],
        "W/K",
        DITTUS_BOELTER,
        LIBRARY,
        "the same power, rounding",
        rel=1e-12,
    ),
    Check(
        "cooler.scaled_conductance",
        "exponent 0.5, a quarter to three times the flow: as heat transfer of a plate in laminar flow",
        lambda: [cooler.scaled_conductance(200.0, ratio, 0.5) for ratio in FLOW_RATIOS],
        lambda: [
            200.0 * Nu_horizontal_plate_laminar_Baehr(1e4 * ratio, 0.7) / Nu_horizontal_plate_laminar_Baehr(1e4, 0.7)
            for ratio in FLOW_RATIOS
        ],
        "W/K",
        PLATE,
        LIBRARY,
        "the same power, rounding",
        rel=1e-12,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_gives_the_value_of_the_library(check):
    assert check.misses() == []
