"""The most panel that fits a roof."""

from sunhitch.operations import ROOF_LAYOUT
from sunhitch_service.drawing.marking_out import marking_out
from sunhitch_service.drawing.roof_plan import roof_plan
from sunhitch_service.engine.roof.computing_time import expected_ms
from sunhitch_service.engine.roof.layout import roof_layout

from .calculation import Calculation, ComputingTime, picture, sheet, table

CALCULATION = Calculation(
    ROOF_LAYOUT,
    roof_layout,
    ComputingTime(expected_ms, "Lower `search/time_limit_s`."),
    (
        picture("roof-plan", "Plan to scale with panels, feet, cables and dimensions.", roof_plan),
        sheet(roof_plan),
        table(
            "marking-out",
            "Every point to mark, from the front edge and the left edge.",
            marking_out,
        ),
    ),
)
