import importlib.metadata
import json
import subprocess
import sys

import pytest

import ullage

NAMES = [
    "ResultsError",
    "Scenario",
    "ScenarioError",
    "SimulationError",
    "StateError",
    "Stepper",
    "Study",
    "StudyError",
    "UllageError",
    "bracket_air",
    "compare_cap_opening",
    "load_scenario",
    "load_study",
    "objective",
    "open_results",
    "race_inputs",
    "run_study",
    "save_results",
    "simulate",
    "to_display",
]
HEAVY = {
    "numpy",
    "scipy",
    "numba",
    "xarray",
    "pandas",
    "h5py",
    "h5netcdf",
    "pint",
    "pydantic",
    "matplotlib",
    "tqdm",
    "distributed",
}

# pint takes up Dask where there is one
OPTIONAL = {"SALib", "dask_jobqueue", "distributed", "fastjsonschema", "fmpy", "gpxpy", "openmdao", "wltp"}


def loaded(statement):
    """Return the top-level modules that a fresh interpreter holds after a statement."""
    code = f"{statement}; import sys, json; print(json.dumps(sorted({{name.split('.')[0] for name in sys.modules}})))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(json.loads(done.stdout))


def test_public_names_are_pinned():
    assert ullage.__all__ == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_public_name_resolves_and_is_documented(name):
    found = getattr(ullage, name)
    assert found.__name__ == name
    assert found.__doc__
    assert name in dir(ullage)


def test_star_import_brings_the_public_names():
    space = {}
    exec("from ullage import *", space)
    assert {name for name in space if not name.startswith("__")} == set(NAMES)


def test_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="module 'ullage' has no attribute 'simulat'"):
        getattr(ullage, "simulate"[:-1])


def test_version_is_that_of_the_installed_package():
    assert ullage.__version__ == importlib.metadata.version("ullage")


def test_importing_the_library_loads_nothing_heavy():
    assert loaded("import ullage") & (HEAVY | {"click"}) == set()


def test_importing_the_command_loads_click_only():
    modules = loaded("import ullage.cli")
    assert modules & HEAVY == set()
    assert "click" in modules


def test_using_a_name_loads_what_it_needs():
    assert "pydantic" in loaded("from ullage import Scenario")
    assert loaded("from ullage import ScenarioError") & HEAVY == set()


def test_no_name_of_the_package_loads_an_optional_library():
    every = "import ullage; [getattr(ullage, name) for name in ullage.__all__]; import ullage.embed.fmi"
    assert not OPTIONAL & loaded(every)
