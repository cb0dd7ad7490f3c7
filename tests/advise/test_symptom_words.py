"""Words of symptoms follow the trade's table: what falls together, what falls with revs, what is hot, milky or low."""

import pytest

from ullage.advise.symptom_words import (
    GAUGE_TELLS,
    GLASS_TELLS,
    HEALTHY,
    LEVEL_TELLS,
    THERMOMETER_TELLS,
    Signs,
    alike,
    alike_cold,
    signs_in_words,
)

RACING = 471.23889803846896  # 4500 rpm
PSI = 6894.757293168361
SOUND = Signs(
    tank=5 * PSI,
    feed_idle=5.4 * PSI,
    feed_racing=4.7 * PSI,
    oil=400.0,
    glass=0.8,
    gas=600.0,
    cold_tank=-0.5 * PSI,
    cold_feed=-0.3 * PSI,
    cold_level=0.79,
)


def lower(psi):
    """Return signs with tank and feed lower by some psi."""
    return SOUND._replace(
        tank=SOUND.tank - psi * PSI, feed_idle=SOUND.feed_idle - psi * PSI, feed_racing=SOUND.feed_racing - psi * PSI
    )


def said(fault, signs, units="us", **others):
    return signs_in_words({HEALTHY: SOUND, fault: signs, **others}, RACING, units)[fault]


def test_healthy_is_told_as_it_reads():
    words = signs_in_words({HEALTHY: SOUND}, RACING, "us")[HEALTHY]
    assert words == "Tank 5 psi, feed 5.4 psi at idle and 4.7 psi at 4500 rpm, oil at 260 degF, glass hazy."


# the trade's table (common practice): feed and tank fall together, cap or tank; feed falls only with revs, line or
# strainer; falls to zero, a leak
@pytest.mark.parametrize(
    ("signs", "shown", "meaning"),
    [
        (lower(2), "Feed and tank 2 psi lower at all revs", "cap or tank leaks"),
        (lower(5), "tank near zero", "cap or tank leaks"),
        (lower(-3), "Feed and tank 3 psi higher at all revs", "the cap does not lift"),
        (
            SOUND._replace(feed_racing=0.0),
            "Feed falls 5.4 psi from idle to 4500 rpm, healthy 0.7 psi",
            "strainer or line",
        ),
        (lower(-3)._replace(oil=450.0), "oil at 350 degF, healthy 260 degF", "the cooler, or its fan"),
        (SOUND._replace(glass=0.2), "Glass milky, healthy hazy", "air or water in the oil"),
        (lower(2)._replace(cold_level=0.72), "the level is 7 % of the tank lower", "oil is missing"),
        (
            SOUND._replace(cold_tank=-3 * PSI, cold_feed=-2.8 * PSI),
            "Nothing on the hot gauges; cold the next morning the tank shows 6.11 inHg vac, healthy 1.02 inHg vac",
            "the cap lets no air in",
        ),
        (
            SOUND._replace(cold_feed=-3 * PSI),
            "Nothing on the hot gauges; cold the next morning the feed at idle is 2.7 psi further below the tank",
            "strainer or line",
        ),
        (
            SOUND._replace(gas=1200.0),
            "Pump growls or whines (gas in the pump for 20 min up to the stop, healthy 10 min)",
            "gas in the oil, or a line that starves",
        ),
        # a leak never makes a vacuum
        (
            lower(6)._replace(cold_tank=-3 * PSI, cold_feed=-2.8 * PSI),
            "Feed and tank 6 psi lower",
            "the cap lets no air in",
        ),
        (SOUND._replace(glass=0.54), "Glass more hazy than healthy", "air or water in the oil"),
    ],
)
def test_signs_mean_what_the_trade_says(signs, shown, meaning):
    words = said("lost oil", signs)
    assert shown in words
    assert f": {meaning}. What tells" in words


def test_no_sign_says_so_and_what_tells():
    words = said("relief stuck shut", SOUND)
    assert words == (
        "Nothing on the gauges, hot or cold the next morning. "
        "What tells (common practice): lift-test the cold cap on a pressure tester."
    )


@pytest.mark.parametrize(
    ("name", "tells"),
    [
        ("tank", GAUGE_TELLS),
        ("oil", THERMOMETER_TELLS),
        ("glass", -GLASS_TELLS),
        ("cold_tank", GAUGE_TELLS),
        ("cold_level", LEVEL_TELLS),
    ],
)
def test_what_a_gauge_cannot_tell_is_not_told(name, tells):
    nothing = "Nothing on the gauges, hot or cold the next morning."
    assert said("lost oil", SOUND._replace(**{name: getattr(SOUND, name) + 0.99 * tells})).startswith(nothing)
    assert not said("lost oil", SOUND._replace(**{name: getattr(SOUND, name) + 1.01 * tells})).startswith(nothing)


def test_faults_that_show_the_same_name_each_other():
    words = signs_in_words(
        {HEALTHY: SOUND, "seal leak": lower(5), "relief stuck open": lower(4.8), "lost oil": lower(2)}, RACING, "us"
    )
    assert "It looks like relief stuck open on these gauges." in words["seal leak"]
    assert "It looks like seal leak on these gauges." in words["relief stuck open"]
    assert "looks like" not in words["lost oil"]


def test_faults_that_the_morning_tells_apart_say_so():
    words = signs_in_words(
        {HEALTHY: SOUND, "seal leak": lower(2), "lost oil": lower(2)._replace(cold_level=0.7)}, RACING, "metric"
    )
    for fault, other in (("seal leak", "lost oil"), ("lost oil", "seal leak")):
        assert f"Hot it looks like {other}: cold the next morning they differ." in words[fault]


def test_likeness_is_mutual_and_hot_and_cold_are_apart():
    cold = SOUND._replace(cold_tank=0.5 * PSI)
    assert alike(SOUND, cold)
    assert not alike_cold(SOUND, cold)
    for one, other in ((SOUND, lower(2)), (lower(2), SOUND)):
        assert not alike(one, other)
        assert alike_cold(one, other)


def test_gas_counts_from_a_minute_and_half_as_much_again():
    for gas, told in ((880.0, False), (920.0, True)):
        assert ("whines" in said("lost oil", SOUND._replace(gas=gas))) is told
    quiet = SOUND._replace(gas=1.0)
    for gas, told in ((50.0, False), (70.0, True)):
        words = signs_in_words({HEALTHY: quiet, "lost oil": SOUND._replace(gas=gas)}, RACING, "us")
        assert ("whines" in words["lost oil"]) is told
