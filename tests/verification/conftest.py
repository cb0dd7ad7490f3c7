"""Counts the checks against the outside that were run and held, and says so in the last line printed."""

import pytest

from outside import WHOLE_JOB, Check, last_line

_held = pytest.StashKey[list[Check]]()


def pytest_configure(config):
    config.stash[_held] = []


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    report = yield
    check = getattr(item, "callspec", None) and item.callspec.params.get("check")
    if call.when == "call" and report.passed and isinstance(check, Check):
        item.config.stash[_held].append(check)
    return report


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_sessionfinish(session):
    yield
    held = session.config.stash[_held]
    if held:
        whole = sum(check.law == WHOLE_JOB for check in held)
        print(f"of laws: {len(held) - whole} rows; of the whole job and the trade: {whole} rows")
        print(last_line(held))
