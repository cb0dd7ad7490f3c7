"""A lap as a scenario describes it in a table of segments."""

from __future__ import annotations

from pydantic import Field

from ullage.scenario.fields import Spec, quantity


class Segment(Spec):
    """A stretch of the lap: constant values or means with spreads; elevation runs evenly to its end value."""

    name: str = Field(default="", description="name of the stretch")
    length: float | None = quantity("length", "1 m", "500 km", None, "length; else give the duration")
    duration: float | None = quantity("time", "0.1 s", "24 h", None, "duration; else give the length")
    vehicle_speed: float = quantity("speed", "0 km/h", "250 km/h", "0 km/h", "vehicle speed")
    vehicle_speed_spread: float = quantity("speed", "0 km/h", "70 km/h", "0 km/h", "its standard deviation")
    engine_speed: float = quantity("rotation", "0 rpm", "10000 rpm", "required", "engine speed")
    engine_speed_spread: float = quantity("rotation", "0 rpm", "2000 rpm", "0 rpm", "its standard deviation")
    steering_load: float = quantity("pressure difference", "0 bar", "250 bar", "0 bar", "pressure for the ram")
    steering_load_spread: float = quantity("pressure difference", "0 bar", "90 bar", "0 bar", "its standard deviation")
    steering_load_peak: float | None = quantity(
        "pressure difference", "0 bar", "250 bar", None, "what pulses of the load stay below"
    )
    steering_position: float = quantity(
        "number", "-1", "1", "0", "ram position", sign="positive: ram holds more oil; 1 and -1 are the ends"
    )
    forward_acceleration: float = quantity(
        "acceleration", "-3 gn", "3 gn", "0 gn", "of the truck", sign="positive: speeding up"
    )
    left_acceleration: float = quantity(
        "acceleration", "-3 gn", "3 gn", "0 gn", "of the truck", sign="positive: in a left-hand bend"
    )
    upward_acceleration: float = quantity(
        "acceleration",
        "-3 gn",
        "10 gn",
        "0 gn",
        "of the truck",
        sign="positive: thrown up; 0 at rest, -1 gn in free fall",
    )
    elevation: float | None = quantity(
        "length", "-400 m", "5000 m", None, "at the end of the segment", sign="above sea level positive"
    )

    @property
    def varies(self) -> bool:
        """Whether the channels are drawn about their means."""
        return max(self.vehicle_speed_spread, self.engine_speed_spread, self.steering_load_spread) > 0.0
