"""What the ground does to the channel table: roughness, the water of a crossing, mud on the cooler."""

import dataclasses

import numpy as np
from race_tables import BACK, DRIVE, WET_FACTOR, channel, during, table_of

from ullage.duty.events import FAULTS, TimedEvent
from ullage.duty.laps import NamedStop

WADE = dataclasses.replace(BACK, water_temperature=288.15)
BOG = dataclasses.replace(BACK, mud=0.5)


def test_ground_is_as_rough_as_the_stretch_that_is_driven():
    found = table_of([dataclasses.replace(DRIVE, ground_roughness=0.25), BACK], laps=2)
    assert during(found, "ground_roughness", 0.0, 600.0) == during(found, "ground_roughness", 1000.0, 1600.0) == [0.25]
    assert during(found, "ground_roughness", 600.0, 1000.0) == [1.0]


def test_parts_are_wet_and_the_bay_is_as_cold_as_the_water_in_a_crossing_only():
    found, dry = table_of([DRIVE, WADE, DRIVE]), table_of([DRIVE, BACK, DRIVE])
    assert during(found, "wetting", 600.0, 1000.0) == [WET_FACTOR]
    assert during(found, "wetting", 0.0, 600.0) == during(found, "wetting", 1000.0, 1600.0) == [1.0]
    assert during(found, "bay_temperature", 600.0, 1000.0) == [288.15]
    outside = (found.time < 600.0) | (found.time > 1000.0)
    same = (dry.time < 600.0) | (dry.time > 1000.0)
    assert np.array_equal(channel(found, "bay_temperature")[outside], channel(dry, "bay_temperature")[same])


def test_mud_covers_the_core_from_the_end_of_its_stretch_on_and_more_of_it_counts():
    less = dataclasses.replace(DRIVE, mud=0.3)
    found = table_of([DRIVE, BOG, less, DRIVE])
    assert during(found, "core_blockage", 0.0, 1000.0) == [0.2]  # what was blocked before
    assert during(found, "core_blockage", 1000.0, 2200.0) == [0.5]
    heavier = dataclasses.replace(DRIVE, mud=0.7)
    assert during(table_of([BOG, heavier, DRIVE]), "core_blockage", 1000.0, 1600.0) == [0.7]


def test_mud_of_a_stretch_that_a_stop_cuts_counts_when_it_is_done():
    pit = NamedStop("pit", None, 60.0, True, 90.0, 0.0, time=100.0)
    found = table_of([BOG, DRIVE], [pit])
    assert during(found, "core_blockage", 0.0, 460.0) == [0.2]
    assert during(found, "core_blockage", 460.0, 1060.0) == [0.5]


def test_mud_stays_until_a_stop_that_washes_it_off():
    plain = NamedStop("pit", 1, 60.0, True, 90.0, 0.0)
    for washed, after in ((False, 0.5), (True, 0.2)):
        found = table_of([BOG, DRIVE], [dataclasses.replace(plain, cooler_washed=washed)], laps=2)
        assert during(found, "core_blockage", 1000.0, 1060.0) == [0.5]  # washed by its end
        assert during(found, "core_blockage", 1060.0, 1460.0) == [after]
        assert during(found, "core_blockage", 1460.0, 2060.0) == [0.5]


def test_fault_of_the_cooler_and_mud_do_not_add_up():
    fault = TimedEvent(0.0, "blocked cooler", "on", size=0.4)
    found = table_of([BOG, DRIVE], events=[fault])
    assert FAULTS["blocked cooler"].combine is np.maximum
    assert during(found, "core_blockage", 0.0, 400.0) == [0.4]
    assert during(found, "core_blockage", 400.0, 1000.0) == [0.5]
