"""The least change of a job that is under way, or that fails."""

from sunhitch.operations import FIT_OUT_CHANGE
from sunhitch_service.drawing.roof_plan import roof_plan
from sunhitch_service.engine.revision.calculation import fit_out_change
from sunhitch_service.engine.revision.computing_time import expected_ms

from .calculation import Calculation, ComputingTime, picture, sheet

CALCULATION = Calculation(
    FIT_OUT_CHANGE,
    fit_out_change,
    ComputingTime(expected_ms, "Give fewer panels, or the goal `as-wanted`."),
    (picture("roof-plan", "Roof plan after the changes.", roof_plan), sheet(roof_plan)),
)
