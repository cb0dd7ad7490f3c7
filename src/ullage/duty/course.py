"""The profiles of all pieces of a race on one clock, and their values between knots."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.duty.laps import Piece
from ullage.duty.profile import Array, Profile

NANOSECONDS = 9  # decimals of the race clock


class Course(NamedTuple):
    """Profiles end to end. Two knots at one time are a jump; a leg is what lies between two knots.

    `knots` holds the race clock and the channels at the knots of all pieces, `piece` the piece that a knot belongs to.
    """

    knots: Profile
    piece: NDArray[np.int64]

    def leg(self, times: Array) -> NDArray[np.int64]:
        """Return the leg in which each time lies, by the number of its first knot; no time may be a knot."""
        before = np.searchsorted(self.knots.time, times, side="right") - 1
        return np.clip(before, 0, len(self.piece) - 2)

    def at(self, times: Array, leg: NDArray[np.int64]) -> Profile:
        """Return the channels at times, each on its leg."""
        clock = self.knots.time
        share = np.clip((times - clock[leg]) / (clock[leg + 1] - clock[leg]), 0.0, 1.0)
        return Profile(times, *(values[leg] + (values[leg + 1] - values[leg]) * share for values in self.knots[1:]))


def join(pieces: Sequence[Piece]) -> Course:
    """Put the profiles of pieces end to end.

    Parameters
    ----------
    pieces : sequence of Piece
        The race.

    Returns
    -------
    Course
        All knots, at race times rounded to nanoseconds.
    """
    profiles = [piece.profile for piece in pieces]
    clock, *channels = (np.concatenate(parts) for parts in zip(*profiles, strict=True))
    piece = np.repeat(np.arange(len(pieces)), [len(profile.time) for profile in profiles])
    return Course(Profile(np.round(clock, NANOSECONDS), *channels), piece)
