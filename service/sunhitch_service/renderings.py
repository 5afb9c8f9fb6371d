"""Which drawings each operation's answer can be shown as: pictures, work sheets, tables."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from .drawing import tables
from .drawing.answer_sheet import AnswerSheet
from .drawing.cell_map import draw_cell_map
from .drawing.curves import draw_curves
from .drawing.energy_chart import energy_chart
from .drawing.load_chart import load_chart
from .drawing.marking_out import fit_out_marks, roof_layout_marks
from .drawing.moments import draw_moments, moments_of_sheet
from .drawing.mount_plan import mount_plan
from .drawing.readings_chart import readings_chart
from .drawing.roof_plan import fit_out_plan, roof_layout_plan
from .drawing.wire_chart import wire_chart
from .drawing.wiring_diagram import array_wiring_diagram, fit_out_wiring_diagram
from .drawing.work_sheet import draw_work_sheet


@dataclass(frozen=True, slots=True)
class Rendering:
    """One way to show an answer.

    Parameters
    ----------
    media_type : str
        For example ``image/svg+xml``.
    view : str
        Name in kebab-case, to choose among several of the same media type.
    description : str
        What it shows.
    draw : callable
        From request and answer to text; a module-level function or another callable that can be
        sent to another process.
    """

    media_type: str
    view: str
    description: str
    draw: Callable[[Any, Any], str]


def _sheet(*pictures: Callable[[Any, Any], str]) -> Rendering:
    return Rendering(
        "text/html", "sheet", "Everything on one sheet, to print.", AnswerSheet(pictures)
    )


RENDERINGS: dict[str, tuple[Rendering, ...]] = {
    "array-configuration": (
        Rendering(
            "image/svg+xml",
            "wiring-diagram",
            "Wiring diagram of the first arrangement.",
            array_wiring_diagram,
        ),
        _sheet(array_wiring_diagram),
    ),
    "commissioning-check": (
        Rendering(
            "image/svg+xml",
            "readings",
            "Every reading as a share of what a faultless array gives, with its uncertainty.",
            readings_chart,
        ),
        _sheet(readings_chart),
    ),
    "fit-out": (
        Rendering(
            "image/svg+xml",
            "wiring-diagram",
            "Wiring diagram with sizes and lengths.",
            fit_out_wiring_diagram,
        ),
        Rendering(
            "image/svg+xml",
            "roof-plan",
            "Roof plan to scale with panels, feet, cables and dimensions.",
            fit_out_plan,
        ),
        Rendering("text/html", "work-sheet", "The work sheet, to print.", draw_work_sheet),
        Rendering("text/csv", "wire-schedule", "Every cable.", tables.wire_schedule),
        Rendering(
            "text/csv",
            "marking-out",
            "Every point to mark on the roof, from the front edge and the left edge.",
            fit_out_marks,
        ),
        Rendering("text/csv", "parts", "The bill of materials.", tables.bill_of_materials),
    ),
    "harvest": (
        Rendering(
            "image/svg+xml",
            "energy-chart",
            "Months against loads, battery, losses, what was compared, and typical days.",
            energy_chart,
        ),
        _sheet(energy_chart),
    ),
    "mount-check": (
        Rendering(
            "image/svg+xml",
            "load-chart",
            "Utilisation over road speed and in every load case.",
            load_chart,
        ),
        Rendering(
            "image/svg+xml",
            "mount-plan",
            "Panel and feet from above, with forces and utilisation.",
            mount_plan,
        ),
        _sheet(load_chart, mount_plan),
    ),
    "roof-layout": (
        Rendering(
            "image/svg+xml",
            "roof-plan",
            "Plan to scale with panels, feet, cables and dimensions.",
            roof_layout_plan,
        ),
        _sheet(roof_layout_plan),
        Rendering(
            "text/csv",
            "marking-out",
            "Every point to mark, from the front edge and the left edge.",
            roof_layout_marks,
        ),
    ),
    "shaded-iv": (
        Rendering("image/svg+xml", "curves", "Current and power over voltage.", draw_curves),
        Rendering("image/svg+xml", "cell-map", "Light, heat and diodes by cell.", draw_cell_map),
        Rendering("image/svg+xml", "moments", "Power at every further moment.", draw_moments),
        _sheet(draw_curves, draw_cell_map, moments_of_sheet),
        Rendering("text/csv", "curve-points", "Points of the curve.", tables.curve_points),
        Rendering("text/csv", "state-maxima", "Maximum of every state.", tables.state_maxima),
    ),
    "wire-sizing": (
        Rendering(
            "image/svg+xml",
            "sizes",
            "How far each size is used up, and by which rule.",
            wire_chart,
        ),
        _sheet(wire_chart),
    ),
}
"""Renderings by operation name; the first of each media type is what callers get by default."""
