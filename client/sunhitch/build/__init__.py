"""Short ways to write requests: panels from their nameplate, whole jobs, variants of a request."""

from .changes import changed
from .jobs import battery, fit_out, glued_feet, mppt, pwm, shade
from .panels import array, framed, panel, sheet

__all__ = [
    "array",
    "battery",
    "changed",
    "fit_out",
    "framed",
    "glued_feet",
    "mppt",
    "panel",
    "pwm",
    "shade",
    "sheet",
]
