"""What everybody who opens a pressurised reservoir must know. README and `ullage check` print these lines."""

from __future__ import annotations

CAUTIONS = (
    "Hot oil under pressure burns and injects.",
    "A gauge at zero does not mean cold oil: never open a hot reservoir. Gauge at zero and oil below about 50 degC "
    "(122 degF), gloves and glasses, first notch, wait, face aside.",
    "Recharge only through a regulator set below the cap.",
    "Every part is only as strong as its rating.",
    "Results are estimates. They do not replace makers' data, race rules, local codes and licensed practice.",
)

SHORT_CAUTION = "Hot oil under pressure burns and injects. Estimates, never a permission to open: see `ullage check`."
