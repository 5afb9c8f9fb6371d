"""`shaded-iv`: what an array delivers when some of its cells see less light."""

from typing import Annotated, Literal

from .base import Input, Output
from .check import Answer
from .panel import ConstructionName, DiodeModel, Panel, PanelName
from .quantity import choice, count, label, listing, prose, quantity
from .system import RuleSet

ShadedIvDetail = Literal["summary", "curve", "cells"]

Fraction = Annotated[float, quantity("1", 0.0, 1.0, "Share of the sun that the cell sees.", 0.15)]
LightGrid = Annotated[
    list[Annotated[list[Fraction], listing(1, 1000, "One parallel path: its series positions.")]],
    listing(1, 8, "Parallel paths."),
]


class PanelPosition(Input, kw_only=True):
    """Where a panel lies on the roof; needed when shade is given as shapes.

    Unrotated, the panel's length runs along x (rearwards) and its rows count along x; rotated, its
    length runs along y.
    """

    x_m: Annotated[float, quantity("m", -5.0, 30.0, "Corner nearest the front left, x.", 0.6)]
    y_m: Annotated[float, quantity("m", -5.0, 30.0, "Corner nearest the front left, y.", 0.2)]
    rotation_deg: Annotated[
        float,
        quantity("°", -360.0, 360.0, "Turn about that corner, from x towards y.", 0.0),
    ] = 0.0


class ArrayPanel(Input, kw_only=True):
    """One panel of the array and the light on it."""

    name: PanelName
    panel: Annotated[Panel, prose("Nameplate, cells and diodes.")]
    irradiance_fraction: Annotated[
        Fraction | LightGrid,
        prose(
            "Share of the sun's irradiance: one number from 0 to 1 for the panel, or a grid "
            "[path][position] with one number per cell. Multiplies shade given as shapes."
        ),
    ] = 1.0
    cell_temperature_c: (
        Annotated[float, quantity("°C", -60.0, 130.0, "Cells of this panel.", 45.0)] | None
    ) = None
    position: Annotated[PanelPosition, prose("Place on the roof.")] | None = None


class ArrayWiring(Input, kw_only=True):
    """Strings in parallel, each a list of panels in series."""

    strings: Annotated[
        list[
            Annotated[list[PanelName], listing(1, 60, "Panels in series, from the positive end.")]
        ],
        listing(1, 60, "Strings; every panel of the request appears once."),
    ]
    blocking_diode: Annotated[DiodeModel, prose("Diode in series with every string.")] | None = None
    string_resistance_ohm: Annotated[
        float,
        quantity("Ω", 0.0, 10.0, "Cable from each string to the common point, both ways.", 0.02),
    ] = 0.0


class Sun(Input, kw_only=True):
    """Light in the panels' plane and cell temperature."""

    irradiance_w_m2: Annotated[
        float, quantity("W/m²", 1.0, 1500.0, "Irradiance on an unshaded cell.", 1000.0)
    ]
    cell_temperature_c: Annotated[
        float, quantity("°C", -60.0, 130.0, "Cells, unless a panel says otherwise.", 45.0)
    ]
    diffuse_fraction: Annotated[
        float,
        quantity("1", 0.0, 1.0, "Share that comes from the whole sky; shapes spare it.", 0.12),
    ] = 0.0


Point = Annotated[
    list[Annotated[float, quantity("m", -50.0, 50.0, "Roof coordinate.", 1.2)]],
    listing(2, 2, "[x_m, y_m] in roof coordinates."),
]


class ShadeShape(Input, kw_only=True):
    """A shadow on the roof."""

    polygon: Annotated[list[Point], listing(3, 400, "Outline of the shadow, simple polygon.")]
    transmittance_fraction: Annotated[
        float,
        quantity(
            "1", 0.0, 1.0, "Share of the beam that passes; multiplies where shapes meet.", 0.0
        ),
    ] = 0.0


class ShadedIvAlternative(Input, kw_only=True):
    """The same panels and light, wired or built in another way, for comparison."""

    name: Annotated[str, label("Name of the alternative.", "all in series")]
    wiring: Annotated[ArrayWiring, prose("Wiring in place of the request's.")] | None = None
    construction: (
        Annotated[
            ConstructionName,
            choice("Construction of every panel, in place of its own.", "half-cell-2-diodes"),
        ]
        | None
    ) = None


class PanelLight(Input, kw_only=True):
    """Light on one panel in one state."""

    panel: PanelName
    irradiance_fraction: Annotated[
        Fraction | LightGrid,
        prose(
            "Share of the state's irradiance: one number from 0 to 1 for the panel, or a grid "
            "[path][position] with one number per cell."
        ),
    ]


class LightState(Input, kw_only=True):
    """Another moment: what is given here takes the place of the request's own."""

    name: Annotated[str, label("Name, unique within the request.", "branch an hour later")]
    sun: Annotated[Sun, prose("Light and temperature.")] | None = None
    light: Annotated[
        list[PanelLight], listing(0, 60, "Panels with another share; the others keep their own.")
    ] = []
    shade: (
        Annotated[list[ShadeShape], listing(0, 200, "Shadows, none for an empty list.")] | None
    ) = None


class ShadedIvRequest(Input, kw_only=True):
    """Panels, wiring, sun and shade.

    Work per request is limited to 20,000 cells in the array, 60,000 in it and its alternatives
    together, 2,000,000 in its states together, and 6,000 different light levels, counted in every
    path; beyond that the request is refused.
    """

    panels: Annotated[list[ArrayPanel], listing(1, 60, "Panels of the array.")]
    wiring: Annotated[ArrayWiring, prose("How they are wired.")]
    sun: Annotated[Sun, prose("Light and temperature.")]
    shade: Annotated[
        list[ShadeShape], listing(0, 200, "Shadows as shapes; need panel positions.")
    ] = []
    compare: Annotated[
        list[ShadedIvAlternative], listing(0, 12, "Other wirings or constructions.")
    ] = []
    states: Annotated[
        list[LightState],
        listing(
            0, 2000, "Further moments of the same array, of which only the maximum is asked for."
        ),
    ] = []
    detail: Annotated[
        ShadedIvDetail,
        choice("`curve` adds the curve, `cells` adds substrings and cells too.", "curve"),
    ] = "summary"
    curve_points: Annotated[int, count(10, 5000, "Points of the curve.", 400)] = 400
    rules: (
        Annotated[RuleSet, choice("Rules for what strings push into each other.", "nec-2023")]
        | None
    ) = None


class PowerPoint(Output, kw_only=True):
    """A point of the power curve."""

    power_w: Annotated[float, quantity("W", -1e6, 1e6, "Power.", 227.4)]
    voltage_v: Annotated[float, quantity("V", -1e4, 1e4, "Array voltage.", 18.9)]
    current_a: Annotated[float, quantity("A", -1e4, 1e4, "Array current.", 12.03)]


class Curve(Output, kw_only=True):
    """Current over voltage from short circuit to open circuit; empty when not asked for."""

    voltage_v: Annotated[
        list[Annotated[float, quantity("V", -1e4, 1e4, "Array voltage.", 18.9)]],
        listing(0, 5000, "Voltages, rising."),
    ]
    current_a: Annotated[
        list[Annotated[float, quantity("A", -1e4, 1e4, "Array current.", 12.0)]],
        listing(0, 5000, "Currents at these voltages."),
    ]


class TrackerResult(Output, kw_only=True):
    """What a simple tracker finds that walks down from open circuit and stops at the first top."""

    found: Annotated[PowerPoint, prose("Where it stops.")]
    lost_w: Annotated[float, quantity("W", 0.0, 1e6, "Power below the global maximum.", 0.0)]
    lost_fraction: Annotated[float, quantity("1", 0.0, 1.0, "The same as a share.", 0.0)]


class CellState(Output, kw_only=True):
    """One cell at the array's maximum power point."""

    path: Annotated[int, count(0, 7, "Parallel path, 0-based.", 0)]
    position: Annotated[int, count(0, 999, "Series position, 0-based.", 3)]
    irradiance_fraction: Annotated[float, quantity("1", 0.0, 1.0, "Light on it.", 0.15)]
    voltage_v: Annotated[float, quantity("V", -1e3, 1e3, "Cell voltage.", 0.53)]
    current_a: Annotated[float, quantity("A", -1e3, 1e3, "Cell current.", 2.8)]
    dissipation_w: Annotated[
        float, quantity("W", -1e4, 1e4, "Power turned into heat by current, −V·I.", 12.1)
    ]


class SubstringState(Output, kw_only=True):
    """One bypass group at the array's maximum power point."""

    first: Annotated[int, count(0, 999, "First series position.", 0)]
    last: Annotated[int, count(0, 999, "Last series position.", 17)]
    voltage_v: Annotated[float, quantity("V", -1e4, 1e4, "Voltage across the group.", 9.6)]
    cell_current_a: Annotated[float, quantity("A", -1e3, 1e3, "Current through the cells.", 5.5)]
    diode_current_a: Annotated[
        float, quantity("A", 0.0, 1e3, "Current through the bypass diode.", 0.0)
    ]
    diode_conducts: Annotated[
        bool, prose("Whether the diode carries at least 1 % of the panel's Isc.")
    ]
    cells: Annotated[list[CellState], listing(0, 8000, "Its cells; only with detail `cells`.")]


class PanelState(Output, kw_only=True):
    """One panel at the array's maximum power point."""

    name: PanelName
    power_w: Annotated[float, quantity("W", -1e5, 1e5, "Power at its terminals.", 76.1)]
    voltage_v: Annotated[float, quantity("V", -1e4, 1e4, "Voltage at its terminals.", 18.9)]
    current_a: Annotated[float, quantity("A", -1e3, 1e3, "Current out of it.", 4.03)]
    conducting_diodes: Annotated[int, count(0, 1000, "Bypass diodes that conduct.", 1)]
    hottest_cell_dissipation_w: Annotated[
        float, quantity("W", -1e4, 1e4, "Largest dissipation of a cell, light not counted.", 8.2)
    ]
    substrings: Annotated[
        list[SubstringState], listing(0, 1000, "Bypass groups; only with detail `cells`.")
    ]


class LossSplit(Output, kw_only=True):
    """From full light to what is delivered: the parts add up to `unshaded_w`."""

    unshaded_w: Annotated[
        float, quantity("W", 0.0, 1e6, "Each panel alone at its maximum, in full light.", 318.4)
    ]
    light_lost_w: Annotated[
        float,
        quantity("W", -1e6, 1e6, "Because cells see less light, each cell at its best.", 18.0),
    ]
    mismatch_w: Annotated[
        float, quantity("W", -1e6, 1e6, "Because cells must share current or voltage.", 70.0)
    ]
    bypass_diodes_w: Annotated[
        float, quantity("W", -1e6, 1e6, "Heat in conducting bypass diodes.", 2.7)
    ]
    blocking_and_cable_w: Annotated[
        float, quantity("W", -1e6, 1e6, "Heat in blocking diodes and string cables.", 0.0)
    ]
    delivered_w: Annotated[float, quantity("W", -1e6, 1e6, "Global maximum.", 227.4)]
    tracker_w: Annotated[
        float, quantity("W", 0.0, 1e6, "Further loss if a simple tracker stops early.", 0.0)
    ]


class AlternativeResult(Output, kw_only=True):
    """One line of the comparison."""

    name: Annotated[str, prose("Name of the alternative, or `as given`.", "all in series")]
    maximum_power_point: Annotated[PowerPoint, prose("Its global maximum.")]
    tracker_power_w: Annotated[
        float, quantity("W", -1e6, 1e6, "What a simple tracker finds.", 210.0)
    ]
    of_unshaded_fraction: Annotated[
        float, quantity("1", 0.0, 2.0, "Share of its own power without shade.", 0.71)
    ]
    hottest_cell_dissipation_w: Annotated[
        float, quantity("W", -1e4, 1e4, "Largest dissipation of a cell.", 8.2)
    ]


class LightStateResult(Output, kw_only=True):
    """Global maximum at one further moment."""

    name: Annotated[str, prose("Name of the state.", "branch an hour later")]
    maximum_power_point: Annotated[PowerPoint, prose("Its global maximum.")]
    of_unshaded_fraction: Annotated[
        float, quantity("1", 0.0, 2.0, "Share of its own power without shade.", 0.84)
    ]


class ShadedIvAnswer(Answer, kw_only=True):
    """Curve, maxima and where the power goes."""

    maximum_power_point: Annotated[PowerPoint, prose("Global maximum.")]
    local_maxima: Annotated[
        list[PowerPoint], listing(1, 10_000, "All maxima of the power curve, by falling power.")
    ]
    open_circuit_voltage_v: Annotated[
        float, quantity("V", 0.0, 1e4, "Array open-circuit voltage.", 22.8)
    ]
    short_circuit_current_a: Annotated[
        float, quantity("A", 0.0, 1e4, "Array short-circuit current.", 12.98)
    ]
    curve: Annotated[Curve, prose("Current over voltage.")]
    tracker: Annotated[TrackerResult, prose("What a simple tracker makes of it.")]
    panels: Annotated[list[PanelState], listing(1, 60, "Every panel, in the request's order.")]
    loss_split: Annotated[LossSplit, prose("Where the power goes.")]
    comparison: Annotated[
        list[AlternativeResult],
        listing(0, 13, "The request and its alternatives, best first; empty when none."),
    ]
    states: Annotated[
        list[LightStateResult],
        listing(0, 2000, "Every further moment of the request, in its order."),
    ] = []
