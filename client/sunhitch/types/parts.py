"""Parts to order: what each is, by a stable key, and the figures that it must have."""

from collections.abc import Iterable
from typing import Annotated, Literal, cast

from msgspec.structs import replace

from .base import Input, Output
from .quantity import choice, count, label, listing, prose, quantity

PartUnit = Literal["piece", "m", "mL"]
PartGroup = Literal[
    "panels", "mounting", "roof-wiring", "protection", "inside-wiring", "consumables"
]
PartKind = Literal[
    "panel",
    "adhesive",
    "foot",
    "fastener",
    "sealing-washer",
    "lock-nut",
    "rail",
    "panel-clamp",
    "rail-support",
    "spacer-sheet",
    "fairing",
    "tether",
    "branch-connector",
    "extension-lead",
    "string-fuse-holder",
    "plug-pair",
    "pv-cable",
    "battery-cable",
    "cable-clip",
    "cable-gland",
    "entry-housing",
    "fuse",
    "disconnect",
    "controller",
    "charger",
    "bus-bar",
    "removable-socket",
    "crimp-lug",
    "bonding-conductor",
    "label-set",
    "abrasive-pad",
    "cleaner",
    "wipe",
    "primer",
    "sealant",
    "edge-trim",
    "spare-fuse",
]
Colour = Literal["red", "black", "green-yellow"]

PartKey = Annotated[
    str,
    label(
        "Kind and what tells it from others of its kind; two jobs that need the same part have "
        "the same key.",
        "pv-cable:10-awg:90c:red",
        200,
    ),
]


def part_key(kind: PartKind, *details: str) -> str:
    """Key of a part.

    Parameters
    ----------
    kind : PartKind
        What it is.
    *details : str
        What tells it from others of its kind; a name that the caller gave stands alone, as it is.

    Returns
    -------
    str
        Kind and details, joined by colons.
    """
    return ":".join((kind, *(detail for detail in details if detail)))


def worded(text: str) -> str:
    """A word of the trade within a key: ``"10 AWG"`` becomes ``"10-awg"``."""
    return text.lower().replace("²", "2").replace(" ", "-")


def rated(value: float, unit: str) -> str:
    """A rating within a key, to three digits: ``"17.5a"``."""
    return f"{value:.3g}{unit}"


def millimetres(*lengths_m: float) -> str:
    """Lengths within a key: ``"120x80mm"``."""
    return "x".join(f"{1000.0 * length:.4g}" for length in lengths_m) + "mm"


class PartName(Input, kw_only=True):
    """The caller's own name of a part, such as an article number."""

    key: PartKey
    name: Annotated[str, label("Name to print and to order by.", "Cable red 6 mm², drum 12")]


class Part(Output, kw_only=True, omit_defaults=True):
    """One line of the parts list; a figure that says nothing about the part is absent.

    ``minimum_…`` are ratings that it must at least have; what another figure tells, it must have.
    """

    key: PartKey
    group: Annotated[PartGroup, choice("Where it is used.", "roof-wiring")]
    name: Annotated[str, prose("In trade terms, or as the caller names it.", "PV cable, red")]
    given_name: Annotated[
        str, prose("The caller's name of this panel or device, or part; empty if none.", "van-115")
    ]
    amount: Annotated[float, quantity("see unit", 0.0, 1e6, "How much, slack included.", 9.0)]
    unit: Annotated[PartUnit, choice("Counted or measured.", "m")]
    needed_for: Annotated[
        list[Annotated[str, prose("Panel, line, device or place.", "W2")]],
        listing(0, 1000, "What needs it, as the schedules name it."),
    ]
    at_hand: Annotated[
        float, quantity("see unit", 0.0, 1e6, "Of that, what is there already.", 4.0)
    ] = 0.0
    price: (
        Annotated[float, quantity("1", 0.0, 1e7, "Of one piece, metre or millilitre.", 140.0)]
        | None
    ) = None
    size: Annotated[str, prose("Gauge, thread, gland; empty if none.", "10 AWG")] = ""
    material: Annotated[
        str, prose("Material, insulation or strength class; empty if any.", "90c")
    ] = ""
    colour: Annotated[Colour, choice("Of the insulation.", "red")] | None = None
    polarity: Annotated[str, prose("Conductor that it sits in; empty if any.", "positive")] = ""
    area_mm2: Annotated[float, quantity("mm²", 0.0, 1000.0, "Metal.", 5.26)] | None = None
    length_m: Annotated[float, quantity("m", 0.0, 300.0, "Of each piece.", 1.2)] | None = None
    width_m: Annotated[float, quantity("m", 0.0, 50.0, "Of each piece.", 0.12)] | None = None
    thickness_m: Annotated[float, quantity("m", 0.0, 1.0, "Of each piece.", 0.004)] | None = None
    covered_fraction: (
        Annotated[float, quantity("1", 0.0, 1.0, "Share of length times width.", 0.5)] | None
    ) = None
    ways: Annotated[int, count(1, 100, "Cables that it joins.", 2)] | None = None
    power_w: Annotated[float, quantity("W", 0.0, 1e5, "Rated power.", 115.0)] | None = None
    open_circuit_v: Annotated[float, quantity("V", 0.0, 2000.0, "Voc.", 22.9)] | None = None
    short_circuit_a: Annotated[float, quantity("A", 0.0, 1000.0, "Isc.", 6.4)] | None = None
    maximum_fuse_a: (
        Annotated[float, quantity("A", 0.0, 1000.0, "Largest series fuse.", 15.0)] | None
    ) = None
    rating_a: Annotated[float, quantity("A", 0.0, 2000.0, "Rated current.", 40.0)] | None = None
    family: Annotated[str, prose("Family of fuse or breaker; empty if none.", "Class T")] = ""
    minimum_current_a: (
        Annotated[float, quantity("A", 0.0, 1e5, "Direct current at least.", 30.0)] | None
    ) = None
    minimum_voltage_v: (
        Annotated[float, quantity("V", 0.0, 3000.0, "Direct voltage at least.", 54.1)] | None
    ) = None
    minimum_interrupting_a: (
        Annotated[float, quantity("A", 0.0, 500_000.0, "Fault current that it breaks.", 4000.0)]
        | None
    ) = None
    seals_from_mm: (
        Annotated[float, quantity("mm", 0.0, 100.0, "Thinnest cable that it seals.", 3.0)] | None
    ) = None
    seals_to_mm: (
        Annotated[float, quantity("mm", 0.0, 100.0, "Thickest cable that it seals.", 6.5)] | None
    ) = None
    sun_proof: Annotated[bool, prose("Whether it must bear sun and rain.")] = False
    load_break: Annotated[bool, prose("Whether it must open under load.")] = False
    blocks_reverse_current: (
        Annotated[bool, prose("Whether the controller does, as the build counts on.")] | None
    ) = None

    @property
    def to_buy(self) -> float:
        """How much of it is not there yet."""
        return self.amount - self.at_hand

    @property
    def kind(self) -> PartKind:
        """What it is: the first word of its key."""
        return cast("PartKind", self.key.partition(":")[0])


def merged(parts: Iterable[Part]) -> list[Part]:
    """Each key once: amounts added up, the highest of every least rating.

    Parameters
    ----------
    parts : iterable of Part
        Of one job or several.

    Returns
    -------
    list of Part
        In the order in which their keys appear first.
    """
    found: dict[str, Part] = {}
    for part in parts:
        known = found.get(part.key)
        found[part.key] = part if known is None else _both(known, part)
    return list(found.values())


def _both(one: Part, other: Part) -> Part:
    return replace(
        one,
        amount=one.amount + other.amount,
        at_hand=one.at_hand + other.at_hand,
        needed_for=list(dict.fromkeys([*one.needed_for, *other.needed_for])),
        minimum_current_a=_higher(one.minimum_current_a, other.minimum_current_a),
        minimum_voltage_v=_higher(one.minimum_voltage_v, other.minimum_voltage_v),
        minimum_interrupting_a=_higher(one.minimum_interrupting_a, other.minimum_interrupting_a),
    )


def _higher(one: float | None, other: float | None) -> float | None:
    return max((value for value in (one, other) if value is not None), default=None)
