"""`commissioning-check`: whether the meter shows what the array should give, and keeps doing so."""

from typing import Annotated, Literal

from .base import Input, Output
from .check import Answer, Verdict
from .panel import PanelType, PanelTypeName
from .place import Moment, Place
from .quantity import choice, count, label, listing, prose, quantity
from .system import ControllerKind, PanelMountingHeat

ReadingKind = Literal["open-circuit", "short-circuit", "operating"]
MeasuredQuantity = Literal["voltage", "current", "power"]
LossOutcome = Literal["not-enough-evidence", "no-loss-shown", "loss-shown"]
StepState = Literal["done", "failed", "open"]
CauseCode = Literal[
    "nothing-wrong",
    "light-changed",
    "too-little-light",
    "leads-swapped",
    "dirt",
    "hotter-cells",
    "weak-panels",
    "string-missing",
    "panel-missing",
    "panel-reversed",
    "shaded-cells",
    "cracked-cell",
    "shorted-group",
    "shade-on-string",
    "bad-contact",
    "controller-holds-back",
]

_Uncertainty = Annotated[
    float,
    quantity("1", 0.0001, 0.5, "Standard uncertainty (one sigma) as a share of the value.", 0.03),
]
_Of = Annotated[
    str, label("What was measured: `array`, or the name of a string on its own.", "array")
]


class CheckedString(Input, kw_only=True):
    """Equal panels in series."""

    name: Annotated[str, label("Name of a string, unique in the request.", "left pair")]
    panel_type: PanelTypeName
    panels_in_series: Annotated[int, count(1, 24, "Panels in series.", 2)]


class CheckedArray(Input, kw_only=True):
    """What was built: strings in parallel."""

    panel_types: Annotated[list[PanelType], listing(1, 6, "Types of panel.")]
    strings: Annotated[list[CheckedString], listing(1, 24, "Strings, all in parallel.")]
    cable_resistance_ohm: Annotated[
        float,
        quantity("Ω", 0.0, 10.0, "From the array to where it is measured, both ways.", 0.02),
    ] = 0.0
    controller_kind: (
        Annotated[
            ControllerKind,
            choice(
                "What loads it while it charges: a tracker, or a plain switch, which holds it at "
                "the battery's voltage: of an `operating` reading the current is judged there.",
                "mppt",
            ),
        ]
        | None
    ) = None


class IrradianceReading(Input, tag_field="kind", tag="irradiance-meter", kw_only=True):
    """Irradiance read beside the panels, the meter in their plane."""

    irradiance_w_m2: Annotated[
        float, quantity("W/m²", 1.0, 1500.0, "Reading in the panels' plane.", 870.0)
    ]
    after_w_m2: (
        Annotated[
            float,
            quantity(
                "W/m²",
                1.0,
                1500.0,
                "The same right after voltage and current were read: tells a thin cloud from a "
                "fault.",
                866.0,
            ),
        ]
        | None
    ) = None
    uncertainty_fraction: _Uncertainty | None = None


class ReferencePanelReading(Input, tag_field="kind", tag="reference-panel", kw_only=True):
    """A known good panel beside the array, in the same plane, shorted through the meter."""

    current_a: Annotated[float, quantity("A", 0.001, 120.0, "Its short-circuit current.", 5.4)]
    i_sc_a: Annotated[
        float, quantity("A", 0.01, 120.0, "Its short-circuit current at 1000 W/m², 25 °C.", 6.4)
    ]
    alpha_sc_fraction_per_c: (
        Annotated[float, quantity("1/K", -0.002, 0.005, "Change of Isc per kelvin.", 0.0005)] | None
    ) = None
    cell_temperature_c: (
        Annotated[float, quantity("°C", -60.0, 130.0, "Its cells; as the array's if absent.", 45.0)]
        | None
    ) = None
    after_current_a: (
        Annotated[
            float,
            quantity(
                "A", 0.001, 120.0, "The same right after voltage and current were read.", 5.38
            ),
        ]
        | None
    ) = None
    uncertainty_fraction: _Uncertainty | None = None


class ClearSkySun(Input, tag_field="kind", tag="clear-sky", kw_only=True):
    """No meter: a cloudless sky at the place and time of the reading."""

    linke_turbidity: (
        Annotated[float, quantity("1", 1.0, 10.0, "Haze; monthly climate if absent.", 3.5)] | None
    ) = None
    uncertainty_fraction: _Uncertainty | None = None


ReadingLight = IrradianceReading | ReferencePanelReading | ClearSkySun


class CommissioningSite(Input, kw_only=True):
    """Place of the readings and how the panels lie."""

    place: Annotated[Place, prose("Where the readings were taken.")]
    tilt_deg: Annotated[float, quantity("°", 0.0, 90.0, "Panels against the horizontal.", 2.0)] = (
        0.0
    )
    azimuth_deg: Annotated[
        float, quantity("°", 0.0, 360.0, "Where they look, clockwise from true north.", 180.0)
    ] = 180.0


class Reading(Input, kw_only=True):
    """One look at the meter.

    `open-circuit` needs a voltage, `short-circuit` a current, `operating` (charging, the controller
    at work) both.
    """

    name: Annotated[str, label("Name, unique in the request.", "noon, array")]
    kind: Annotated[ReadingKind, choice("State of the circuit.", "operating")]
    of: _Of = "array"
    taken_at: Moment
    voltage_v: (
        Annotated[float, quantity("V", -2000.0, 2000.0, "Voltage, red lead on plus.", 36.1)] | None
    ) = None
    current_a: Annotated[float, quantity("A", 0.0, 500.0, "Current out of plus.", 10.2)] | None = (
        None
    )
    light: Annotated[ReadingLight, prose("How strong the sun was.")]
    cell_temperature_c: (
        Annotated[float, quantity("°C", -60.0, 130.0, "Measured at a panel's back.", 48.0)] | None
    ) = None
    air_c: (
        Annotated[float, quantity("°C", -60.0, 60.0, "Air, if no cell temperature.", 22.0)] | None
    ) = None


class InsulationReading(Input, kw_only=True):
    """Resistance between a disconnected circuit and the vehicle's metal."""

    of: _Of = "array"
    test_voltage_v: Annotated[float, quantity("V", 1.0, 5000.0, "Test voltage.", 250.0)]
    resistance_ohm: Annotated[float, quantity("Ω", 0.0, 1e12, "Reading.", 2.0e7)]


class PolarityReading(Input, kw_only=True):
    """Sign of a voltage before anything is connected to it."""

    of: _Of = "array"
    voltage_v: Annotated[
        float, quantity("V", -2000.0, 2000.0, "Red lead on the wire marked plus.", 42.0)
    ]


class MeterUncertainty(Input, kw_only=True):
    """Standard uncertainty (one sigma) of the meters."""

    voltage_fraction: _Uncertainty | None = None
    current_fraction: _Uncertainty | None = None


class CommissioningCheckRequest(Input, kw_only=True):
    """The array as built, and what was read."""

    array: Annotated[CheckedArray, prose("Panels and how they are wired.")]
    mounting_heat: Annotated[PanelMountingHeat, prose("How the panels shed heat.")] = (
        PanelMountingHeat()
    )
    site: Annotated[CommissioningSite, prose("Needed for clear-sky readings.")] | None = None
    readings: Annotated[list[Reading], listing(1, 400, "Readings, in any order.")]
    polarity: Annotated[list[PolarityReading], listing(0, 50, "Polarity tests.")] = []
    insulation: Annotated[list[InsulationReading], listing(0, 50, "Insulation tests.")] = []
    meters: Annotated[MeterUncertainty, prose("The meters.")] = MeterUncertainty()
    nameplate_uncertainty_fraction: _Uncertainty | None = None


_quantity = quantity
"""The same under a name that no field of the next Struct hides."""


class QuantityResult(Output, kw_only=True):
    """One measured figure against what was expected."""

    quantity: Annotated[MeasuredQuantity, choice("What was compared.", "power")]
    unit: Annotated[str, prose("Unit of the figures.", "W")]
    measured: Annotated[float, _quantity("see unit", -1e6, 1e6, "Reading.", 341.0)]
    expected: Annotated[float, _quantity("see unit", 0.0, 1e6, "Of a faultless array.", 362.0)]
    uncertainty: Annotated[
        float, _quantity("see unit", 0.0, 1e6, "Expanded (k = 2) of the comparison.", 27.0)
    ]
    least: Annotated[float, _quantity("see unit", 0.0, 1e6, "Least that counts as normal.", 344.0)]
    of_expected_fraction: Annotated[
        float, _quantity("1", -1e6, 1e6, "Measured as a share of expected.", 0.94)
    ]
    verdict: Annotated[Verdict, choice("Outcome.", "pass")]


class UncertaintyPart(Output, kw_only=True):
    """One contribution to the uncertainty of a reading's last quantity."""

    source: Annotated[str, prose("Where it comes from.", "irradiance")]
    standard_fraction: Annotated[
        float, quantity("1", 0.0, 1e3, "One sigma as a share of the expected value.", 0.03)
    ]


class ReadingResult(Output, kw_only=True):
    """One reading judged."""

    name: Annotated[str, prose("Name of the reading.", "noon, array")]
    kind: Annotated[ReadingKind, choice("State of the circuit.", "operating")]
    of: Annotated[str, prose("What was measured.", "array")]
    verdict: Annotated[Verdict, choice("Outcome of the figure that decides, the last.", "pass")]
    irradiance_w_m2: Annotated[float, quantity("W/m²", 0.0, 2000.0, "Light reckoned with.", 870.0)]
    cell_temperature_c: Annotated[float, quantity("°C", -60.0, 200.0, "Cells reckoned with.", 48.0)]
    quantities: Annotated[list[QuantityResult], listing(1, 3, "Figures compared.")]
    uncertainty_parts: Annotated[
        list[UncertaintyPart], listing(1, 8, "What makes up the uncertainty, largest first.")
    ]


class Cause(Output, kw_only=True):
    """A possible cause, and the test that tells it from the others."""

    code: Annotated[CauseCode, choice("Cause.", "string-missing")]
    title: Annotated[str, prose("The same in words.", "One string gives nothing")]
    share_fraction: Annotated[
        float,
        quantity("1", 0.0, 1.0, "Probability among the causes listed, given the readings.", 0.86),
    ]
    explains: Annotated[str, prose("What it would make of the array.", "1 of 2 strings is open")]
    test: Annotated[str, prose("What to do to tell it from the others.")]


class Possible(Output, kw_only=True):
    """A fault that the readings do not exclude."""

    code: Annotated[CauseCode, choice("Cause.", "dirt")]
    title: Annotated[str, prose("The same in words.", "Dirt or an even film on the panels")]
    at_most: Annotated[
        str, prose("The worst of it that the readings allow.", "6 % of the light held back")
    ]


class NextReading(Output, kw_only=True):
    """The reading that tells most about what is wrong."""

    kind: Annotated[ReadingKind, choice("State of the circuit.", "operating")]
    of: Annotated[str, prose("What to measure.", "left pair")]
    quantity: Annotated[MeasuredQuantity, choice("What to read.", "current")]
    doubt_removed_fraction: Annotated[
        float,
        _quantity(
            "1", 0.0, 1.0, "Expected share of the doubt about the cause that it removes.", 0.6
        ),
    ]
    tells: Annotated[str, prose("What it decides, in words.")]


class Diagnosis(Output, kw_only=True):
    """What all readings of one day, taken together, say about the array."""

    day: Annotated[str, prose("Date of the readings.", "2027-05-18")]
    readings: Annotated[list[str], listing(1, 400, "Readings used.")]
    verdict: Annotated[Verdict, choice("Outcome for the array.", "fail")]
    explained: Annotated[
        bool, prose("Whether any of the causes agrees with the readings within their uncertainty.")
    ]
    causes: Annotated[list[Cause], listing(1, 20, "Likeliest first.")]
    still_possible: Annotated[
        list[Possible], listing(0, 20, "Faults that the readings do not exclude, likeliest first.")
    ]
    next_reading: Annotated[NextReading, prose("What to measure next.")] | None = None


class FollowUp(Output, kw_only=True):
    """Whether the array loses power over the years, from dated readings of one kind."""

    of: Annotated[str, prose("What was measured.", "array")]
    kind: Annotated[ReadingKind, choice("State of the circuit.", "operating")]
    readings: Annotated[int, count(2, 400, "Readings used.", 14)]
    span_years: Annotated[float, quantity("a", 0.0, 200.0, "From first to last.", 2.1)]
    outcome: Annotated[LossOutcome, choice("What the readings show.", "no-loss-shown")]
    yearly_loss_fraction: Annotated[
        float, quantity("1/a", -1e9, 1e9, "Robust slope as a share of the first value.", 0.007)
    ]
    low_fraction: Annotated[
        float, quantity("1/a", -1e9, 1e9, "Lower end of its 95 % interval.", 0.002)
    ]
    high_fraction: Annotated[
        float, quantity("1/a", -1e9, 1e9, "Upper end of its 95 % interval.", 0.012)
    ]
    scatter_fraction: Annotated[
        float, quantity("1", 0.0, 1e3, "Median distance of the readings from the line.", 0.01)
    ]
    why: Annotated[str, prose("Reason for the outcome, and what would settle it.")]


class ChecklistStep(Output, kw_only=True):
    """One step of the acceptance test."""

    number: Annotated[int, count(1, 50, "Order.", 2)]
    title: Annotated[str, prose("What to do.", "Polarity of every string")]
    how: Annotated[str, prose("How, with the figures of this array.")]
    state: Annotated[StepState, choice("Whether this request shows it done.", "done")]


class CommissioningCheckAnswer(Answer, kw_only=True):
    """Every reading judged, causes of shortfalls, and the trend."""

    summary: Annotated[
        list[Annotated[str, prose("One sentence.")]], listing(1, 20, "The answer in plain words.")
    ]
    readings: Annotated[list[ReadingResult], listing(1, 400, "In the request's order.")]
    diagnoses: Annotated[list[Diagnosis], listing(0, 100, "One a day, the latest ten days.")]
    follow_up: Annotated[list[FollowUp], listing(0, 75, "Only where readings span months.")]
    checklist: Annotated[list[ChecklistStep], listing(1, 50, "Acceptance test, in order.")]
