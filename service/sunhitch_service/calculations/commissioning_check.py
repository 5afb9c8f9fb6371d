"""Readings of a meter against a faultless array."""

from sunhitch.operations import COMMISSIONING_CHECK
from sunhitch_service.drawing.readings_chart import readings_chart
from sunhitch_service.engine.commissioning.calculation import commissioning_check
from sunhitch_service.engine.commissioning.computing_time import expected_ms

from .calculation import Calculation, ComputingTime, picture, sheet

CALCULATION = Calculation(
    COMMISSIONING_CHECK,
    commissioning_check,
    ComputingTime(expected_ms, "Give fewer readings, panels or shadows."),
    (
        picture(
            "readings",
            "Every reading as a share of what a faultless array gives, with its uncertainty.",
            readings_chart,
        ),
        sheet(readings_chart),
    ),
)
