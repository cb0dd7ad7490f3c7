import math
import random

import pytest

from support import SCENARIOS, truck
from ullage.errors import ScenarioError
from ullage.kernel.params import FIELDS
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import Scenario, load_scenario
from ullage.scenario.parameters import make_parameters
from ullage.scenario.variants import Variants
from ullage.units import KINDS
