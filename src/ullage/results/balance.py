"""Audit of a finished race: oil, air and energy must all be accounted for.

The stores are rebuilt from what the Dataset shows, the flows over the boundary are its time integrals. The
integrator's own stores are not used.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ullage.kernel.audit import rebuild_stores
from ullage.kernel.outputs import Rows
from ullage.kernel.params import Parameters


class Balances(NamedTuple):
    """Worst relative imbalance of each conserved quantity over all rows [1]."""

    oil: float
    air: float
    energy: float


def audit(parameters: Parameters, rows: Rows) -> Balances:
    """Return the worst imbalances of a race.

    Parameters
    ----------
    parameters : record
        Parameters of the race.
    rows : record array
        Rows of `ullage.kernel.outputs.OUTPUT_DTYPE`.

    Returns
    -------
    Balances
        Oil and air over their initial amounts; energy over the largest of shaft work, heat given off, change of the
        store, and 1 J.
    """
    oil, air, energy = np.empty((3, len(rows)))
    rebuild_stores(parameters, rows, oil, air, energy)
    oil_gap = oil - oil[0] + rows.oil_lost + rows.oil_drawn_off - rows.oil_added
    air_gap = air - air[0] + rows.air_vented - rows.air_admitted + rows.air_lost - rows.air_added
    stored = energy - energy[0]
    heat_out = rows.cooler_energy + rows.surroundings_energy
    taken = rows.ram_work + heat_out + rows.air_energy + rows.lost_energy
    energy_gap = stored + taken - rows.shaft_work - rows.top_up_energy
    scale = max(float(np.max(np.abs(values))) for values in (rows.shaft_work, heat_out, stored))
    return Balances(
        float(np.max(np.abs(oil_gap)) / oil[0]),
        float(np.max(np.abs(air_gap)) / air[0]),
        float(np.max(np.abs(energy_gap)) / max(scale, 1.0)),
    )
