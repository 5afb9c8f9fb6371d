"""Power of panels with some cells in shade."""

from typing import Annotated

from sunhitch.types.base import Input
from sunhitch.types.check import Verdict
from sunhitch.types.panel import CellMaterial, ConstructionName
from sunhitch.types.quantity import choice, count, prose, quantity
from sunhitch.types.system import RuleSet

from .arrays import Alpha, Beta, Gamma
from .texts import Remedy, WarnedAnswer


class ShadedPowerQuestion(Input, kw_only=True):
    """Power of equal panels with some cells of some of them in shade."""

    p_mp_w: Annotated[float, quantity("W", 0.1, 2000.0, "Maximum power, nameplate.", 115.0)]
    v_mp_v: Annotated[
        float, quantity("V", 0.1, 500.0, "Voltage at maximum power, nameplate.", 19.2)
    ]
    i_mp_a: Annotated[
        float, quantity("A", 0.01, 100.0, "Current at maximum power, nameplate.", 5.99)
    ]
    v_oc_v: Annotated[float, quantity("V", 0.1, 600.0, "Open-circuit voltage, nameplate.", 22.9)]
    i_sc_a: Annotated[float, quantity("A", 0.01, 120.0, "Short-circuit current, nameplate.", 6.4)]
    cells_in_series: Annotated[
        int, count(1, 200, "Cells in series between the terminals (36 for 72 half cells).", 36)
    ]
    cell_material: CellMaterial = "silicon"
    shaded_cells: Annotated[int, count(0, 400, "Cells in shade on each shaded panel.", 7)]
    construction: (
        Annotated[
            ConstructionName,
            choice("How cells and bypass diodes are arranged.", "half-cell-2-diodes"),
        ]
        | None
    ) = None
    light_fraction: (
        Annotated[float, quantity("1", 0.0, 1.0, "Share of the light that shaded cells get.", 0.15)]
        | None
    ) = None
    shaded_groups: (
        Annotated[
            int, count(1, 100, "Bypass groups of a panel that the shade reaches; any if absent.", 1)
        ]
        | None
    ) = None
    shaded_panels: Annotated[int, count(1, 40, "Panels shaded like this.", 1)] | None = None
    panels_in_series: Annotated[int, count(1, 20, "Panels in a string.", 1)] | None = None
    strings_in_parallel: Annotated[int, count(1, 20, "Strings in parallel.", 1)] | None = None
    irradiance_w_m2: (
        Annotated[float, quantity("W/m²", 1.0, 1500.0, "Light on cells in the sun.", 1000.0)] | None
    ) = None
    cell_c: Annotated[float, quantity("°C", -60.0, 130.0, "Cells.", 25.0)] | None = None
    alpha_sc_fraction_per_c: Alpha | None = None
    beta_voc_fraction_per_c: Beta | None = None
    gamma_pmp_fraction_per_c: Gamma | None = None
    max_series_fuse_a: (
        Annotated[float, quantity("A", 0.1, 200.0, "Largest series fuse the maker allows.", 15.0)]
        | None
    ) = None
    max_system_voltage_v: (
        Annotated[float, quantity("V", 1.0, 2000.0, "Largest system voltage.", 600.0)] | None
    ) = None
    rules: Annotated[RuleSet, choice("Rule set.", "nec-2023")] | None = None


class QuickShadedPower(WarnedAnswer):
    """Power of equal panels with some cells of some of them in shade."""

    power_w: Annotated[
        float, quantity("W", 0.0, 1e6, "Power with the worst shading pattern.", 20.5)
    ]
    best_power_w: Annotated[
        float, quantity("W", 0.0, 1e6, "Power with the kindest shading pattern.", 66.0)
    ]
    pattern: Annotated[
        str, prose("The worst shading pattern.", "2 of 2 bypass groups of a shaded panel.")
    ]
    best_pattern: Annotated[
        str, prose("The kindest shading pattern.", "1 of 2 bypass groups of a shaded panel.")
    ]
    unshaded_w: Annotated[float, quantity("W", 0.0, 1e6, "The same without shade.", 115.0)]
    lost_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Share of the power that is lost at worst.", 0.82)
    ]
    tracker_w: Annotated[
        float,
        quantity("W", 0.0, 1e6, "Least that a simple tracker finds from open circuit down.", 20.5),
    ]
    voltage_v: Annotated[float, quantity("V", 0.0, 1e5, "Array voltage at `power_w`.", 18.9)]
    current_a: Annotated[float, quantity("A", 0.0, 1e4, "Array current at `power_w`.", 4.0)]
    conducting_diodes: Annotated[int, count(0, 100_000, "Bypass diodes that then conduct.", 1)]
    hottest_cell_w: Annotated[
        float,
        quantity("W", -1e4, 1e4, "Largest heat by current in a cell, whatever the pattern.", 8.2),
    ]
    verdict: Annotated[Verdict, choice("Worst of all rules.", "pass")]
    remedy: Remedy
