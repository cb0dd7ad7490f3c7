"""The channel table that drives the march, from what is given at both ends of every step of a race."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled
from ullage.duty.laps import Piece
from ullage.duty.profile import Array
from ullage.duty.race_inputs import InputRows, RaceInputs
from ullage.kernel.inputs import Warmth, goes_on, write_channels
from ullage.kernel.params import CHANNELS
from ullage.kernel.settings import Settings
from ullage.kernel.state import empty_record


@dataclass(frozen=True)
class ChannelTable:
    """Channels on one clock; two rows at one time are a jump.

    `output_rows` gives the row of the results for a row of the table, or -1. `kept` marks the results that stay when
    the output interval thins them; coordinates and extremes belong to all of them.
    """

    time: Array
    channels: Array
    output_rows: NDArray[np.int64]
    output_time: Array
    kept: NDArray[np.bool_]
    lap: NDArray[np.int64]
    distance: Array
    elevation: Array


def build_table(race: RaceInputs, pieces: Sequence[Piece], settings: Settings) -> ChannelTable:
    """Build the channel table of a race.

    Parameters
    ----------
    race : RaceInputs
        What the race gives.
    pieces : sequence of Piece
        Its pieces.
    settings : record
        Settings: what surrounds the parts, how warm it is at the start, and the pressure of the weather.

    Returns
    -------
    ChannelTable
        A row for both ends of every step; the start of a step that goes on without a jump is left out.
    """
    knots, before, after = race.knots, race.before, race.after
    time, channels = _rows(race, settings)
    wanted = np.isin(time, race.output_time)
    wanted[1:] &= time[1:] > time[:-1]
    output_rows = np.where(wanted, np.cumsum(wanted) - 1, -1)
    row = np.searchsorted(knots, race.output_time)
    lap = np.array([piece.lap for piece in pieces])[np.append(race.piece[0], race.piece)[row]]
    speed = 0.5 * (before.vehicle_speed + after.vehicle_speed)
    distance = np.append(0.0, np.cumsum(speed * np.diff(knots)))[row]
    elevation = np.append(before.elevation[0], after.elevation)[row]
    return ChannelTable(time, channels, output_rows, race.output_time, race.stays, lap, distance, elevation)


def _rows(race: RaceInputs, settings: Settings) -> tuple[Array, Array]:
    """Return times and channels of all rows."""
    warmth = empty_record(Warmth)
    warmth.block_temperature = settings.start_temperature
    steps = len(race.before)
    channels = np.empty((2 * steps, len(CHANNELS)))
    stays = np.ones(2 * steps, dtype=bool)
    _write_rows(settings, warmth, race.knots, race.before, race.after, channels, stays)
    return np.repeat(race.knots, 2)[1:-1][stays], channels[stays]


@compiled
def _write_rows(
    c: Settings,
    warmth: Warmth,
    knots: Array,
    before: InputRows,
    after: InputRows,
    channels: Array,
    stays: NDArray[np.bool_],
) -> None:
    """Write the channels at both ends of every step, one after the other, and where a step begins with a jump."""
    for step in range(len(before)):
        left, right = channels[2 * step], channels[2 * step + 1]
        write_channels(c, warmth, before[step], after[step], knots[step + 1] - knots[step], left, right)
        stays[2 * step] = step == 0 or not goes_on(channels[2 * step - 1], left)
