"""Which function answers which operation of the contract."""

from collections.abc import Callable
from typing import Any

from .engine.array.configuration import array_configuration
from .engine.commissioning.calculation import commissioning_check
from .engine.divided import Divided
from .engine.fitout.calculation import fit_out
from .engine.harvest.calculation import HARVEST, harvest
from .engine.mount.calculation import mount_check
from .engine.roof.layout import roof_layout
from .engine.shade.calculation import shaded_iv
from .engine.wiring.calculation import wire_sizing

CALCULATIONS: dict[str, Callable[[Any], Any]] = {
    "array-configuration": array_configuration,
    "commissioning-check": commissioning_check,
    "fit-out": fit_out,
    "harvest": harvest,
    "mount-check": mount_check,
    "roof-layout": roof_layout,
    "shaded-iv": shaded_iv,
    "wire-sizing": wire_sizing,
}
"""Calculation by operation name; HTTP and the embedded client call the same functions."""

DIVIDED: dict[str, Divided[Any, Any, Any, Any]] = {"harvest": HARVEST}
"""Long calculations in pieces, by operation name."""
