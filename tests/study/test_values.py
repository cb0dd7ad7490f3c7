import pytest
import xarray as xr

from support import truck
from ullage.results.display import to_display
from ullage.study.values import column, key_faults, udunits, value_faults

TRUCK = truck()


def told(keys, row):
    return key_faults(TRUCK, keys, row)


@pytest.mark.parametrize(
    "key", ["reservoir.fill", "duty.segment.0.duration", "cooler.face_area", "air.model", "duty.laps"]
)
def test_a_key_with_a_place_has_no_fault_whatever_its_value(key):
    assert told([key], ("no such value",)) == []


@pytest.mark.parametrize(
    ("key", "fault"),
    [
        ("reservoir.fil", ("reservoir.fil", "unknown key (did you mean 'fill'?)")),
        ("reservoire.fill", ("reservoire", "unknown key (did you mean 'reservoir'?)")),
        ("duty.segment.3.duration", ("duty.segment.3.duration", 'no element "3"; there are: 0')),
        ("reservoir.fill.x", ("reservoir.fill.x", "no such key")),
        ("event.0.volume", ("event", "must be an array of tables, [[event]], got a table")),
        ("", ('""', "unknown key")),
    ],
)
def test_a_key_without_a_place_is_named(key, fault):
    assert told([key], ("1",)) == [fault]


def test_keys_that_change_together_are_looked_for_together():
    assert [key for key, _ in told(["reservoir.fil", "cap.kind", "cap.knd"], (1, 2, 3))] == ["reservoir.fil", "cap.knd"]


def test_every_value_that_a_key_does_not_accept_is_named_with_its_row():
    rows = [("0.8", "sealed"), ("9", "open"), (0.8, "vented"), ("9", "sealed")]
    found = [*value_faults(TRUCK, ["reservoir.fill", "cap.kind"], rows)]
    assert [(row, key) for row, key, _ in found] == [(1, "reservoir.fill"), (1, "cap.kind"), (3, "reservoir.fill")]
    assert found[0][2] == '"9" is outside 0.3 to 0.97'
    assert found[1][2] == "must be 'sealed' or 'vented', got \"open\""


def test_a_quantity_becomes_si_numbers_with_their_unit():
    found = column("cap.relief_pressure", ["1 bar", "100 kPa", "10 psi"])
    assert found.values.tolist()[:2] == [1e5, 1e5]
    # NIST SP 811: 1 psi is 6.894757e3 Pa
    assert found.values[2] == pytest.approx(68947.57, rel=1e-6)
    assert found.texts.tolist() == [b"1 bar", b"100 kPa", b"10 psi"]
    assert (found.attributes["units"], found.attributes["key"]) == ("Pa", "cap.relief_pressure")
    assert not found.plain


def test_a_level_says_from_where_it_counts():
    gauge = column("start.headspace_pressure", ["6 kPag", "0 kPag"])
    assert gauge.values.tolist() == [6000.0, 0.0]
    assert gauge.attributes["pressure_reference"] == "ambient"
    absolute = column("start.headspace_pressure", ["100 kPa abs"])
    assert absolute.values.tolist() == [1e5]
    assert absolute.attributes["pressure_reference"] == "absolute"


def test_whole_numbers_stay_whole_and_text_stays_text():
    laps = column("duty.laps", [1, 2])
    assert (laps.values.tolist(), laps.values.dtype.kind, laps.plain) == ([1, 2], "i", False)
    kinds = column("cap.kind", ["sealed", "vented"])
    assert (kinds.texts.tolist(), kinds.plain) == ([b"sealed", b"vented"], True)
    assert "units" not in kinds.attributes


@pytest.mark.parametrize(
    ("unit", "written"),
    [
        ("Pa", "Pa"),
        ("m3/s", "m3 s-1"),
        ("1/K", "K-1"),
        ("W/m2", "W m-2"),
        ("N*m", "N m"),
        ("1", "1"),
        ("J/kg", "J kg-1"),
    ],
)
def test_units_are_written_as_results_write_them(unit, written):
    assert udunits(unit) == written


def test_a_temperature_difference_is_shown_as_one_and_a_temperature_on_its_scale():
    found = column("cooler.preheat", ["10 K", "20 K"])
    data = xr.Dataset(coords={"cooler_preheat": ("member", found.values, found.attributes)})
    shown = to_display(data, "us").cooler_preheat
    # 10 K are 18 degF of difference by definition; rounding of one division
    assert shown.values == pytest.approx([18.0, 36.0], rel=1e-14)
    assert shown.attrs["units"] == "degF"
    scale = column("start.temperature", ["10 degC"])
    data = xr.Dataset(coords={"start_temperature": ("member", scale.values, scale.attributes)})
    assert to_display(data, "us").start_temperature.values == pytest.approx([50.0], rel=1e-12)
