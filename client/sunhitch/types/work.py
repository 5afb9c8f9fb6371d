"""The work: what the caller says about it, and its steps."""

from typing import Annotated, Literal

from .base import Input, Output
from .basis import Parameters
from .parts import PartKey
from .place import Moment
from .quantity import choice, count, label, listing, prose, quantity

OldRoof = Literal["glued-panels", "adhesive", "holes"]
MeterQuantity = Literal[
    "open-circuit-voltage",
    "short-circuit-current",
    "half-covered-current",
    "half-covered-power",
    "half-covered-voltage",
    "charging-power",
    "insulation-resistance",
    "bond-resistance",
    "nut-torque",
]
Each = Literal["job", "panel", "foot", "fastener", "cable", "device", "string", "gland", "charger"]

_Hours = Annotated[float, quantity("h", 0.0, 1000.0, "Hours of one person.", 1.5)]
_Money = Annotated[float, quantity("see currency", 0.0, 1e7, "In the caller's currency.", 96.0)]
# Named, since the field `quantity` hides the function of that name from type checkers.
_Expected = Annotated[float, quantity("see unit", 0.0, 1e9, "Reading.", 21.4)]
_Low = Annotated[float, quantity("see unit", 0.0, 1e9, "Least that is sound.", 20.1)]
_High = Annotated[float, quantity("see unit", 0.0, 1e9, "Most that is sound.", 22.0)]


class PartPrice(Input, kw_only=True):
    """What one piece or metre of a part costs."""

    key: PartKey
    price: _Money


class StockedPart(Input, kw_only=True):
    """Pieces of a part that lie in stock, beyond those that `parts` of the job tells."""

    key: PartKey
    amount: (
        Annotated[
            float, quantity("see unit", 0.0, 1e6, "How much; all that is needed if not given.", 4.0)
        ]
        | None
    ) = None


class StepTime(Input, kw_only=True):
    """The caller's own time for a step, in place of the usual one."""

    step: Annotated[str, label("Code of the step.", "run-cables")]
    hours: _Hours


class WorkConditions(Input, kw_only=True):
    """Light of the bench test, age of the roof, rates and prices."""

    bench_irradiance_w_m2: (
        Annotated[
            float, quantity("W/m²", 100.0, 1400.0, "Light on the panels on the bench.", 800.0)
        ]
        | None
    ) = None
    bench_cell_c: (
        Annotated[float, quantity("°C", -30.0, 90.0, "Their cells on the bench.", 45.0)] | None
    ) = None
    bonded_at: Moment | None = None
    """When the last bond is made."""
    old_roof: Annotated[
        list[Annotated[OldRoof, choice("What an earlier build left.", "holes")]],
        listing(0, 3, "What an earlier build left on the roof."),
    ] = []
    labour_per_hour: _Money | None = None
    currency: Annotated[str, label("Code to ISO 4217, told beside amounts.", "EUR", 8)] = "EUR"
    prices: Annotated[
        list[PartPrice],
        listing(0, 500, "By key of the parts list; before those of panel types and controllers."),
    ] = []
    stock: Annotated[
        list[StockedPart],
        listing(0, 500, "Used first, and not bought; parts of other jobs do no harm."),
    ] = []
    times: Annotated[list[StepTime], listing(0, 60, "Own times.")] = []


class StepReading(Output, kw_only=True, omit_defaults=True):
    """What an instrument should read in a step; to be noted beside it."""

    subject: Annotated[str, prose("Panel type, string, controller or joint.", "sheet-115")]
    quantity: Annotated[MeterQuantity, choice("What is measured.", "open-circuit-voltage")]
    unit: Annotated[str, prose("Its unit.", "V")]
    expected: _Expected | None = None
    low: _Low | None = None
    high: _High | None = None


class WorkStep(Output, kw_only=True, omit_defaults=True):
    """One step of the work, in order; lists that are empty are absent."""

    number: Annotated[int, count(1, 200, "Order.", 7)]
    code: Annotated[str, prose("Stable kebab-case code of the step.", "connect-battery")]
    parameters: Parameters
    title: Annotated[str, prose("What to do.", "Connect the battery to the controller")]
    text: Annotated[str, prose("How, with the figures of this build.")]
    hold_until: Annotated[
        str, prose("What must be true before going on; empty if nothing.", "Adhesive has cured")
    ]
    cautions: Annotated[
        list[Annotated[str, prose("Code of a caution of the answer.", "lit-panel")]],
        listing(0, 10, "Dangers of this step."),
    ]
    subjects: Annotated[
        list[Annotated[str, prose("Panel, line, device or gland.", "front-left")]],
        listing(0, 200, "What it works on, in the order of work; empty for the whole job."),
    ] = []
    views: Annotated[
        list[Annotated[str, prose("Name of a picture.", "roof-plan")]],
        listing(0, 4, "Pictures of the answer that show it."),
    ] = []
    readings: Annotated[list[StepReading], listing(0, 200, "What to measure.")] = []
    tools: Annotated[
        list[Annotated[str, prose("Tool.", "torque wrench")]], listing(0, 20, "Tools.")
    ] = []
    part_keys: Annotated[list[PartKey], listing(0, 200, "What it takes off the parts list.")] = []
    hours: _Hours
    waiting_hours: Annotated[
        float, quantity("h", 0.0, 1e8, "Rest that nobody works on, after it.", 95.0)
    ] = 0.0


class WorkCost(Output, kw_only=True):
    """Hours and money of the whole job."""

    hours: _Hours
    waiting_hours: Annotated[float, quantity("h", 0.0, 1e8, "Rests in all.", 95.0)]
    currency: Annotated[str, prose("Of the amounts.", "EUR")]
    labour: Annotated[_Money | None, prose("None without a rate.")]
    parts: Annotated[_Money | None, prose("Of parts with a price; none where none has one.")]
    total: Annotated[_Money | None, prose("None while a rate or a price is missing.")]
    without_price: Annotated[
        list[PartKey], listing(0, 300, "Parts that have none, where others have one.")
    ]
