"""Gauge and symptom table on the screen are the numbers of the Datasets, in the units of a crew."""

from pit_data import study_of

from ullage.results.gauge_words import gauge_lines, symptom_lines, symptom_sentences


def test_gauge_table_has_a_line_a_condition_in_whole_columns():
    gauges = study_of("hot").gauges
    lines = gauge_lines(gauges, "us")
    assert len(lines) == 2 + len(gauges.condition)
    hot = next(line for line in lines if line.startswith("hot")).split()
    assert float(hot[2]) == round(float(hot[2]), 2)
    tank = float(gauges.headspace_gauge_pressure.sel(condition="hot")) / 6894.757
    assert abs(float(hot[2]) - tank) <= max(0.005, 0.005 * tank)  # three digits, or two decimals
    assert max(map(len, lines)) <= 66


def test_symptom_table_has_a_line_a_fault_and_a_sentence_for_all_but_the_healthy():
    symptoms = study_of("hot").symptoms
    lines = symptom_lines(symptoms, "metric")
    assert [line[:9].strip() for line in lines[2:4]] == ["healthy", "seal leak"]
    assert len(lines) == 2 + len(symptoms.fault)
    assert max(map(len, lines)) <= 66
    told = symptom_sentences(symptoms)
    assert len(told) == len(symptoms.fault) - 1
    assert told[0].startswith("Seal leak: ")


def test_faults_that_a_truck_cannot_have_are_told():
    told = " ".join(symptom_sentences(study_of("vented").symptoms))
    assert "Not worked out here: relief stuck open, relief stuck shut, " in told
