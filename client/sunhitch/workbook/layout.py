"""What stands in the workbook: figures to fill in, questions, and which figures reach each."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from sunhitch.questions import AnyQuestion, Questions, described

from .cells import Validation


@dataclass(frozen=True, slots=True)
class EntryCell:
    """A figure that the user fills in; its unit and limits are those of the questions it reaches.

    Parameters
    ----------
    key : str
        Name within this module, the same as the parameter's where only one thing has that name.
    label : str
        As written on the sheet.
    value : str or float
        AnswerCell of the invented example: a mobile library van.
    customary : str
        US customary unit to show beside it, as `CONVERT` calls it.
    """

    key: str
    label: str
    value: str | float
    customary: str = ""


@dataclass(frozen=True, slots=True)
class Product:
    """A figure that the sheet multiplies itself."""

    key: str
    label: str
    factors: tuple[str, str]
    unit: str


@dataclass(frozen=True, slots=True)
class AnswerCell:
    """A field of an answer."""

    key: str
    label: str
    field: str
    customary: str = ""


@dataclass(frozen=True, slots=True)
class Asked:
    """A question that is asked once, and the figures of its answer that are shown.

    Parameters
    ----------
    title : str
        As written on the sheet.
    question : FlatQuestion
        Which question.
    figures : tuple of AnswerCell
        What is shown of its answer, the verdict too.
    cells : mapping
        Key of an entry or a figure by parameter, where it is not the parameter's own name.
    fixed : mapping
        Parameters that are the same for everyone.
    left : str
        Parameters that this workbook leaves to the service, which tells what it assumes.
    warns : bool
        Whether its cautions are printed, too; those of the others are among them.
    """

    title: str
    question: AnyQuestion
    figures: tuple[AnswerCell, ...]
    cells: Mapping[str, str] = field(default_factory=dict[str, str])
    fixed: Mapping[str, str] = field(default_factory=dict[str, str])
    left: str = ""
    warns: bool = False

    @property
    def given(self) -> dict[str, str]:
        """Key by parameter: every cell that bears the parameter's name, and those told."""
        apart = {*self.left.split(), *self.fixed}
        names = [name for name in described(self.question.asked) if name not in apart]
        return {n: n for n in names if n in keys() and n not in self.cells} | dict(self.cells)


ADDRESS, KEY = "service", "api_key"
CUSTOMARY = {"ft": "ft", "in": "in", "F": "°F", "mph": "mph", "lbm": "lb", "lbf": "lbf"}
"""Symbol of a customary unit by its name in `CONVERT`."""
CONVERTED = {"m": "m", "°C": "C", "m/s": "m/s", "kg": "kg", "N": "N"}
"""Name that `CONVERT` has for a unit of the contract."""

ENTRIES: Mapping[str, Sequence[EntryCell | Product]] = {
    "Service": (
        EntryCell(ADDRESS, "Address", "http://127.0.0.1:8000"),
        EntryCell(KEY, "Key, if the service asks for one", ""),
    ),
    "Panel, from its label": (
        EntryCell("p_mp_w", "Maximum power", 115.0),
        EntryCell("v_mp_v", "Voltage at maximum power", 19.2),
        EntryCell("i_mp_a", "Current at maximum power", 5.99),
        EntryCell("v_oc_v", "Open-circuit voltage", 22.9),
        EntryCell("i_sc_a", "Short-circuit current", 6.4),
        EntryCell("cells_in_series", "Cells in series (36 for 72 half cells)", 36.0),
        EntryCell("construction", "Cells and bypass diodes", "half-cell-2-diodes"),
        EntryCell("alpha_sc_fraction_per_c", "Change of current per kelvin", 0.0005),
        EntryCell("beta_voc_fraction_per_c", "Change of open-circuit voltage per kelvin", -0.0028),
        EntryCell("gamma_pmp_fraction_per_c", "Change of power per kelvin", -0.0037),
        EntryCell("max_series_fuse_a", "Largest series fuse", 15.0),
        EntryCell("max_system_voltage_v", "Largest system voltage", 600.0),
        EntryCell("panel_length_m", "Length", 1.18, "ft"),
        EntryCell("panel_width_m", "Width", 0.54, "ft"),
        EntryCell("thickness_m", "Thickness, or height of the frame", 0.003, "in"),
        EntryCell("mass_kg", "Mass", 2.3, "lbm"),
    ),
    "Array, controller and battery": (
        EntryCell("rules", "Wiring rules", "nec-2023"),
        EntryCell("panels_in_series", "Panels in a string", 2.0),
        EntryCell("strings_in_parallel", "Strings in parallel", 2.0),
        EntryCell("max_input_voltage_v", "Controller: largest input voltage", 100.0),
        EntryCell("max_input_short_circuit_a", "Controller: short circuit at its input", 35.0),
        EntryCell("controller_output_a", "Controller: rated output current", 30.0),
        EntryCell("battery_v", "Battery: nominal voltage", 12.0),
        EntryCell("working_voltage_v", "Battery: voltage through most of a charge", 13.3),
        EntryCell("charge_voltage_v", "Battery: highest charging voltage", 14.4),
        EntryCell("fault_current_a", "Battery: short-circuit current", 4000.0),
        Product("string_v", "Nominal voltage of a string", ("v_mp_v", "panels_in_series"), "V"),
    ),
    "Places and cables": (
        EntryCell("lowest_ambient_c", "Coldest air", -18.0, "F"),
        EntryCell("hottest_c", "Hottest air, along the cables too", 38.0, "F"),
        EntryCell("mounting_heat", "Back of the panel", "open-gap"),
        EntryCell("shaded_cells", "Cells in the shadow of the roof hatch", 5.0),
        EntryCell("pv_length_m", "Panels to controller, one way", 4.5, "ft"),
        EntryCell("battery_length_m", "Controller to battery, one way", 1.2, "ft"),
        EntryCell("terminal_temperature_c", "Lowest rating of the terminals", 60.0, "F"),
    ),
    "Vehicle and feet": (
        EntryCell("vehicle", "Vehicle", "motor-vehicle"),
        EntryCell("roof_length_m", "Roof: length", 5.4, "ft"),
        EntryCell("roof_width_m", "Roof: width", 1.9, "ft"),
        EntryCell("roof_height_m", "Roof: height above the road", 2.6, "ft"),
        EntryCell("rows", "Rows of feet along a panel, ends included", 3.0),
        EntryCell("columns", "Feet in a row", 2.0),
        EntryCell("pad_m", "Side of a square pad", 0.12, "in"),
        EntryCell("adhesive", "Adhesive", "one-part-polyurethane"),
        EntryCell("bead_width_m", "Width of its beads", 0.012, "in"),
        EntryCell("application_c", "Air and roof while it cures", 21.0, "F"),
        EntryCell("rested_h", "Rest that it gets before the first drive", 96.0),
        EntryCell("surface", "Roof", "painted-metal"),
        EntryCell("prepared", "Abraded, cleaned and primed", "yes"),
        EntryCell("bond_c", "Bond line while driving", 60.0, "F"),
        EntryCell("speed_m_s", "Road speed", 25.0, "mph"),
        EntryCell("gust_m_s", "Headwind gust", 10.0, "mph"),
    ),
    "On the day of the readings": (
        EntryCell("reading_w_m2", "Light in the panels' plane", 870.0),
        EntryCell("reading_c", "Back of a panel, measured", 48.0, "F"),
    ),
}
"""The first sheet by heading, top to bottom."""

_VERDICT = "Verdict"
_READ = {"irradiance_w_m2": "reading_w_m2", "cell_c": "reading_c"}
_RUNS = "circuit insulation where current_carrying_conductors allowed_drop_fraction fuse_family"

QUESTIONS: tuple[Asked, ...] = (
    Asked(
        "Cold morning",
        Questions.cold_voc,
        (
            AnswerCell("cold_v", "Open-circuit voltage of a string", "string_v_oc_v"),
            AnswerCell("cold_verdict", _VERDICT, "verdict"),
        ),
    ),
    Asked(
        "Hot noon: cells",
        Questions.cell_temperature,
        (AnswerCell("hot_cell_c", "Hot cells", "cell_c", "F"),),
        {"ambient_c": "hottest_c"},
        left="gap_m noct_c irradiance_w_m2",
    ),
    Asked(
        "Hot noon: voltage",
        Questions.hot_vmp,
        (
            AnswerCell("hot_v", "Voltage of a string at maximum power", "string_v_mp_v"),
            AnswerCell("hot_verdict", _VERDICT, "verdict"),
        ),
        left="run_margin_v",
    ),
    Asked(
        "Panels in series",
        Questions.string_count,
        (
            AnswerCell("fewest", "Fewest", "smallest"),
            AnswerCell("most", "Most", "largest"),
            AnswerCell("series_verdict", _VERDICT, "verdict"),
        ),
        left="run_margin_v",
    ),
    Asked(
        "Controller and array",
        Questions.controller_current,
        (
            AnswerCell("array_w", "Nameplate power of the array", "array_w"),
            AnswerCell("wanted_a", "Charging current in full sun", "wanted_a"),
            AnswerCell("lost_w", "Power that the controller cuts off", "lost_w"),
            AnswerCell("strong_sun_a", "Short-circuit current in strong sun", "strong_sun_a"),
            AnswerCell("controller_verdict", _VERDICT, "verdict"),
        ),
        left="efficiency_fraction controller_kind",
    ),
    Asked(
        "Array with the shaded cells in full sun",
        Questions.shaded_power,
        (
            AnswerCell("shaded_w", "Worst spread over the panel", "power_w"),
            AnswerCell("best_w", "Kindest spread", "best_power_w"),
            AnswerCell("unshaded_w", "Without the shadow", "unshaded_w"),
            AnswerCell("tracker_w", "What a simple tracker finds", "tracker_w"),
            AnswerCell("shade_verdict", _VERDICT, "verdict"),
        ),
        left="light_fraction shaded_groups shaded_panels irradiance_w_m2 cell_c cell_material",
    ),
    Asked(
        "Cable from panels to controller",
        Questions.wire_size,
        (
            AnswerCell("pv_size", "Conductor", "size"),
            AnswerCell("pv_drop_v", "Voltage drop", "drop_v"),
            AnswerCell("pv_fuse_a", "Fuse that protects it", "fuse_a"),
            AnswerCell("pv_verdict", _VERDICT, "verdict"),
        ),
        {"voltage_v": "string_v", "length_m": "pv_length_m", "ambient_c": "hottest_c"},
        left=f"current_a controller_output_a fault_current_a {_RUNS}",
        warns=True,
    ),
    Asked(
        "Cable from controller to battery",
        Questions.wire_size,
        (
            AnswerCell("battery_size", "Conductor", "size"),
            AnswerCell("battery_drop_v", "Voltage drop", "drop_v"),
            AnswerCell("battery_wire_fuse_a", "Fuse that protects it", "fuse_a"),
            AnswerCell("battery_verdict", _VERDICT, "verdict"),
        ),
        {"voltage_v": "battery_v", "length_m": "battery_length_m", "ambient_c": "hottest_c"},
        left=f"current_a i_sc_a strings_in_parallel max_series_fuse_a {_RUNS}",
    ),
    Asked(
        "String fuses",
        Questions.string_fuse,
        (
            AnswerCell("string_fuse", "Needed", "needed"),
            AnswerCell("string_fuse_a", "Rating, should one be fitted", "fuse_a"),
            AnswerCell("string_verdict", _VERDICT, "verdict"),
        ),
        left="other_strings_i_sc_a bifaciality_fraction strongest_w_m2 battery_backfeed_a",
    ),
    Asked(
        "Fuse at the battery",
        Questions.battery_fuse,
        (
            AnswerCell("battery_fuse", "Family and rating", "title"),
            AnswerCell("battery_fuse_a", "Rating", "fuse_a"),
            AnswerCell("within_m", "Within", "within_m", "in"),
            AnswerCell("fuse_verdict", _VERDICT, "verdict"),
        ),
        {"current_a": "controller_output_a", "max_voltage_v": "charge_voltage_v"},
        left="fuse_family",
        warns=True,
    ),
    Asked(
        "Feet of one panel",
        Questions.foot_load,
        (AnswerCell("foot_n", "Pull on the worst foot", "worst_foot_n", "lbf"),),
        {
            **{"length_m": "panel_length_m", "width_m": "panel_width_m"},
            **{"foot_m": "pad_m", "air_c": "lowest_ambient_c"},
        },
        left="crosswind_gust_m_s storm_gust_m_s uplift_coefficient edge_m standoff_m altitude_m",
    ),
    Asked(
        "Bond of that foot in a gust",
        Questions.bond_strength,
        (
            AnswerCell("bond_n", "What a pad holds", "holding_n", "lbf"),
            AnswerCell("bond_verdict", _VERDICT, "verdict"),
        ),
        {"pad_length_m": "pad_m", "pad_width_m": "pad_m", "load_n": "foot_n"},
        {"duration": "gust"},
        warns=True,
    ),
    Asked(
        "Cure of the adhesive",
        Questions.cure_time,
        (
            AnswerCell("rest_h", "Rest before the first drive", "hours_before_driving"),
            AnswerCell("cure_verdict", _VERDICT, "verdict"),
        ),
    ),
    Asked(
        "What the meter should read",
        Questions.meter_reading,
        (
            AnswerCell("read_v", "Open-circuit voltage", "open_circuit_v"),
            AnswerCell("read_low_v", "at least", "open_circuit_low_v"),
            AnswerCell("read_a", "Short-circuit current", "short_circuit_a"),
            AnswerCell("read_low_a", "at least", "short_circuit_low_a"),
            AnswerCell("read_w", "Power while charging", "power_w"),
            AnswerCell("read_low_w", "at least", "power_low_w"),
        ),
        _READ,
        left="ambient_c cable_ohm cell_material",
        warns=True,
    ),
    Asked(
        "Bypass diodes: one panel half covered",
        Questions.half_covered,
        (
            AnswerCell("groups_w", "Whole bypass groups covered", "groups_power_w"),
            AnswerCell("cells_w", "Half of every group covered", "cells_power_w"),
        ),
        _READ,
        left="ambient_c cell_material",
    ),
)
"""The second sheet, top to bottom; what a question takes from another one stands below it."""

NOTES: tuple[str, ...] = (
    "Fill in the shaded cells of the sheet Inputs. Every answer comes from the service at the "
    "address given there, in one request a question, so that sheet, program and web page agree.",
    "A cell that is left empty is left to the service. What it then assumes stands beside the "
    "answers, in full on the sheet Assumed, with cautions and sources.",
    "Answers that begin with Error: say what to change. Err:540, #VALUE! or #NAME? mean that the "
    "service does not answer, that the program may not use the network, or that it does not know "
    "WEBSERVICE (desktop spreadsheets do; most online ones have IMPORTDATA instead).",
    "Your program asks before it uses the network: allow it for this file. In LibreOffice put the "
    "file's folder under Tools, Options, LibreOffice, Security, Macro Security, Trusted Sources.",
    "A key stands readable in this file and in the addresses that it asks: keep both to yourself. "
    "The service takes it this way only where its operator allows keys in addresses.",
    "The sheets Inputs and Answers print on a page each.",
    "Figures are those of an invented mobile library van. Change them all.",
    "The workbook holds everyday answers only: zones of wind, statics of feet, every load case, "
    "energy and the work sheet are in the service's whole calculations.",
    "A panel in light is live, a battery can give thousands of amperes, and a panel that comes off "
    "at speed can kill. The answers do not replace local codes, makers' instructions or licensed "
    "practice.",
)
"""The last sheet."""


@cache
def keys() -> frozenset[str]:
    """Keys of everything that a question can take."""
    shown = {figure.key for asked in QUESTIONS for figure in asked.figures}
    return frozenset(shown | {row.key for rows in ENTRIES.values() for row in rows})


@cache
def reached(key: str) -> list[dict[str, Any]]:
    """Schemas of all parameters that a cell sets, with unit, limits and meaning."""
    return [
        described(asked.question.asked)[parameter]
        for asked in QUESTIONS
        for parameter, given in asked.given.items()
        if given == key
    ]


def unit_of(schema: Mapping[str, Any]) -> str:
    """Symbol; empty for words and plain numbers."""
    unit = str(schema.get("x-unit", ""))
    return "" if unit == "1" else unit


def taken(key: str) -> Validation | None:
    """What an entry may be: what every question that it reaches takes."""
    schemas = reached(key)
    if not schemas:
        return None
    told = str(schemas[0]["description"])
    if "enum" in schemas[0]:
        words: list[str] = schemas[0]["enum"]
        taken_by_all = [word for word in words if all(word in one["enum"] for one in schemas)]
        return Validation(told, tuple(taken_by_all))
    return Validation(
        told,
        low=max(one["minimum"] for one in schemas),
        high=min(one["maximum"] for one in schemas),
        whole=any(one["type"] == "integer" for one in schemas),
    )
