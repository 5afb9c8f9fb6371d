"""What the array feeds, where it travels, and which rules apply: shared by several calls."""

from typing import Annotated, Literal

from .base import Input
from .panel import Mass, Price
from .quantity import choice, label, prose, quantity

ControllerKind = Literal["mppt", "pwm"]
BankVoltage = Literal[12, 24, 36, 48]
PanelBack = Literal["bonded", "spacer-sheet", "open-gap", "open-rack"]

Chemistry = Literal["lithium-iron-phosphate", "agm", "gel", "flooded-lead-acid"]
ColdCharging = Literal["unprotected", "lock-out", "heater"]
RuleSet = Literal["nec-2017", "nec-2020", "nec-2023", "iec"]

TerminalRating = Annotated[
    float, quantity("°C", 60.0, 150.0, "Temperature rating of the terminals, the lowest.", 75.0)
]

StrongestSun = Annotated[
    float,
    quantity("W/m²", 0.0, 2000.0, "Strongest sun on the panels; counts beyond 1250 W/m².", 1400.0),
]


class Controller(Input, kw_only=True):
    """Solar charge controller, figures from its data sheet."""

    name: Annotated[str, label("Name, unique within the request.", "controller-1")]
    kind: Annotated[
        ControllerKind, choice("Maximum power point tracking, or plain switching.", "mppt")
    ]
    max_input_voltage_v: Annotated[
        float, quantity("V", 5.0, 1000.0, "Input voltage never to be exceeded.", 100.0)
    ]
    max_output_current_a: Annotated[
        float, quantity("A", 0.5, 300.0, "Rated charging current.", 30.0)
    ]
    max_input_current_a: (
        Annotated[float, quantity("A", 0.5, 300.0, "Operating input current limit.", 30.0)] | None
    ) = None
    max_input_short_circuit_a: (
        Annotated[float, quantity("A", 0.5, 500.0, "Largest array short-circuit current.", 35.0)]
        | None
    ) = None
    max_input_fuse_a: (
        Annotated[
            float, quantity("A", 0.5, 1000.0, "Largest fuse towards the array, by its maker.", 50.0)
        ]
        | None
    ) = None
    max_battery_fuse_a: (
        Annotated[
            float,
            quantity("A", 0.5, 1000.0, "Largest fuse towards the battery, by its maker.", 60.0),
        ]
        | None
    ) = None
    max_array_power_w: (
        Annotated[float, quantity("W", 1.0, 20000.0, "Largest array the maker allows.", 580.0)]
        | None
    ) = None
    start_margin_v: (
        Annotated[float, quantity("V", 0.0, 50.0, "Input above battery voltage to start.", 5.0)]
        | None
    ) = None
    run_margin_v: (
        Annotated[float, quantity("V", 0.0, 50.0, "Input above battery voltage to run.", 1.0)]
        | None
    ) = None
    efficiency_fraction: (
        Annotated[float, quantity("1", 0.5, 1.0, "Conversion efficiency at rating.", 0.96)] | None
    ) = None
    terminal_temperature_c: TerminalRating | None = None
    blocks_reverse_current: Annotated[
        bool, prose("Whether the battery can never feed back into the array through it.")
    ] = True
    price: Price | None = None
    mass_kg: Mass | None = None


class Battery(Input, kw_only=True):
    """House battery bank as the controller sees it."""

    chemistry: Annotated[Chemistry, choice("Cell chemistry.", "lithium-iron-phosphate")]
    nominal_voltage_v: Annotated[BankVoltage, choice("Nominal bank voltage [V].", 12)]
    capacity_ah: Annotated[float, quantity("Ah", 1.0, 5000.0, "Rated capacity.", 200.0)]
    charge_voltage_v: (
        Annotated[float, quantity("V", 10.0, 70.0, "Highest charging voltage.", 14.4)] | None
    ) = None
    working_voltage_v: (
        Annotated[
            float,
            quantity("V", 8.0, 70.0, "Voltage through most of a charge, for power.", 13.3),
        ]
        | None
    ) = None
    max_charge_current_a: (
        Annotated[float, quantity("A", 0.5, 2000.0, "Largest charging current.", 100.0)] | None
    ) = None
    short_circuit_current_a: (
        Annotated[
            float, quantity("A", 10.0, 200000.0, "Prospective fault current at its posts.", 4000.0)
        ]
        | None
    ) = None
    no_charge_below_c: (
        Annotated[float, quantity("°C", -40.0, 20.0, "Coldest battery that may charge.", 0.0)]
        | None
    ) = None
    no_charge_above_c: (
        Annotated[float, quantity("°C", 20.0, 90.0, "Hottest battery that may charge.", 45.0)]
        | None
    ) = None
    cold_charging: (
        Annotated[
            ColdCharging,
            choice(
                "What keeps it from charge below that: nothing, a lock-out of its own or of the "
                "chargers, or a heater that warms it first; not known if absent.",
                "lock-out",
            ),
        ]
        | None
    ) = None
    above_air_k: Annotated[
        float, quantity("K", 0.0, 40.0, "How much warmer than the air it is.", 5.0)
    ] = 0.0
    kept_above_c: (
        Annotated[float, quantity("°C", -40.0, 40.0, "Heated or in a heated room.", 5.0)] | None
    ) = None
    price: Price | None = None
    mass_kg: Mass | None = None


class SiteTemperatures(Input, kw_only=True):
    """Temperatures that the build must live with."""

    lowest_ambient_c: Annotated[
        float, quantity("°C", -60.0, 40.0, "Coldest air with the sun on the panels.", -18.0)
    ]
    highest_ambient_c: Annotated[
        float, quantity("°C", -20.0, 60.0, "Hottest air with full sun.", 38.0)
    ]
    hot_cell_c: (
        Annotated[
            float,
            quantity("°C", 0.0, 130.0, "Cell temperature then; estimated if not given.", 75.0),
        ]
        | None
    ) = None


class PanelMountingHeat(Input, kw_only=True):
    """How well the panel sheds heat; used where no hot cell temperature is given."""

    back: Annotated[
        PanelBack,
        choice(
            "Bonded flat, on a spacer sheet with open ends, on feet over a gap, or on a rack.",
            "open-gap",
        ),
    ] = "open-gap"
    gap_m: (
        Annotated[float, quantity("m", 0.0, 0.5, "Air gap behind an `open-gap` panel.", 0.03)]
        | None
    ) = None
    noct_c: (
        Annotated[
            float,
            quantity("°C", 30.0, 70.0, "Nominal operating cell temperature (NOCT).", 45.0),
        ]
        | None
    ) = None
