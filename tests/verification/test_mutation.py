"""The script that puts errors into the laws, run on those of one module."""

import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("mutation.py")


@pytest.mark.slow
def test_no_error_of_two_per_cent_in_the_laws_of_the_tank_goes_unnoticed():
    done = subprocess.run([sys.executable, str(SCRIPT), "tank"], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    # three laws of some twenty constants and terms, each too large and too small
    assert int(done.stdout.split(" mutants")[0].split()[-1]) > 40
    assert done.stdout.splitlines()[-1].endswith(", 0 without a check, 0 survive")
