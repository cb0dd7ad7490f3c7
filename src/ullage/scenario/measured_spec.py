"""What sensors of the truck said in a race that was driven: a log, and which of its columns is what."""

from __future__ import annotations

from ullage.duty.recording import TIME, Column
from ullage.kernel.state import NODES
from ullage.scenario.fields import quantity
from ullage.scenario.recording_spec import LogFile, RecordedColumn
from ullage.units import level_of, parse

LEVEL, TEMPERATURE = "pressure level", "temperature"
# what a sensor says is not judged, only what no sensor of a truck can say is refused
_ACCEPTED = {LEVEL: ("-2 barg", "1000 barg"), TEMPERATURE: ("-200 degC", "2000 degC")}
SENSED = (
    "feed_gauge_pressure",
    "headspace_gauge_pressure",
    "supply_pressure",
    *(f"{node}_temperature" for node in NODES),
    "headspace_temperature",
    "ambient_temperature",
)
_GAUGE = ("feed_gauge_pressure", "headspace_gauge_pressure")


class Measured(LogFile):
    """What sensors of the truck said, laid beside the results: a log file, and which column is what."""

    starts_at: float = quantity(
        "time", "-48 h", "200 h", "0 s", "race time of the first row used", sign="negative: before the start"
    )
    feed_gauge_pressure: RecordedColumn | None = None
    headspace_gauge_pressure: RecordedColumn | None = None
    supply_pressure: RecordedColumn | None = None
    reservoir_temperature: RecordedColumn | None = None
    pump_temperature: RecordedColumn | None = None
    steering_gear_temperature: RecordedColumn | None = None
    cooler_temperature: RecordedColumn | None = None
    headspace_temperature: RecordedColumn | None = None
    ambient_temperature: RecordedColumn | None = None

    def over_ambient(self, name: str) -> int:
        """Return how often the ambient pressure is added to what a channel of the log says: -1, 0 or 1."""
        column = getattr(self, name)
        if not name.endswith("pressure"):
            return 0
        absolute = level_of(column.unit)[1] == "abs"
        return -1 if absolute and name in _GAUGE else 1 if not absolute and name not in _GAUGE else 0

    @classmethod
    def _wanted(cls, name: str, column: RecordedColumn) -> Column:
        if name == TIME:
            return super()._wanted(name, column)
        kind = LEVEL if name.endswith("pressure") else TEMPERATURE
        low, high = _ACCEPTED[kind]
        zero = parse(f"0 {column.unit}", kind)
        step = parse(f"1 {column.unit}", kind) - zero
        return Column(column.column, column.unit, step, zero, parse(low, kind), parse(high, kind), f"{low} to {high}")
