import math

import numpy as np
import pytest
from ht.conv_internal import turbulent_Dittus_Boelter
from ht.hx import effectiveness_from_NTU

from ullage.physics import cooler

UNITS = [0.05, 0.3, 1.0, 2.0, 5.0, 10.0]
RATIOS = [0.01, 0.25, 0.5, 0.75, 1.0]


# Kays and London, the usual approximation for both fluids unmixed; printed to 1e-6.
@pytest.mark.parametrize(
    ("units", "ratio", "expected"),
    [(0.5, 0.25, 0.372057), (1.0, 0.5, 0.544764), (1.0, 1.0, 0.468536), (2.0, 0.5, 0.738758), (3.0, 0.75, 0.755313)],
)
def test_effectiveness_is_the_approximation_of_kays_and_london(units, ratio, expected):
    assert cooler.crossflow_effectiveness(units, ratio) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("ratio", RATIOS)
def test_effectiveness_agrees_with_the_library(units, ratio):
    # ht, the same formula; it subtracts where this law uses expm1, which costs 1e-13 / (Cr eps) at most.
    expected = effectiveness_from_NTU(NTU=units, Cr=ratio, subtype="crossflow approximate")
    assert cooler.crossflow_effectiveness(units, ratio) == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("ratio", RATIOS)
def test_effectiveness_is_near_the_exact_series(units, ratio):
    # ht, exact solution: the approximation is off by 1.7 % between one and five transfer units, and by up to
    # 3.8 % outside of that (worst at NTU = 0.3 with equal capacities).
    expected = effectiveness_from_NTU(NTU=units, Cr=ratio, subtype="crossflow")
    tolerance = 0.017 if 1.0 <= units <= 5.0 else 0.04
    assert cooler.crossflow_effectiveness(units, ratio) == pytest.approx(expected, rel=tolerance)


@pytest.mark.parametrize("units", UNITS)
def test_effectiveness_without_the_other_capacity_is_exponential(units):
    # A boiler or condenser, any arrangement: 1 - exp(-NTU); linear in Cr, some NTU Cr.
    expected = 1.0 - math.exp(-units)
    assert cooler.crossflow_effectiveness(units, 0.0) == pytest.approx(expected, rel=1e-13)
    assert cooler.crossflow_effectiveness(units, 1.001e-9) == pytest.approx(expected, rel=1e-7)
    assert cooler.crossflow_effectiveness(units, 1e-5) == pytest.approx(expected, rel=1e-4)


def test_effectiveness_rises_with_size_and_falls_with_capacity_ratio():
    assert cooler.crossflow_effectiveness(0.0, 0.5) == 0.0
    by_size = [cooler.crossflow_effectiveness(n, 0.6) for n in np.geomspace(1e-3, 20.0, 50)]
    by_ratio = [cooler.crossflow_effectiveness(1.5, r) for r in np.linspace(0.0, 1.0, 41)]
    assert np.all(np.diff(by_size) > 0.0)
    assert np.all(np.diff(by_ratio) < 0.0)
    assert 0.0 < by_size[0] < by_size[-1] < 1.0


def test_size_of_a_finned_exchanger_example():
    # Incropera, Example 11.3: effectiveness 0.75472 at Cr = 0.45 needs NTU = 2.024 with this approximation.
    assert cooler.crossflow_effectiveness(2.024, 0.45) == pytest.approx(0.75472, rel=1e-4)  # NTU has four digits


def test_heat_rate_of_an_oil_cooler():
    # Exact solution with ht: oil 0.15 kg/s of 2050 J/(kg K) at 95 degC, air 0.5 kg/s of 1006 at 35, UA = 250: 8766.5 W.
    heat = 60.0 * cooler.core_heat_rate(250.0, 0.15 * 2050.0, 0.5 * 1006.0)
    assert heat == pytest.approx(8766.5, rel=0.016)  # approximation against the exact series
    effectiveness = effectiveness_from_NTU(NTU=250.0 / 307.5, Cr=307.5 / 503.0, subtype="crossflow approximate")
    assert heat == pytest.approx(60.0 * 307.5 * effectiveness, rel=1e-12)  # the same formula


def test_heat_rate_does_not_care_which_side_is_the_smaller():
    assert cooler.core_heat_rate(250.0, 300.0, 500.0) == cooler.core_heat_rate(250.0, 500.0, 300.0)
    assert cooler.core_heat_rate(250.0, 0.0, 500.0) == 0.0
    assert cooler.core_heat_rate(250.0, 300.0, 0.0) == 0.0
    assert cooler.core_heat_rate(0.0, 300.0, 500.0) == 0.0
    # A huge stream on both sides carries the whole conductance; half of NTU (1 + Cr) is lost, 2.5e-4, and the
    # approximation itself is off by NTU^0.22 terms: 1 %.
    assert cooler.core_heat_rate(250.0, 1e6, 1e6) == pytest.approx(250.0, rel=0.01)


def test_conductances_in_series():
    # Two equal resistances halve; 3 and 6 give 2, as any textbook of circuits has it.
    assert cooler.core_conductance(500.0, 500.0) == pytest.approx(250.0, rel=1e-15)
    assert cooler.core_conductance(3.0, 6.0) == pytest.approx(2.0, rel=1e-15)
    assert cooler.core_conductance(3.0, 6.0) == cooler.core_conductance(6.0, 3.0)
    assert cooler.core_conductance(0.0, 6.0) == 0.0
    assert cooler.core_conductance(6.0, 0.0) == 0.0


@pytest.mark.parametrize("ratio", [0.25, 0.5, 1.0, 3.0])
def test_scaled_conductance_follows_the_power_law_of_forced_convection(ratio):
    # Dittus and Boelter (ht): Nu goes with Re^0.8.
    base, moved = (turbulent_Dittus_Boelter(Re=re, Pr=0.7) for re in (1e5, 1e5 * ratio))
    assert cooler.scaled_conductance(200.0, ratio, 0.8) == pytest.approx(200.0 * moved / base, rel=1e-12)
    # The root, about right for laminar oil, by arithmetic.
    assert cooler.scaled_conductance(200.0, ratio, 0.5) == pytest.approx(200.0 * math.sqrt(ratio), rel=1e-14)


def test_scaled_conductance_is_zero_without_flow():
    assert cooler.scaled_conductance(200.0, 0.0, 0.6) == 0.0
    assert cooler.scaled_conductance(200.0, 1e-12, 0.6) < 1e-4


def test_outside_conductance_doubles_at_30_metres_per_second():
    # (1 + v / 10)^0.5, engineering judgement; values by arithmetic.
    assert cooler.outside_conductance(8.0, 0.0) == 8.0
    assert cooler.outside_conductance(8.0, 30.0) == pytest.approx(16.0, rel=1e-15)
    # At speed it goes with the root, as a plate in laminar flow (Pohlhausen, Nu ~ Re^0.5); 10 / v is left: 5 %.
    ratio = cooler.outside_conductance(8.0, 400.0) / cooler.outside_conductance(8.0, 100.0)
    assert ratio == pytest.approx(2.0, rel=0.05)
