"""Power of a partly shaded array."""

from sunhitch.operations import SHADED_IV
from sunhitch_service.drawing.cell_map import draw_cell_map
from sunhitch_service.drawing.curves import draw_curves
from sunhitch_service.drawing.moments import draw_moments, moments_of_sheet
from sunhitch_service.drawing.tables import curve_points, state_maxima
from sunhitch_service.engine.shade.calculation import shaded_iv
from sunhitch_service.engine.shade.computing_time import expected_ms

from .calculation import Calculation, ComputingTime, picture, sheet, table

CALCULATION = Calculation(
    SHADED_IV,
    shaded_iv,
    ComputingTime(
        expected_ms,
        "Give fewer panels, shadows, curve points or alternatives, or less `detail`.",
    ),
    (
        picture("curves", "Current and power over voltage.", draw_curves),
        picture("cell-map", "Light, heat and diodes by cell.", draw_cell_map),
        picture("moments", "Power at every further moment.", draw_moments),
        sheet(draw_curves, draw_cell_map, moments_of_sheet),
        table("curve-points", "Points of the curve.", curve_points),
        table("state-maxima", "Maximum of every state.", state_maxima),
    ),
)
