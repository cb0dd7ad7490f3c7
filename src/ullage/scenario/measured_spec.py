"""What sensors of the truck said in a race that was driven: a log, and which of its columns is what."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from ullage.scenario.fields import Quantity, quantity
from ullage.scenario.recording_spec import LogFile, RecordedColumn

_GAUGE = ("feed_gauge_pressure", "headspace_gauge_pressure")
# what a sensor says is hardly judged: a broken one stays to be seen
_PRESSURE = Quantity("pressure level", "-2 barg", "1000 barg", None, False, "")
_TEMPERATURE = Quantity("temperature", "-200 degC", "2000 degC", None, False, "")


class Measured(LogFile):
    """What sensors of the truck said, laid beside the results: a log file, and which column is what."""

    filled: ClassVar[bool] = False
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

    @classmethod
    def recorded(cls) -> Mapping[str, Quantity]:
        """Return which fields are columns, beside the time, and what each accepts."""
        names = [name for name in cls.model_fields if name.endswith(("_pressure", "_temperature"))]
        return {name: _PRESSURE if name.endswith("_pressure") else _TEMPERATURE for name in names}

    def over_ambient(self, name: str) -> int:
        """Return how often the ambient pressure is added to what a channel of the log says: -1, 0 or 1."""
        if not name.endswith("_pressure"):
            return 0
        return int(self.log.columns[name].gauge) - int(name in _GAUGE)
