"""What the cap lets through in each of its modes."""

import math

import pytest

from support import bench
from ullage.kernel.cap import cap_areas, open_area

PSI = 6894.757293168361


def areas(changes=None, **modes):
    b = bench(changes)
    b.state.cap_on = 1
    for name, value in modes.items():
        setattr(b.state, name, value)
    return cap_areas(b.parameters, b.state)


def test_a_sound_shut_cap_lets_nothing_through():
    cap = areas()
    assert open_area(cap, 10 * PSI) == open_area(cap, -PSI) == 0.0


def test_an_open_relief_lifts_with_pressure_to_its_full_area_and_works_outward_only():
    cap = areas(relief_open=1)
    full = 0.7 * 20e-6
    assert open_area(cap, 18 * PSI) == pytest.approx(full, rel=1e-9)
    half_way = 0.5 * (14.4 + 18.0) * PSI
    assert open_area(cap, half_way) == pytest.approx(0.5 * full, rel=1e-6)
    assert open_area(cap, 14.4 * PSI) == pytest.approx(0.03 * full, rel=1e-9)
    assert open_area(cap, -PSI) == 0.0


def test_an_open_vacuum_valve_works_inward_only():
    cap = areas(vacuum_open=1)
    assert open_area(cap, -1.0 * PSI) == pytest.approx(0.7 * 20e-6, rel=1e-9)
    assert open_area(cap, PSI) == 0.0


def test_a_leak_works_both_ways_and_a_weep_outward():
    leak = areas(leak_area=0.7 * 0.25 * math.pi * 1e-4**2)
    assert open_area(leak, PSI) == open_area(leak, -PSI) > 0.0
    weep = areas({"cap.weep_diameter": "0.1 mm"})
    assert open_area(weep, PSI) == pytest.approx(open_area(leak, PSI), rel=1e-12)
    assert open_area(weep, -PSI) == 0.0


def test_a_vented_cap_breathes_both_ways_and_an_open_neck_is_wide():
    vented = areas({"cap.kind": "vented"})
    assert open_area(vented, PSI) == open_area(vented, -PSI) == pytest.approx(0.7 * 3e-6, rel=1e-9)
    off = areas(cap_on=0)
    assert open_area(off, 1.0) == open_area(off, -1.0) == pytest.approx(0.7 * 5e-4, rel=1e-9)
