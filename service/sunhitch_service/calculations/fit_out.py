"""The whole job for one build."""

from functools import partial

from sunhitch.operations import FIT_OUT
from sunhitch_service.drawing.marking_out import marking_out
from sunhitch_service.drawing.roof_plan import roof_plan
from sunhitch_service.drawing.tables import rows_of
from sunhitch_service.drawing.wiring_diagram import fit_out_wiring_diagram
from sunhitch_service.drawing.work_sheet import draw_work_sheet
from sunhitch_service.engine.fitout.calculation import FIT_OUT as DIVIDED
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.fitout.computing_time import expected_ms

from .calculation import Calculation, ComputingTime, Rendering, picture, table

CALCULATION = Calculation(
    FIT_OUT,
    fit_out,
    ComputingTime(
        expected_ms,
        "Give fewer panels, candidates or states of light, or less time of `harvest`; or ask for "
        "lines of progress (Accept: application/x-ndjson), which may take longer.",
    ),
    (
        picture("wiring-diagram", "Wiring diagram with sizes and lengths.", fit_out_wiring_diagram),
        picture(
            "roof-plan", "Roof plan to scale with panels, feet, cables and dimensions.", roof_plan
        ),
        Rendering("text/html", "work-sheet", "The work sheet, to print.", draw_work_sheet),
        table("wire-schedule", "Every cable.", partial(rows_of, "wire_schedule")),
        table(
            "protection-schedule",
            "Every fuse and breaker.",
            partial(rows_of, "protection_schedule"),
        ),
        table(
            "marking-out",
            "Every point to mark on the roof, from the front edge and the left edge.",
            marking_out,
        ),
        table("parts", "The parts list.", partial(rows_of, "parts_list")),
    ),
    DIVIDED,
    usually_whole=True,
)
