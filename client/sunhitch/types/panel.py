"""Panels: nameplate, cells and diodes, body."""

from typing import Annotated, Literal

from .base import Input
from .quantity import choice, count, label, listing, prose, quantity

CellOrder = Literal["serpentine-along-length", "serpentine-along-width"]
BodyConstruction = Literal["flexible", "framed"]

ConstructionName = Literal[
    "full-cell-2-diodes",
    "full-cell-3-diodes",
    "full-cell-no-diode",
    "half-cell-2-diodes",
    "half-cell-3-diodes",
    "diode-every-2-cells",
    "back-contact-no-diode",
    "back-contact-2-diodes",
]

CellMaterial = Annotated[
    Literal["silicon", "other"],
    choice("What the cells are of; those of `other` may have any usual voltage.", "silicon"),
]
Bifaciality = Annotated[
    float,
    quantity("1", 0.0, 1.0, "Isc of a two-sided panel's back over that of its front.", 0.7),
]


Price = Annotated[
    float,
    quantity("1", 0.0, 1e7, "Price of one, in any currency, the same throughout.", 140.0),
]
Mass = Annotated[float, quantity("kg", 0.0, 2000.0, "Mass of one.", 22.0)]


class PanelElectrical(Input, kw_only=True):
    """Nameplate at standard test conditions: 1000 W/m², 25 °C cell, AM 1.5."""

    p_mp_w: Annotated[float, quantity("W", 0.1, 2000.0, "Maximum power.", 115.0)]
    v_mp_v: Annotated[float, quantity("V", 0.1, 500.0, "Voltage at maximum power.", 19.2)]
    i_mp_a: Annotated[float, quantity("A", 0.01, 100.0, "Current at maximum power.", 5.99)]
    v_oc_v: Annotated[float, quantity("V", 0.1, 600.0, "Open-circuit voltage.", 22.9)]
    i_sc_a: Annotated[float, quantity("A", 0.01, 120.0, "Short-circuit current.", 6.4)]
    cells_in_series: Annotated[
        int, count(1, 1000, "Cells in series between the terminals (36 for 72 half cells).", 36)
    ]
    cell_material: CellMaterial = "silicon"
    alpha_sc_fraction_per_c: (
        Annotated[float, quantity("1/K", -0.002, 0.005, "Change of Isc per kelvin.", 0.0005)] | None
    ) = None
    beta_voc_fraction_per_c: (
        Annotated[
            float, quantity("1/K", -0.01, 0.0, "Change of Voc per kelvin, negative.", -0.0028)
        ]
        | None
    ) = None
    gamma_pmp_fraction_per_c: (
        Annotated[
            float, quantity("1/K", -0.015, 0.0, "Change of Pmp per kelvin, negative.", -0.0037)
        ]
        | None
    ) = None
    low_light_efficiency_fraction: (
        Annotated[
            float,
            quantity(
                "1",
                0.5,
                1.2,
                "Measured efficiency at 200 W/m² and 25 °C as a share of that at 1000 W/m² "
                "(EN 50380, IEC 61853-1).",
                0.96,
            ),
        ]
        | None
    ) = None
    bifaciality_fraction: Bifaciality | None = None
    max_series_fuse_a: (
        Annotated[float, quantity("A", 0.1, 200.0, "Largest series fuse the maker allows.", 15.0)]
        | None
    ) = None
    max_system_voltage_v: (
        Annotated[float, quantity("V", 1.0, 2000.0, "Largest system voltage.", 600.0)] | None
    ) = None


class BypassGroup(Input, kw_only=True):
    """A run of series positions with or without one bypass diode across it."""

    first: Annotated[int, count(0, 999, "First series position, 0-based.", 0)]
    last: Annotated[int, count(0, 999, "Last series position, inclusive.", 17)]
    has_diode: Annotated[bool, prose("Whether a bypass diode spans the group.")]


class CellLayout(Input, kw_only=True):
    """How the cells of a panel are wired, and where they sit on it.

    Positions count from the positive terminal. Parallel paths meet at both ends of every bypass
    group.
    """

    paths_in_parallel: Annotated[
        int, count(1, 8, "Cell strings side by side: 2 for half-cut panels with two halves.", 2)
    ]
    positions_in_series: Annotated[int, count(1, 1000, "Cells in series in one path.", 36)]
    bypass: Annotated[
        list[BypassGroup],
        listing(1, 1000, "Groups that cover all positions once, in order."),
    ]
    rows: (
        Annotated[int, count(1, 1000, "Cell rows on the panel, counted along its length.", 12)]
        | None
    ) = None
    columns: (
        Annotated[int, count(1, 1000, "Cell columns on the panel, counted along its width.", 6)]
        | None
    ) = None
    order: Annotated[
        CellOrder
        | list[list[Annotated[int, count(0, 999_999, "Raster cell: row × columns + column.", 5)]]],
        prose(
            "Which raster cell (row × columns + column) each [path][position] occupies: a list, or "
            "a serpentine that starts at row 0, column 0; each path takes the next block of cells.",
            "serpentine-along-length",
        ),
    ] = "serpentine-along-length"


class CellModel(Input, kw_only=True):
    """One cell of one path at 1000 W/m² and 25 °C: single diode with Bishop's avalanche term.

    `I = IL − I0·(exp(Vd/(n·k·T/q)) − 1) − Vd/Rsh·(1 + a·(1 − Vd/Vbr)^−m)`, `V = Vd − I·Rs`
    (Bishop 1988).
    """

    photocurrent_a: Annotated[float, quantity("A", 1e-4, 100.0, "Light current IL.", 2.95)]
    saturation_current_a: Annotated[
        float, quantity("A", 1e-20, 1e-2, "Diode saturation current I0.", 4e-10)
    ]
    ideality_factor: Annotated[float, quantity("1", 0.3, 5.0, "Diode ideality n.", 1.1)]
    series_resistance_ohm: Annotated[
        float, quantity("Ω", 0.0, 10.0, "Series resistance Rs.", 0.0079)
    ]
    shunt_resistance_ohm: Annotated[float, quantity("Ω", 1e-3, 1e9, "Shunt resistance Rsh.", 10.3)]
    breakdown_voltage_v: Annotated[
        float, quantity("V", -200.0, -0.5, "Breakdown voltage Vbr, negative.", -15.0)
    ]
    breakdown_factor: Annotated[
        float, quantity("1", 0.0, 10.0, "Share of the shunt current in avalanche, a.", 0.002)
    ]
    breakdown_exponent: Annotated[float, quantity("1", 0.1, 20.0, "Avalanche exponent m.", 3.5)]


class DiodeModel(Input, kw_only=True):
    """Bypass or blocking diode: exponential with series resistance, at 25 °C."""

    saturation_current_a: Annotated[float, quantity("A", 1e-20, 1e-2, "Saturation current.", 1e-6)]
    ideality_factor: Annotated[float, quantity("1", 0.3, 5.0, "Ideality factor.", 1.05)]
    series_resistance_ohm: Annotated[float, quantity("Ω", 0.0, 10.0, "Series resistance.", 0.01)]


class PanelBody(Input, kw_only=True):
    """The panel as a thing to carry and to hold down."""

    length_m: Annotated[float, quantity("m", 0.05, 3.0, "Longer or marked side.", 1.18)]
    width_m: Annotated[float, quantity("m", 0.05, 3.0, "Other side.", 0.54)]
    thickness_m: Annotated[
        float, quantity("m", 0.0005, 0.1, "Sheet thickness, or frame height.", 0.003)
    ]
    mass_kg: Annotated[float, quantity("kg", 0.05, 100.0, "Mass.", 2.3)]
    construction: Annotated[
        BodyConstruction,
        choice("Thin sheet that bends, or glass in a frame.", "flexible"),
    ]
    cell_edge_margin_m: (
        Annotated[float, quantity("m", 0.0, 0.5, "Cell-free border on every side.", 0.02)] | None
    ) = None


class Panel(Input, kw_only=True):
    """One type of panel.

    Cells and diodes are given as `cells`, or by the name of a common `construction`; with neither,
    the engine assumes one and says so.
    """

    electrical: Annotated[PanelElectrical, prose("Nameplate.")]
    cells: Annotated[CellLayout, prose("Cells and bypass diodes.")] | None = None
    construction: (
        Annotated[
            ConstructionName,
            choice("A common construction, in place of `cells`.", "half-cell-2-diodes"),
        ]
        | None
    ) = None
    cell_model: (
        Annotated[CellModel, prose("Measured cell parameters in place of the nameplate fit.")]
        | None
    ) = None
    bypass_diode: Annotated[DiodeModel, prose("Bypass diode.")] | None = None
    body: Annotated[PanelBody, prose("Size and mass.")] | None = None


PanelName = Annotated[str, label("Name of a panel, unique within the request.", "left-front")]
PanelTypeName = Annotated[str, label("Name of a panel type, unique in the request.", "sheet-115")]


class PanelType(Input, kw_only=True):
    """One type of panel."""

    name: PanelTypeName
    panel: Annotated[Panel, prose("Nameplate, cells, diodes and, where places matter, body.")]
    price: Price | None = None
