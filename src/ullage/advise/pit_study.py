"""All that a crew wants to know about a stop: what choices cost, what gauges read, what faults look like."""

from __future__ import annotations

from ullage.advise.cap_opening import compare_cap_opening
from ullage.advise.choices import left_shut, planned_stop
from ullage.advise.gauge_table import gauge_table
from ullage.advise.offers import overnight_temperature
from ullage.advise.stop_asked import settled
from ullage.advise.symptoms import symptom_table
from ullage.results.display import System
from ullage.results.pit_json import PitStudy
from ullage.scenario.load import Scenario


def pit_study(
    scenario: Scenario,
    stop: str | float | None = None,
    open_for: str | float | None = None,
    units: System | None = None,
) -> PitStudy:
    """Compare the choices at a stop, and say what gauges read there on a healthy truck and with faults.

    Parameters
    ----------
    scenario : Scenario
        The race.
    stop, open_for
        As for `compare_cap_opening`.
    units : str or None
        "metric" or "us", for the words of the symptom table; None is as the scenario shows them.

    Returns
    -------
    PitStudy
        Choices, gauge table and symptom table.

    Raises
    ------
    ScenarioError
        If there is no such stop, or a value cannot be used.
    SimulationError
        If the race does not get as far as the stop.
    """
    asked, name = settled(scenario, stop, open_for, ())
    shut = asked.replace(left_shut(asked, planned_stop(asked, name)))
    choices = compare_cap_opening(asked, stop=name)
    night, temperature = asked.spec.pit.overnight, overnight_temperature(asked.spec)
    symptoms = symptom_table(shut, name, night=night, temperature=temperature, units=units)
    return PitStudy(choices, gauge_table(shut, name), symptoms)
