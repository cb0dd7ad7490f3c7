"""The script that puts errors into the laws: it lists every place, and nothing survives in the laws that it is run on."""

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
    assert "survive" in done.stdout.splitlines()[-1]
    assert " 0 stop with an error, 0 survive" in done.stdout
