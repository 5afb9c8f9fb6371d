"""Panels in series and parallel: voltages in frost and heat, and what a controller takes."""

from typing import Annotated

from sunhitch.types.base import Input
from sunhitch.types.check import Verdict
from sunhitch.types.quantity import choice, count, quantity
from sunhitch.types.system import ControllerKind, PanelBack, RuleSet

from .texts import FlatAnswer, Remedy, WarnedAnswer

VoltsAtStc = Annotated[
    float, quantity("V", 0.1, 600.0, "Open-circuit voltage of a panel, nameplate.", 22.9)
]
VmpAtStc = Annotated[
    float, quantity("V", 0.1, 500.0, "Panel voltage at maximum power, nameplate.", 19.2)
]
Beta = Annotated[float, quantity("1/K", -0.01, 0.0, "Change of Voc per kelvin, negative.", -0.0028)]
Gamma = Annotated[
    float, quantity("1/K", -0.015, 0.0, "Change of Pmp per kelvin, negative.", -0.0037)
]
Alpha = Annotated[float, quantity("1/K", -0.002, 0.005, "Change of Isc per kelvin.", 0.0005)]
Coldest = Annotated[
    float, quantity("°C", -60.0, 40.0, "Coldest air with the sun on the panels.", -18.0)
]
HotCell = Annotated[float, quantity("°C", 0.0, 130.0, "Cells at noon on the hottest day.", 70.0)]
InputLimit = Annotated[
    float, quantity("V", 5.0, 1000.0, "Input voltage that the controller must never see.", 100.0)
]
RunMargin = Annotated[
    float, quantity("V", 0.0, 50.0, "Input above the battery's voltage for charging.", 1.0)
]
ChargeVoltage = Annotated[
    float, quantity("V", 10.0, 70.0, "Highest charging voltage of the battery.", 14.4)
]
SeriesCount = Annotated[int, count(1, 60, "Equal panels in series.", 2)]
_Volts = Annotated[float, quantity("V", -1e5, 1e5, "Voltage of the string.", 51.4)]
_PanelVolts = Annotated[float, quantity("V", -1e4, 1e4, "Voltage of one panel.", 25.7)]


class ColdVocQuestion(Input, kw_only=True):
    """Open-circuit voltage of a string in the cold."""

    v_oc_v: VoltsAtStc
    lowest_ambient_c: Coldest
    beta_voc_fraction_per_c: Beta | None = None
    panels_in_series: SeriesCount | None = None
    max_input_voltage_v: InputLimit | None = None


class QuickColdVoc(WarnedAnswer):
    """Open-circuit voltage of a string in the cold."""

    string_v_oc_v: _Volts
    panel_v_oc_v: _PanelVolts
    verdict: Annotated[
        Verdict, choice("Against the controller's input; not assessed without one.", "pass")
    ]
    remedy: Remedy


class HotVmpQuestion(Input, kw_only=True):
    """Voltage of a string at maximum power in the heat."""

    v_mp_v: VmpAtStc
    hot_cell_c: HotCell
    gamma_pmp_fraction_per_c: Gamma | None = None
    alpha_sc_fraction_per_c: Alpha | None = None
    panels_in_series: SeriesCount | None = None
    charge_voltage_v: ChargeVoltage | None = None
    working_voltage_v: (
        Annotated[
            float,
            quantity(
                "V",
                10.0,
                70.0,
                "Usual voltage of the battery while it charges; the highest if absent.",
                13.3,
            ),
        ]
        | None
    ) = None
    run_margin_v: RunMargin | None = None


class QuickHotVmp(FlatAnswer):
    """Voltage of a string at maximum power in the heat."""

    string_v_mp_v: _Volts
    panel_v_mp_v: _PanelVolts
    coefficient_fraction_per_c: Annotated[
        float, quantity("1/K", -0.1, 0.1, "Change of Vmp per kelvin.", -0.0042)
    ]
    verdict: Annotated[
        Verdict, choice("Against the battery; not assessed without its voltage.", "pass")
    ]
    remedy: Remedy


class StringCountQuestion(Input, kw_only=True):
    """How many equal panels a controller takes in series."""

    v_oc_v: VoltsAtStc
    v_mp_v: VmpAtStc
    lowest_ambient_c: Coldest
    hot_cell_c: HotCell
    max_input_voltage_v: InputLimit
    charge_voltage_v: ChargeVoltage | None = None
    run_margin_v: RunMargin | None = None
    beta_voc_fraction_per_c: Beta | None = None
    gamma_pmp_fraction_per_c: Gamma | None = None
    alpha_sc_fraction_per_c: Alpha | None = None


class QuickStringCount(WarnedAnswer):
    """How many equal panels a controller takes in series."""

    largest: Annotated[int, count(0, 100_000, "Most in series that the cold allows.", 3)]
    smallest: Annotated[
        int, count(0, 100_000, "Fewest in series that still charge in the heat.", 1)
    ]
    largest_v_oc_v: Annotated[
        float, quantity("V", 0.0, 1e5, "Cold Voc of the largest number.", 76.9)
    ]
    smallest_v_mp_v: Annotated[
        float, quantity("V", 0.0, 1e5, "Hot Vmp of the smallest number.", 15.7)
    ]
    verdict: Annotated[Verdict, choice("`fail` if no number does both.", "pass")]
    remedy: Remedy


class CellTemperatureQuestion(Input, kw_only=True):
    """Temperature of cells in the sun."""

    ambient_c: Annotated[float, quantity("°C", -60.0, 60.0, "Air.", 38.0)]
    mounting_heat: (
        Annotated[
            PanelBack,
            choice(
                "Bonded flat, on a spacer sheet with open ends, on feet over a gap, or on a rack.",
                "open-gap",
            ),
        ]
        | None
    ) = None
    gap_m: (
        Annotated[float, quantity("m", 0.0, 0.5, "Air gap behind an `open-gap` panel.", 0.03)]
        | None
    ) = None
    noct_c: (
        Annotated[
            float, quantity("°C", 30.0, 70.0, "Nominal operating cell temperature (NOCT).", 45.0)
        ]
        | None
    ) = None
    irradiance_w_m2: (
        Annotated[float, quantity("W/m²", 1.0, 1500.0, "Light in the panel's plane.", 1000.0)]
        | None
    ) = None


class QuickCellTemperature(WarnedAnswer):
    """Temperature of cells in the sun."""

    cell_c: Annotated[float, quantity("°C", -60.0, 200.0, "Cells in calm air.", 76.0)]
    above_air_k: Annotated[float, quantity("K", 0.0, 200.0, "Above the air.", 38.0)]


class ControllerCurrentQuestion(Input, kw_only=True):
    """Whether a charge controller passes on all that its array gives, and bears it."""

    p_mp_w: Annotated[float, quantity("W", 0.1, 2000.0, "Maximum power of a panel.", 115.0)]
    i_sc_a: Annotated[float, quantity("A", 0.01, 120.0, "Short-circuit current of a panel.", 6.4)]
    controller_output_a: Annotated[
        float, quantity("A", 0.5, 500.0, "Rated output current of the charge controller.", 30.0)
    ]
    working_voltage_v: Annotated[
        float, quantity("V", 8.0, 70.0, "Battery through most of a charge.", 13.3)
    ]
    panels_in_series: Annotated[int, count(1, 60, "Panels in a string.", 2)] | None = None
    strings_in_parallel: Annotated[int, count(1, 60, "Strings in parallel.", 2)] | None = None
    max_input_short_circuit_a: (
        Annotated[float, quantity("A", 0.5, 500.0, "Short circuit that its input bears.", 35.0)]
        | None
    ) = None
    efficiency_fraction: (
        Annotated[float, quantity("1", 0.5, 1.0, "Conversion efficiency at rating.", 0.96)] | None
    ) = None
    controller_kind: (
        Annotated[
            ControllerKind,
            choice("A tracker, or a plain switch, which passes on all current.", "mppt"),
        ]
        | None
    ) = None
    rules: Annotated[RuleSet, choice("Rule set.", "nec-2023")] | None = None


class QuickControllerCurrent(WarnedAnswer):
    """Whether a charge controller passes on all that its array gives, and bears it."""

    wanted_a: Annotated[float, quantity("A", 0.0, 1e6, "Output that would pass on all.", 33.2)]
    array_w: Annotated[float, quantity("W", 0.0, 1e7, "Nameplate power of the array.", 460.0)]
    lost_w: Annotated[float, quantity("W", 0.0, 1e7, "Power cut off in full sun.", 43.0)]
    strong_sun_a: Annotated[
        float, quantity("A", 0.0, 1e5, "Short-circuit current in strong sun.", 16.0)
    ]
    verdict: Annotated[
        Verdict, choice("Worst of output and short circuit; a large array is `review`.", "review")
    ]
    remedy: Remedy
