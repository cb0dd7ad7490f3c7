import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.duty.log_clock import DAY, clock_time

MOMENTS = st.datetimes(datetime.datetime(1970, 1, 2), datetime.datetime(2199, 12, 31))
ZONES = st.integers(-14 * 60, 14 * 60).map(lambda minutes: datetime.timezone(datetime.timedelta(minutes=minutes)))


def posix(text):
    """Return the POSIX time of a clock time with a date."""
    day, seconds = clock_time(text)
    return day * DAY + seconds


@given(MOMENTS, ZONES)
def test_date_and_time_are_those_of_the_calendar(moment, zone):
    moment = moment.replace(tzinfo=zone)
    # microseconds of times up to 8e9 s, in doubles
    for text in (moment.isoformat(), moment.strftime("%Y-%m-%dT%H:%M:%S.%f%z")):
        assert posix(text) == pytest.approx(moment.timestamp(), abs=2e-6)
    plain = moment.replace(tzinfo=datetime.UTC)
    for text in (plain.isoformat(" ")[:-6], plain.isoformat()[:-6] + "Z", plain.strftime("%Y/%m/%d %H:%M:%S.%f")):
        assert posix(text) == pytest.approx(plain.timestamp(), abs=2e-6)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("13:05:22.10", 47122.1), ("1:5:2", 3902.0), ("00:00:00", 0.0), ("23:59:60", 86400.0), ("01:00:00+01:00", 0.0)],
)
def test_time_of_day_is_in_seconds(text, seconds):
    for written in (text, text.replace(".", ",")):
        assert clock_time(written) == (None, pytest.approx(seconds, abs=1e-9))  # a day in doubles


@pytest.mark.parametrize(
    "text",
    [
        *[
            "",
            ":",
            "13",
            "13:05",
            "24:00:00",
            "13:60:00",
            "13:05:61",
            "13:05:",
            "13:05:22x",
            "13:05:22.1.2",
            "-1:00:00",
        ],
        *["2026-13-01 00:00:00", "2026-02-29 00:00:00", "2100-02-29 00:00:00", "2026-05/02 00:00:00"],
        *["05-02-2026 00:00:00", "2026-05-02", "2026-05-02 ", "20260502T000000"],
        *["00:00:00+", "00:00:00+1:", "00:00:00Zulu", "00:00:00+00:99"],
    ],
)
def test_what_is_no_clock_time_is_none(text):
    with pytest.raises(ValueError, match=r"no |month|day"):
        clock_time(text)
