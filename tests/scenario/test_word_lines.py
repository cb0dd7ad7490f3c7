from support import truck
from ullage.scenario.describe import describe
from ullage.scenario.word_lines import word_lines

WORDED = {
    "duty.seed": 1,
    "duty.segment.0.name": "whoops",
    "duty.segment.0.surface": "whoops",
    "duty.segment.0.steering": "medium",
    "duty.segment.0.engine_speed_spread": "200 rpm",
}


def test_values_from_words_are_listed_and_own_values_are_not():
    heading, *lines = word_lines(truck(WORDED).spec, "metric")
    assert "our own choice" in heading
    # 0.16 of 60 km/h; the load is the truck's own, and "medium" brings its spread and peak
    assert max(map(len, lines)) <= 110
    assert " ".join(map(str.strip, lines)) == (
        "whoops (whoops, medium): roughness 1.6, vehicle_speed_spread 9.6 km/h, "
        "steering_load_spread 1200 kPa, steering_load_peak 9000 kPa"
    )


def test_check_shows_them_and_says_nothing_without_words():
    assert "assumed from words" in describe(truck(WORDED), "us")
    assert "assumed from words" not in describe(truck(), "us")
