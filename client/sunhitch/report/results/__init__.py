"""What only one calculation has to tell, one module per calculation."""

from collections.abc import Callable
from typing import Any

from sunhitch.report.layout import Page

from . import (
    array_configuration,
    commissioning_check,
    fit_out,
    harvest,
    mount_check,
    roof_layout,
    shaded_iv,
    wire_sizing,
)

PRESENTERS: dict[str, Callable[[Page, Any], list[str]]] = {
    "fit-out": fit_out.present,
    "shaded-iv": shaded_iv.present,
    "array-configuration": array_configuration.present,
    "wire-sizing": wire_sizing.present,
    "mount-check": mount_check.present,
    "roof-layout": roof_layout.present,
    "harvest": harvest.present,
    "commissioning-check": commissioning_check.present,
}
"""Lines about an answer's own results, by operation name."""
