"""What stands on the sheet: figures to fill in, questions, and where each answer's parameters are.

The two formats differ only in how a formula is spelled, so the sheet is described once.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import get_args

from sunhitch.types.mount import AdhesiveKind, SurfaceKind
from sunhitch.types.panel import ConstructionName
from sunhitch.types.wiring import WiringRules

Shown = str | float


@dataclass(frozen=True, slots=True)
class Heading:
    """Title of a block of rows."""

    text: str


@dataclass(frozen=True, slots=True)
class EntryCell:
    """A figure that the user fills in.

    Parameters
    ----------
    key : str
        Name within this module.
    label : str
        As written on the sheet.
    value : str or float
        Figure of the invented example: a mobile library van.
    unit : str
        Unit symbol; empty for words and counts.
    customary : str
        US customary unit to show beside it, as `CONVERT` calls it.
    words : sequence of str
        Choices, where it is one of them.
    """

    key: str
    label: str
    value: Shown
    unit: str = ""
    customary: str = ""
    words: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class Product:
    """A figure that the sheet multiplies itself."""

    key: str
    label: str
    factors: tuple[str, str]
    unit: str


@dataclass(frozen=True, slots=True)
class Reply:
    """An answer of the service.

    Parameters
    ----------
    key : str
        Name within this module.
    label : str
        As written on the sheet.
    question, field : str
        Which question, and which field of its answer.
    given : mapping
        Key of a figure by parameter.
    unit : str
        Unit symbol; empty for words and counts.
    customary : str
        US customary unit to show beside it, as `CONVERT` calls it.
    words : bool
        Whether it is text rather than a number.
    fixed : str
        Further parameters that are the same for everyone, each after an ampersand.
    """

    key: str
    label: str
    question: str
    field: str
    given: Mapping[str, str]
    unit: str = ""
    customary: str = ""
    words: bool = False
    fixed: str = ""


Row = Heading | EntryCell | Product | Reply

ADDRESS = "service"
CONVERTED = {"m": "m", "°C": "C", "m/s": "m/s", "kg": "kg", "N": "N"}
"""Name that `CONVERT` has for a unit of the contract."""
CUSTOMARY = {"ft": "ft", "in": "in", "F": "°F", "mph": "mph", "lbm": "lb", "lbf": "lbf"}
"""Symbol of a customary unit by its name in `CONVERT`."""


def _same(*names: str) -> dict[str, str]:
    return {name: name for name in names}


_COLD = _same("v_oc_v", "beta_voc_fraction_per_c", "lowest_ambient_c", "panels_in_series") | {
    "max_input_voltage_v": "max_input_voltage_v"
}
_HOT = _same(
    "v_mp_v",
    "gamma_pmp_fraction_per_c",
    "alpha_sc_fraction_per_c",
    "hot_cell_c",
    "panels_in_series",
    "charge_voltage_v",
)
_COUNT = {name: name for name in (*_COLD, *_HOT) if name != "panels_in_series"}
_SHADE = _same(
    "p_mp_w",
    "v_mp_v",
    "i_mp_a",
    "v_oc_v",
    "i_sc_a",
    "cells_in_series",
    "construction",
    "shaded_cells",
    "panels_in_series",
    "strings_in_parallel",
)
_PV_WIRE = _same("i_sc_a", "strings_in_parallel", "max_series_fuse_a", "rules") | {
    "voltage_v": "string_v",
    "length_m": "pv_length_m",
}
_BATTERY_WIRE = _same("controller_output_a", "rules") | {
    "voltage_v": "battery_v",
    "length_m": "battery_length_m",
}
_STRING_FUSE = _same("i_sc_a", "strings_in_parallel", "max_series_fuse_a")
_BATTERY_FUSE = _same("fault_current_a", "rules") | {
    "current_a": "controller_output_a",
    "max_voltage_v": "charge_voltage_v",
}
_FEET = _same("mass_kg", "rows", "columns", "speed_m_s", "gust_m_s") | {
    "length_m": "panel_length_m",
    "width_m": "panel_width_m",
}
_GUST = "&duration=gust"
_BOND = _same("adhesive", "surface", "prepared", "bond_c") | {
    "pad_length_m": "pad_m",
    "pad_width_m": "pad_m",
    "load_n": "foot_n",
}

_NOW = _same("v_mp_v", "i_mp_a", "v_oc_v", "i_sc_a", "cells_in_series", "irradiance_w_m2", "cell_c")
_METER = _NOW | _same(
    "panels_in_series",
    "strings_in_parallel",
    "alpha_sc_fraction_per_c",
    "beta_voc_fraction_per_c",
    "gamma_pmp_fraction_per_c",
)
_COVER = _NOW | _same("construction")

ROWS: tuple[Row, ...] = (
    Heading("Service"),
    EntryCell(ADDRESS, "Address", "http://127.0.0.1:8000"),
    EntryCell(
        "rules",
        "Wiring rules",
        "nec-2023",
        words=get_args(WiringRules),
    ),
    Heading("Panel, from its label"),
    EntryCell("p_mp_w", "Maximum power", 115.0, "W"),
    EntryCell("v_mp_v", "Voltage at maximum power", 19.2, "V"),
    EntryCell("i_mp_a", "Current at maximum power", 5.99, "A"),
    EntryCell("v_oc_v", "Open-circuit voltage", 22.9, "V"),
    EntryCell("i_sc_a", "Short-circuit current", 6.4, "A"),
    EntryCell("cells_in_series", "Cells in series (36 for 72 half cells)", 36.0),
    EntryCell(
        "construction",
        "Cells and bypass diodes",
        "half-cell-2-diodes",
        words=get_args(ConstructionName),
    ),
    EntryCell("alpha_sc_fraction_per_c", "Change of current per kelvin", 0.0005, "1/K"),
    EntryCell(
        "beta_voc_fraction_per_c", "Change of open-circuit voltage per kelvin", -0.0028, "1/K"
    ),
    EntryCell("gamma_pmp_fraction_per_c", "Change of power per kelvin", -0.0037, "1/K"),
    EntryCell("max_series_fuse_a", "Largest series fuse", 15.0, "A"),
    EntryCell("panel_length_m", "Length", 1.18, "m", "ft"),
    EntryCell("panel_width_m", "Width", 0.54, "m", "ft"),
    EntryCell("mass_kg", "Mass", 2.3, "kg", "lbm"),
    Heading("Array, controller and battery"),
    EntryCell("panels_in_series", "Panels in a string", 2.0),
    EntryCell("strings_in_parallel", "Strings in parallel", 2.0),
    EntryCell("max_input_voltage_v", "Controller: largest input voltage", 100.0, "V"),
    EntryCell("controller_output_a", "Controller: rated output current", 30.0, "A"),
    EntryCell("battery_v", "Battery: nominal voltage", 12.0, "V"),
    EntryCell("charge_voltage_v", "Battery: highest charging voltage", 14.4, "V"),
    EntryCell("fault_current_a", "Battery: short-circuit current", 4000.0, "A"),
    Product("string_v", "Nominal voltage of a string", ("v_mp_v", "panels_in_series"), "V"),
    Heading("Places and ways"),
    EntryCell("lowest_ambient_c", "Coldest air", -18.0, "°C", "F"),
    EntryCell("ambient_c", "Hottest air", 38.0, "°C", "F"),
    EntryCell(
        "mounting_heat",
        "Back of the panel",
        "open-gap",
        words=("bonded", "spacer-sheet", "open-gap", "open-rack"),
    ),
    EntryCell("pv_length_m", "Cable from panels to controller, one way", 4.5, "m", "ft"),
    EntryCell("battery_length_m", "Cable from controller to battery, one way", 1.2, "m", "ft"),
    EntryCell("shaded_cells", "Cells in the shadow of the roof hatch", 5.0),
    Heading("Feet"),
    EntryCell("rows", "Rows of feet along a panel, ends included", 3.0),
    EntryCell("columns", "Feet in a row", 2.0),
    EntryCell("pad_m", "Side of a square pad", 0.12, "m", "in"),
    EntryCell(
        "adhesive",
        "Adhesive",
        "one-part-polyurethane",
        words=get_args(AdhesiveKind),
    ),
    EntryCell("bead_width_m", "Width of its beads", 0.012, "m", "in"),
    EntryCell(
        "surface",
        "Roof",
        "painted-metal",
        words=get_args(SurfaceKind),
    ),
    EntryCell("prepared", "Abraded, cleaned and primed", "yes", words=("yes", "no")),
    EntryCell("bond_c", "Bond line while driving", 60.0, "°C", "F"),
    EntryCell("speed_m_s", "Road speed", 25.0, "m/s", "mph"),
    EntryCell("gust_m_s", "Headwind gust", 10.0, "m/s", "mph"),
    Heading("On the day of the readings"),
    EntryCell("irradiance_w_m2", "Light in the panels' plane", 870.0, "W/m²"),
    EntryCell("cell_c", "Back of a panel, measured", 48.0, "°C", "F"),
    Heading("Voltages"),
    Reply("cold_v", "Cold open-circuit voltage", "cold-voc", "string_v_oc_v", _COLD, "V"),
    Reply("cold_verdict", "Verdict", "cold-voc", "verdict", _COLD, words=True),
    Reply("cold_remedy", "What to change", "cold-voc", "remedy", _COLD, words=True),
    Reply(
        "hot_cell_c",
        "Hot cells",
        "cell-temperature",
        "cell_c",
        _same("ambient_c", "mounting_heat"),
        "°C",
        "F",
    ),
    Reply("hot_v", "Hot voltage at maximum power", "hot-vmp", "string_v_mp_v", _HOT, "V"),
    Reply("hot_verdict", "Verdict", "hot-vmp", "verdict", _HOT, words=True),
    Reply("hot_remedy", "What to change", "hot-vmp", "remedy", _HOT, words=True),
    Reply("fewest", "Fewest panels in series", "string-count", "smallest", _COUNT),
    Reply("most", "Most panels in series", "string-count", "largest", _COUNT),
    Heading("Power with the shaded cells"),
    Reply("shaded_w", "In full sun, worst spread", "shaded-power", "power_w", _SHADE, "W"),
    Reply("best_w", "In full sun, kindest spread", "shaded-power", "best_power_w", _SHADE, "W"),
    Reply("unshaded_w", "Without the shadow", "shaded-power", "unshaded_w", _SHADE, "W"),
    Reply("tracker_w", "What a simple tracker finds", "shaded-power", "tracker_w", _SHADE, "W"),
    Heading("Cables and fuses"),
    Reply("pv_size", "Panels to controller", "wire-size", "size", _PV_WIRE, words=True),
    Reply("pv_drop_v", "Drop", "wire-size", "drop_v", _PV_WIRE, "V"),
    Reply("pv_verdict", "Verdict", "wire-size", "verdict", _PV_WIRE, words=True),
    Reply("pv_remedy", "What to change", "wire-size", "remedy", _PV_WIRE, words=True),
    Reply("battery_size", "Controller to battery", "wire-size", "size", _BATTERY_WIRE, words=True),
    Reply("battery_drop_v", "Drop", "wire-size", "drop_v", _BATTERY_WIRE, "V"),
    Reply("battery_verdict", "Verdict", "wire-size", "verdict", _BATTERY_WIRE, words=True),
    Reply("battery_remedy", "What to change", "wire-size", "remedy", _BATTERY_WIRE, words=True),
    Reply("string_fuse", "String fuses needed", "string-fuse", "needed", _STRING_FUSE, words=True),
    Reply("string_verdict", "Verdict", "string-fuse", "verdict", _STRING_FUSE, words=True),
    Reply("battery_fuse", "Battery fuse", "battery-fuse", "title", _BATTERY_FUSE, words=True),
    Reply("battery_fuse_a", "Rating", "battery-fuse", "fuse_a", _BATTERY_FUSE, "A"),
    Reply("within_m", "Within", "battery-fuse", "within_m", _BATTERY_FUSE, "m", "in"),
    Reply("fuse_verdict", "Verdict", "battery-fuse", "verdict", _BATTERY_FUSE, words=True),
    Reply("fuse_remedy", "What to change", "battery-fuse", "remedy", _BATTERY_FUSE, words=True),
    Heading("Feet of one panel"),
    Reply("foot_n", "Pull on the worst foot", "foot-load", "worst_foot_n", _FEET, "N", "lbf"),
    Reply(
        "bond_n", "What a pad holds", "bond-strength", "holding_n", _BOND, "N", "lbf", fixed=_GUST
    ),
    Reply("bond_verdict", "Verdict", "bond-strength", "verdict", _BOND, words=True, fixed=_GUST),
    Reply(
        "bond_remedy", "What to change", "bond-strength", "remedy", _BOND, words=True, fixed=_GUST
    ),
    Reply(
        "rest_h",
        "Rest before the first drive",
        "cure-time",
        "hours_before_driving",
        _same("adhesive", "bead_width_m"),
        "h",
    ),
    Heading("What the meter should read"),
    Reply("read_v", "Open-circuit voltage", "meter-reading", "open_circuit_v", _METER, "V"),
    Reply("read_low_v", "At least", "meter-reading", "open_circuit_low_v", _METER, "V"),
    Reply("read_a", "Short-circuit current", "meter-reading", "short_circuit_a", _METER, "A"),
    Reply("read_low_a", "At least", "meter-reading", "short_circuit_low_a", _METER, "A"),
    Reply("read_w", "Power while charging", "meter-reading", "power_w", _METER, "W"),
    Reply("read_low_w", "At least", "meter-reading", "power_low_w", _METER, "W"),
    Reply(
        "groups_w",
        "One panel, whole bypass groups covered",
        "half-covered",
        "groups_power_w",
        _COVER,
        "W",
    ),
    Reply(
        "cells_w",
        "One panel, half of every group covered",
        "half-covered",
        "cells_power_w",
        _COVER,
        "W",
    ),
)
"""The sheet, top to bottom."""

NOTES: tuple[str, ...] = (
    "Fill in the shaded cells of the sheet Build; every answer comes from the service at the "
    "address given there, so that sheet, program and web page always agree.",
    "Answers that begin with Error: say what to change. Err:540, #VALUE! or #NAME? mean that the "
    "service does not answer, that the program may not use the network, or that it does not know "
    "WEBSERVICE (desktop spreadsheets do; most online ones have IMPORTDATA instead).",
    "Your program asks before it uses the network: allow it for this file. In LibreOffice put the "
    "file's folder under Tools, Options, LibreOffice, Security, Macro Security, Trusted Sources.",
    "Figures are those of an invented mobile library van. Change them all.",
    "The sheet holds everyday answers only: zones of wind, statics of feet, every load case, "
    "energy and the work sheet are in the service's whole calculations.",
    "A panel in light is live, a battery can give thousands of amperes, and a panel that comes off "
    "at speed can kill. The answers do not replace local codes, makers' instructions or licensed "
    "practice; each question's field caution says more.",
)
"""The second sheet."""

FIRST_ROW = 3
"""Row of the first heading, below the title and the names of the columns."""


def placed() -> Iterator[tuple[int, Row]]:
    """Rows with their numbers on the sheet."""
    yield from enumerate(ROWS, FIRST_ROW)


def cells() -> dict[str, str]:
    """Cell of every figure, by key."""
    return {row.key: f"B{number}" for number, row in placed() if not isinstance(row, Heading)}


def verdict_range() -> tuple[str, str]:
    """First and last cell between which all verdicts stand."""
    numbers = [number for number, row in placed() if isinstance(row, Reply)]
    return f"B{numbers[0]}", f"B{numbers[-1]}"
