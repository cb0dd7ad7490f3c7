import numpy as np
import pytest

from ullage.physics import cooler


@pytest.mark.parametrize("units", [0.05, 1.0, 10.0])
def test_effectiveness_is_continuous_where_the_other_capacity_is_endless(units):
    expected = cooler.crossflow_effectiveness(units, 0.0)  # linear in Cr from there, some NTU Cr
    assert cooler.crossflow_effectiveness(units, 1.001e-9) == pytest.approx(expected, rel=1e-7)
    assert cooler.crossflow_effectiveness(units, 1e-5) == pytest.approx(expected, rel=1e-4)


def test_effectiveness_rises_with_size_and_falls_with_capacity_ratio():
    assert cooler.crossflow_effectiveness(0.0, 0.5) == 0.0
    by_size = [cooler.crossflow_effectiveness(n, 0.6) for n in np.geomspace(1e-3, 20.0, 50)]
    by_ratio = [cooler.crossflow_effectiveness(1.5, r) for r in np.linspace(0.0, 1.0, 41)]
    assert np.all(np.diff(by_size) > 0.0)
    assert np.all(np.diff(by_ratio) < 0.0)
    assert 0.0 < by_size[0] < by_size[-1] < 1.0


def test_heat_rate_does_not_care_which_side_is_the_smaller():
    assert cooler.core_heat_rate(250.0, 300.0, 500.0) == cooler.core_heat_rate(250.0, 500.0, 300.0)
    assert cooler.core_heat_rate(250.0, 0.0, 500.0) == 0.0
    assert cooler.core_heat_rate(250.0, 300.0, 0.0) == 0.0
    assert cooler.core_heat_rate(0.0, 300.0, 500.0) == 0.0
    # A huge stream on both sides carries the whole conductance; half of NTU (1 + Cr) is lost, 2.5e-4, and the
    # approximation itself is off by NTU^0.22 terms: 1 %.
    assert cooler.core_heat_rate(250.0, 1e6, 1e6) == pytest.approx(250.0, rel=0.01)


def test_conductance_of_a_core_does_not_care_which_side_is_which():
    assert cooler.core_conductance(3.0, 6.0) == cooler.core_conductance(6.0, 3.0)
    assert cooler.core_conductance(0.0, 6.0) == 0.0
    assert cooler.core_conductance(6.0, 0.0) == 0.0


def test_scaled_conductance_is_zero_without_flow():
    assert cooler.scaled_conductance(200.0, 0.0, 0.6) == 0.0
    assert cooler.scaled_conductance(200.0, 1e-12, 0.6) < 1e-4


def test_outside_conductance_doubles_at_30_metres_per_second():
    # (1 + v / 10)^0.5, engineering judgement; values by arithmetic.
    assert cooler.outside_conductance(8.0, 0.0, 1.0) == 8.0
    assert cooler.outside_conductance(8.0, 30.0, 1.0) == pytest.approx(16.0, rel=1e-15)
    assert cooler.outside_conductance(8.0, 0.0, 10.0) == 80.0  # in water
    # At speed it goes with the root, as a plate in laminar flow (Pohlhausen, Nu ~ Re^0.5); 10 / v is left: 5 %.
    ratio = cooler.outside_conductance(8.0, 400.0, 1.0) / cooler.outside_conductance(8.0, 100.0, 1.0)
    assert ratio == pytest.approx(2.0, rel=0.05)
