import pytest

from ullage.hints import CUSTOMARY, advice, did_you_mean, nearest_word
from ullage.units import KINDS, UnitError, parse


def test_every_kind_has_its_examples_and_units_and_they_are_accepted():
    assert set(CUSTOMARY) == set(KINDS)
    for kind, customary in CUSTOMARY.items():
        examples = customary.examples.split('"')[1::2]
        assert examples
        for text in [*examples, *(f"3 {unit}" for unit in customary.units)]:
            parse(text, kind)


@pytest.mark.parametrize(
    ("text", "kind", "hint"),
    [
        ("4000 RPM", "rotation", 'did you mean "4000 rpm"?'),
        ("4000 1/min", "rotation", 'did you mean "4000 rpm"?'),
        ("16 PSI", "pressure difference", 'did you mean "16 psi"?'),
        ("16 psig", "pressure difference", 'did you mean "16 psi"?'),
        ("2 inHg vac", "pressure difference", 'did you mean "2 inHg"?'),
        ("5 Psig", "pressure level", 'did you mean "5 psig"?'),
        ("5 psi g", "pressure level", 'did you mean "5 psig"?'),
        ("5 bar(g)", "pressure level", 'did you mean "5 barg"?'),
        ("16 psi", "pressure level", 'did you mean "16 psig" or "16 psia"?'),
        ("16 BAR", "pressure level", 'did you mean "16 barg" or "16 bara"?'),
        ("2 inHg", "pressure level", 'did you mean "2 inHg gauge" or "2 inHg abs"?'),
        ("0.4 g", "acceleration", 'did you mean "0.4 gn"?'),
        ("4 m/s^2", "acceleration", 'did you mean "4 m/s2"?'),
        ("4 feet", "length", 'did you mean "4 ft"?'),
        ('1"', "short length", 'did you mean "1 in"?'),
        ("90F", "temperature", 'did you mean "90 degF"?'),
        ("90 F", "temperature", 'did you mean "90 degF"?'),
        ("90 C", "temperature", 'did you mean "90 degC"?'),
        ("90 deg C", "temperature", 'did you mean "90 degC"?'),
        ("20 L/M", "flow", 'did you mean "20 L/min"?'),
        ("10 GPM", "flow", 'did you mean "10 gpm"?'),
        ("28 cm3/rev", "volume", 'did you mean "28 cm3"?'),
        ("7,6 L", "volume", 'with a decimal point: "7.6 L"'),
        ("1,000 psi", "pressure difference", 'a comma can mean two things: write "1000 psi" or "1.000 psi"'),
        ("1:00:00", "time", 'write "1 h 0 min 0 s"'),
        ("5:30", "time", 'write "5 h 30 min" or "5 min 30 s"'),
        ("AN-16", "short length", "a dash size counts sixteenths of an inch of a tube's outside"),
        ("-16 AN", "short length", "a dash size counts sixteenths of an inch of a tube's outside"),
        ("-16AN", "short length", "a dash size counts sixteenths of an inch of a tube's outside"),
    ],
)
def test_near_miss_is_refused_and_named(text, kind, hint):
    with pytest.raises(UnitError) as caught:
        parse(text, kind)
    assert f"({hint}" in str(caught.value)
    assert str(caught.value).endswith(f" is wanted, such as {CUSTOMARY[kind].examples}")


@pytest.mark.parametrize(
    ("text", "kind"), [("3 gpm", "volume"), ("x", "time"), ("3 buckets", "speed"), ("7 psi", "flow")]
)
def test_what_is_like_nothing_gets_no_hint(text, kind):
    assert advice(text, kind) == f"; {CUSTOMARY[kind].name} is wanted, such as {CUSTOMARY[kind].examples}"


def test_nearest_word_does_not_mind_the_case_and_may_be_none():
    assert nearest_word("FILL", ["fill", "full"]) == "fill"
    assert did_you_mean("relief_presure", ["relief_pressure", "kind"]) == " (did you mean 'relief_pressure'?)"
    assert did_you_mean("zzz", ["fill"]) == ""
    assert did_you_mean("zzz", []) == ""


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("7/8 in", "short length", 'write "0.875 in"'),
        ("1,7 in3", "volume", 'with a decimal point: "1.7 in3"'),
        ("30 lbs", "pressure difference", 'did you mean "30 psi"?'),
    ],
)
def test_near_miss_keeps_the_size_of_what_was_meant(text, kind, words):
    assert words in advice(text, kind)


def test_thousand_turns_are_not_taken_for_turns():
    assert "did you mean" not in advice("4.6 krpm", "rotation")
