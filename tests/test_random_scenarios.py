"""A short campaign of random races; `benchmarks/random_scenarios.py` runs long ones."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

CAMPAIGN = Path(__file__).parent.parent / "benchmarks" / "random_scenarios.py"


@pytest.mark.slow
def test_a_hundred_random_races_end_with_their_balances_closed():
    command = [sys.executable, str(CAMPAIGN), "--count", "100", "--seed", "7"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    result = json.loads(done.stdout.splitlines()[-1])
    assert done.returncode == 0, done.stdout
    assert result["count"] == 100
    assert result["failures"] == 0
    # the balances that are promised; the campaign itself is a failure above them
    assert result["worst"]["oil_balance"] < 1e-10
    assert result["worst"]["air_balance"] < 1e-10
    assert result["worst"]["energy_balance"] < 1e-6
