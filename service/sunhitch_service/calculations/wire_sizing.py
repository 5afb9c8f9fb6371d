"""Conductor, fuse and entry of one circuit."""

from sunhitch.operations import WIRE_SIZING
from sunhitch_service.drawing.wire_chart import wire_chart
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.engine.wiring.computing_time import expected_ms

from .calculation import Calculation, ComputingTime, picture, sheet

CALCULATION = Calculation(
    WIRE_SIZING,
    wire_sizing,
    ComputingTime(expected_ms, "Give fewer runs."),
    (
        picture("sizes", "Utilisation of each size, and the rule that governs it.", wire_chart),
        sheet(wire_chart),
    ),
)
