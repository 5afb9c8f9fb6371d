"""`wire-sizing`: conductor, fuse, disconnects and cable entry of one circuit."""

from typing import Annotated, Literal

from .base import Input, Output
from .basis import Parameters, SourceKey
from .check import Answer, Verdict
from .panel import Bifaciality
from .parts import PartKey
from .quantity import choice, count, label, listing, prose, quantity
from .system import StrongestSun, TerminalRating

LadderRole = Literal["rules", "equivalent"]
LadderMethod = Literal["own-tables", "by-area"]

Circuit = Literal[
    "pv-string", "pv-output", "controller-to-battery", "battery-to-load", "chassis-return"
]
WiringRules = Literal["nec-2017", "nec-2020", "nec-2023", "iec", "us-33-cfr-183"]
Insulation = Literal["60c", "75c", "90c", "105c", "125c", "pvc-70", "xlpe-90", "en-50618"]
Material = Literal["copper", "aluminium"]
Stranding = Literal["stranded", "fine-stranded"]
Where = Literal["free-air", "bundled", "raceway", "on-roof", "insulated-wall"]
Awg = Literal[
    "18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0"
]
Ladder = Literal["awg", "mm2"]
FuseFamily = Literal[
    "pv-cylindrical",
    "pv-blade-contact",
    "blade",
    "maxi-blade",
    "bolt-down-small",
    "bolt-down-large",
    "strip",
    "battery-stud",
    "class-t",
    "breaker-surface",
    "breaker-magnetic",
    "breaker-pv",
]
DeviceKind = Literal["fuse", "breaker"]
NoteTopic = Literal["polarity", "connection-order", "bonding", "return", "workmanship"]
SheetMaterial = Literal["steel", "aluminium", "glass-fibre", "sandwich"]

_AMPS = 10_000.0


class PanelsBehind(Input, kw_only=True):
    """Panels that feed the circuit: strings in parallel, equal ones unless said otherwise."""

    i_sc_a: Annotated[
        float, quantity("A", 0.01, 120.0, "Short-circuit current of one string, nameplate.", 6.4)
    ]
    i_mp_a: (
        Annotated[
            float,
            quantity("A", 0.01, 120.0, "Current of one string at maximum power, nameplate.", 5.99),
        ]
        | None
    ) = None
    strings_in_parallel: Annotated[
        int, count(1, 60, "Strings in parallel; a panel alone counts as a string.", 2)
    ] = 1
    other_strings_i_sc_a: (
        Annotated[
            float,
            quantity("A", 0.01, 7200.0, "Isc of the other strings together, where unequal.", 9.0),
        ]
        | None
    ) = None
    max_series_fuse_a: (
        Annotated[
            float, quantity("A", 0.1, 200.0, "Largest series fuse that the panel maker allows.", 15)
        ]
        | None
    ) = None
    bifaciality_fraction: Bifaciality | None = None
    strongest_w_m2: StrongestSun | None = None
    battery_backfeed_a: Annotated[
        float,
        quantity(
            "A",
            0.0,
            200_000.0,
            "Current that the battery can push back; 0 behind a controller that blocks it.",
            0.0,
        ),
    ] = 0.0


class Conductor(Input, kw_only=True):
    """Metal and strands; solid wire is not offered, as it breaks under vibration."""

    material: Annotated[Material, choice("Metal.", "copper")] = "copper"
    stranding: (
        Annotated[
            Stranding,
            choice("IEC 60228 class 2 (stranded) or class 5 (fine-stranded).", "fine-stranded"),
        ]
        | None
    ) = None
    tinned: Annotated[bool, prose("Whether the strands are tinned.")] = False


class Run(Input, kw_only=True):
    """A stretch of the way; the least favourable one governs."""

    where: Annotated[Where, choice("How it lies.", "on-roof")]
    length_m: (
        Annotated[
            float, quantity("m", 0.01, 100.0, "Length; matters inside thermal insulation.", 1.5)
        ]
        | None
    ) = None
    current_carrying_conductors: Annotated[
        int, count(1, 100, "Loaded conductors in the same bundle or raceway, these included.", 2)
    ] = 2
    ambient_c: (
        Annotated[
            float, quantity("°C", -60.0, 120.0, "Air here, if unlike the rest of the way.", 50.0)
        ]
        | None
    ) = None
    height_above_roof_m: (
        Annotated[
            float, quantity("m", 0.0, 2.0, "Gap between roof and cable or raceway, on roofs.", 0.0)
        ]
        | None
    ) = None
    in_raceway: Annotated[bool, prose("Whether a cable on a roof runs in a raceway.")] = False


class ConductorSize(Input, kw_only=True):
    """A size, as AWG or as cross-section."""

    awg: Annotated[Awg, choice("American wire gauge.", "10")] | None = None
    area_mm2: (
        Annotated[float, quantity("mm²", 0.5, 500.0, "Nominal cross-section.", 6.0)] | None
    ) = None


GlandSize = Literal["M12", "M16", "M20", "M25", "M32", "M40"]


class EntryRequest(Input, kw_only=True):
    """Cables through the roof or a wall."""

    cable_diameters_mm: Annotated[
        list[Annotated[float, quantity("mm", 2.0, 40.0, "Outside diameter of a cable.", 6.1)]],
        listing(0, 12, "Outside diameter of every cable that passes; empty: a pair of PV cables."),
    ] = []
    gland_at_hand: (
        Annotated[GlandSize, choice("Gland at hand for every one of them.", "M16")] | None
    ) = None
    sheet: Annotated[SheetMaterial, choice("What the hole goes through.", "aluminium")]
    thickness_mm: Annotated[
        float, quantity("mm", 0.3, 150.0, "Thickness of the sheet or sandwich.", 1.2)
    ]
    on_roof: Annotated[bool, prose("Whether the hole is in the roof, not in a wall or inside.")] = (
        True
    )
    flexes: Annotated[bool, prose("Whether the cable moves in use, for example at a hinge.")] = (
        False
    )


class WireSizingRequest(Input, kw_only=True):
    """One circuit; its current comes from exactly one of three fields.

    `current_a`, `panels_behind` or `controller_output_a`.
    """

    EXACTLY_ONE = ("current_a", "panels_behind", "controller_output_a")
    circuit: Annotated[Circuit, choice("What the circuit connects.", "pv-string")]
    rules: Annotated[
        WiringRules,
        choice("Rule set; it decides which ladder is read on its own tables.", "nec-2023"),
    ]
    voltage_v: Annotated[
        float,
        quantity(
            "V", 1.0, 1500.0, "Nominal voltage that the drop is measured against; Vmp of PV.", 12.0
        ),
    ]
    length_m: Annotated[float, quantity("m", 0.05, 200.0, "Length one way.", 6.0)]
    current_a: (
        Annotated[
            float,
            quantity(
                "A",
                0.001,
                _AMPS,
                "Largest current of the circuit; on PV circuits 1.25 × Isc is already in it.",
                8.0,
            ),
        ]
        | None
    ) = None
    panels_behind: Annotated[PanelsBehind, prose("Panels that feed a PV circuit.")] | None = None
    controller_output_a: (
        Annotated[
            float, quantity("A", 0.5, 500.0, "Rated output current of the charge controller.", 30.0)
        ]
        | None
    ) = None
    operating_current_a: (
        Annotated[
            float,
            quantity("A", 0.0, _AMPS, "Current behind drop and loss; at most the largest.", 6),
        ]
        | None
    ) = None
    continuous: Annotated[
        bool, prose("Whether the largest current may last three hours; PV always may.")
    ] = True
    max_voltage_v: (
        Annotated[
            float, quantity("V", 1.0, 2000.0, "Highest voltage: cold Voc, or charging.", 14.6)
        ]
        | None
    ) = None
    allowed_drop_fraction: (
        Annotated[
            float, quantity("1", 0.0005, 0.5, "Allowed drop, there and back, of `voltage_v`.", 0.03)
        ]
        | None
    ) = None
    conductor: Annotated[Conductor, prose("Metal and strands.")] = Conductor()
    insulation: (
        Annotated[Insulation, choice("Temperature class or cable standard.", "90c")] | None
    ) = None
    runs: Annotated[
        list[Run], listing(0, 20, "Where it lies; the engine chooses the usual way if empty.")
    ] = []
    ambient_c: (
        Annotated[float, quantity("°C", -60.0, 100.0, "Hottest air along the way.", 40.0)] | None
    ) = None
    terminal_temperature_c: TerminalRating | None = None
    connector_rating_a: (
        Annotated[float, quantity("A", 1.0, 500.0, "Rated current of plugs in the circuit.", 30.0)]
        | None
    ) = None
    connector_largest_mm2: (
        Annotated[
            float,
            quantity("mm²", 0.5, 120.0, "Largest conductor that the plugs' sleeves take.", 6.0),
        ]
        | None
    ) = None
    fault_current_a: (
        Annotated[
            float,
            quantity("A", 1.0, 200_000.0, "Short-circuit current where the fuse sits.", 20_000.0),
        ]
        | None
    ) = None
    unavailable: Annotated[
        list[ConductorSize], listing(0, 60, "Sizes that cannot be had, and are not chosen.")
    ] = []
    fuse_family: (
        Annotated[FuseFamily, choice("Family of fuses or breakers to use.", "class-t")] | None
    ) = None
    fuse_rating_a: (
        Annotated[float, quantity("A", 0.5, 1000.0, "Fuse or breaker already chosen.", 40.0)] | None
    ) = None
    fuse_needed: (
        Annotated[
            bool,
            prose(
                "Whether the circuit is to have a device, where the whole build has decided that; "
                "the engine decides if absent."
            ),
        ]
        | None
    ) = None
    fuse_distance_m: (
        Annotated[
            float, quantity("m", 0.0, 20.0, "From the source to its fuse, along the cable.", 0.15)
        ]
        | None
    ) = None
    sheathed_to_fuse: Annotated[
        bool, prose("Whether the conductor is sheathed or enclosed from its source to its device.")
    ] = False
    bears_a: (
        Annotated[
            float,
            quantity(
                "A",
                0.1,
                _AMPS,
                "What the whole build can push through it or its return for hours; its own "
                "circuit alone counts if absent.",
                70.0,
            ),
        ]
        | None
    ) = None
    conductor_at_hand: (
        Annotated[ConductorSize, prose("A conductor to be judged beside the chosen one.")] | None
    ) = None
    chassis_resistance_ohm: (
        Annotated[
            float,
            quantity("Ω", 0.0, 1.0, "Return through the chassis with its joints.", 0.002),
        ]
        | None
    ) = None
    hours_per_year: (
        Annotated[
            float, quantity("h", 0.0, 8784.0, "Hours a year at the operating current.", 1400.0)
        ]
        | None
    ) = None
    energy_price_per_kwh: (
        Annotated[float, quantity("1/kWh", 0.0, 100.0, "Worth of a kWh, in any currency.", 0.35)]
        | None
    ) = None
    entry: Annotated[EntryRequest, prose("Cables through roof or wall.")] | None = None


class DesignCurrents(Output, kw_only=True, gc=False):
    """Currents that the rules ask for, and how they came about."""

    maximum_a: Annotated[
        float, quantity("A", 0.0, _AMPS * 2, "Largest current; PV with 1.25 for strong sun.", 8.0)
    ]
    before_correction_a: Annotated[
        float,
        quantity("A", 0.0, _AMPS * 2, "Needed of the table value, before any correction.", 10.0),
    ]
    after_correction_a: Annotated[
        float, quantity("A", 0.0, _AMPS * 2, "Needed after ambient and bundling factors.", 8.0)
    ]
    operating_a: Annotated[
        float, quantity("A", 0.0, _AMPS * 2, "Current behind drop and loss.", 5.99)
    ]
    how: Annotated[str, prose("The steps in words.", "6.4 A × 1.25 = 8 A; × 1.25 = 10 A.")]


class RunAmpacity(Output, kw_only=True, gc=False):
    """From the table to what a conductor may carry on one run."""

    run: Annotated[Where, choice("Where it lies.", "on-roof")]
    in_raceway: Annotated[bool, prose("Whether a cable on a roof lies in a raceway there.")]
    table: Annotated[str, prose("Table that was read.", "NEC Table 310.17, 90 °C column")]
    base_a: Annotated[float, quantity("A", 0.0, _AMPS, "Table value.", 55.0)]
    temperature_c: Annotated[
        float, quantity("°C", -60.0, 200.0, "Air with the roof's addition.", 73.0)
    ]
    ambient_factor: Annotated[
        float, quantity("1", 0.0, 2.0, "For that temperature; 0 beyond the table.", 0.5)
    ]
    bundling_factor: Annotated[float, quantity("1", 0.0, 1.0, "For conductors together.", 1.0)]
    enclosure_factor: Annotated[float, quantity("1", 0.0, 1.0, "For thermal insulation.", 1.0)]
    corrected_a: Annotated[float, quantity("A", 0.0, _AMPS, "Product of the above.", 27.5)]


class RuleOutcome(Output, kw_only=True, gc=False):
    """A rule applied to one size, in short; the answer's checks hold title, basis and remedy."""

    code: Annotated[str, prose("Code of the check.", "voltage-drop")]
    verdict: Annotated[Verdict, choice("Outcome.", "pass")]
    demand: Annotated[float, quantity("see unit", -1e12, 1e12, "What the circuit asks for.", 0.29)]
    capacity: Annotated[float, quantity("see unit", -1e12, 1e12, "What the size allows.", 0.36)]
    unit: Annotated[str, prose("Unit of both.", "V")]


class SizeResult(Output, kw_only=True):
    """One size judged by every rule."""

    size: Annotated[str, prose("As written on the cable.", "10 AWG")]
    ladder: Annotated[Ladder, choice("Ladder that it belongs to.", "awg")]
    area_mm2: Annotated[float, quantity("mm²", 0.1, 1000.0, "Cross-section of the metal.", 5.261)]
    verdict: Annotated[Verdict, choice("Worst of its rules.", "pass")]
    rules: Annotated[list[RuleOutcome], listing(0, 60, "Every rule applied to this size.")]
    runs: Annotated[list[RunAmpacity], listing(1, 20, "How each run's ampacity came about.")]
    governing_run: Annotated[int, count(0, 19, "Index of the run with the least ampacity.", 0)]
    terminal_limit_a: (
        Annotated[float, quantity("A", 0.0, _AMPS, "Most that the terminals allow.", 30.0)] | None
    )
    small_conductor_limit_a: (
        Annotated[float, quantity("A", 0.0, _AMPS, "Largest device on a small conductor.", 30.0)]
        | None
    )
    ampacity_a: Annotated[
        float, quantity("A", 0.0, _AMPS, "Least of corrected values and terminal limit.", 27.5)
    ]
    largest_device_a: Annotated[
        float, quantity("A", 0.0, _AMPS, "Largest device that protects this size.", 30.0)
    ]
    conductor_temperature_c: Annotated[
        float,
        quantity(
            "°C",
            -60.0,
            200.0,
            "Behind the resistance: from load and ampacity, held at the insulation's limit.",
            75.3,
        ),
    ]
    loop_resistance_ohm: Annotated[
        float, quantity("Ω", 0.0, 1e4, "There and back at that temperature.", 0.0489)
    ]
    drop_v: Annotated[float, quantity("V", 0.0, 1e6, "Drop at the operating current.", 0.29)]
    drop_fraction: Annotated[float, quantity("1", 0.0, 1e6, "Drop over nominal voltage.", 0.015)]
    loss_w: Annotated[float, quantity("W", 0.0, 1e9, "Heat at the operating current.", 1.75)]
    energy_lost_wh_per_year: (
        Annotated[float, quantity("Wh", 0.0, 1e12, "In the given hours; None without.", 2450.0)]
        | None
    )
    cost_per_year: (
        Annotated[float, quantity("1", 0.0, 1e12, "Worth of that energy; None without.", 0.86)]
        | None
    )


class LadderResult(Output, kw_only=True):
    """Smallest size of one ladder, with its neighbours."""

    ladder: Annotated[Ladder, choice("AWG or square millimetres.", "awg")]
    role: Annotated[
        LadderRole,
        choice("Whether the selected rules are written for this ladder.", "rules"),
    ]
    method: Annotated[
        LadderMethod,
        choice(
            "Ampacity from the ladder's own tables, or from the rules' table at the next smaller "
            "area.",
            "own-tables",
        ),
    ]
    note: Annotated[str, prose("What that means here.")]
    chosen: Annotated[SizeResult, prose("Smallest size that fails no rule.")] | None
    governing: Annotated[
        str,
        prose(
            "Codes of the checks that rule out the next smaller size, or the largest if none "
            "passes; empty if the smallest passes.",
            "voltage-drop",
        ),
    ]
    neighbours: Annotated[
        list[SizeResult],
        listing(0, 15, "One size smaller and one or two larger; the largest if none passes."),
    ]
    sources: Annotated[list[SourceKey], listing(1, 20, "Tables that were read.")]

    @property
    def shown(self) -> SizeResult:
        """The chosen size, or the largest where none passes."""
        return self.chosen or self.neighbours[0]

    @property
    def sizes(self) -> list[SizeResult]:
        """The chosen size and its neighbours, thinnest first."""
        own = [] if self.chosen is None else [self.chosen]
        return sorted([*self.neighbours, *own], key=lambda size: size.area_mm2)


class FuseOption(Output, kw_only=True):
    """One family of fuses or breakers for this circuit."""

    family: Annotated[FuseFamily, choice("Family.", "class-t")]
    device: Annotated[DeviceKind, choice("Fuse or breaker.", "fuse")]
    title: Annotated[str, prose("In words.", "Class T, fast, current-limiting")]
    rating_a: (
        Annotated[float, quantity("A", 0.0, 2000.0, "Smallest size that fits; None if none.", 40.0)]
        | None
    )
    voltage_rating_v: Annotated[
        float, quantity("V", 1.0, 3000.0, "Rated voltage, direct current.", 125.0)
    ]
    interrupting_rating_a: Annotated[
        float, quantity("A", 1.0, 500_000.0, "Fault current that it can break.", 20_000.0)
    ]
    suitable: Annotated[bool, prose("Whether rating, voltage and interrupting rating all fit.")]
    why: Annotated[str, prose("Why it does or does not fit.")]
    basis: SourceKey


class Protection(Output, kw_only=True):
    """Overcurrent device: range, choice and place."""

    needed: Annotated[bool, prose("Whether the circuit needs a device.")]
    why: Annotated[str, prose("Reason.")]
    minimum_a: Annotated[
        float, quantity("A", 0.0, _AMPS * 3, "Smallest rating that does not trip in use.", 10.0)
    ]
    maximum_a: Annotated[
        float, quantity("A", 0.0, _AMPS * 3, "Largest rating that still protects.", 15.0)
    ]
    rating_a: (
        Annotated[float, quantity("A", 0.0, 2000.0, "Chosen size; None if none fits.", 15.0)] | None
    )
    family: Annotated[FuseFamily, choice("Chosen family.", "pv-cylindrical")] | None
    options: Annotated[list[FuseOption], listing(0, 20, "Families side by side.")]
    needed_voltage_v: Annotated[
        float, quantity("V", 0.0, 3000.0, "Voltage rating that it needs.", 14.6)
    ]
    needed_interrupting_a: Annotated[
        float, quantity("A", 0.0, 200_000.0, "Fault current that it must break.", 20_000.0)
    ]
    place: Annotated[str, prose("Where it sits.", "In the positive lead at the battery post.")]
    within_m: (
        Annotated[
            float,
            quantity("m", 0.0, 20.0, "Largest distance from the source; None if no rule.", 0.1778),
        ]
        | None
    )
    basis: SourceKey


class Disconnect(Output, kw_only=True):
    """A means to switch off."""

    name: Annotated[str, prose("What it switches.", "PV disconnect")]
    place: Annotated[str, prose("Where it sits.", "Within sight of the controller.")]
    poles: Annotated[str, prose("Which conductors it opens.", "positive and negative")]
    minimum_current_a: Annotated[
        float, quantity("A", 0.0, _AMPS * 3, "Current rating that it needs.", 16.0)
    ]
    minimum_voltage_v: Annotated[
        float, quantity("V", 0.0, 3000.0, "Direct-current voltage rating that it needs.", 29.0)
    ]
    at_hand_a: (
        Annotated[float, quantity("A", 0.0, _AMPS * 3, "Rating of one that is there.", 20.0)] | None
    ) = None
    load_break: Annotated[bool, prose("Whether it must open under load.")]
    note: Annotated[str, prose("What to know.")]
    basis: SourceKey
    part_key: PartKey


class WiringNote(Output, kw_only=True):
    """Advice on polarity, order or bonding."""

    code: Annotated[str, prose("Stable kebab-case code of the note.", "polarity-pv")]
    parameters: Parameters
    topic: Annotated[NoteTopic, choice("Subject.", "polarity")]
    text: Annotated[str, prose("What to do.")]
    basis: SourceKey


class Gland(Output, kw_only=True):
    """One cable gland."""

    size: Annotated[str, prose("Metric thread.", "M16")]
    cables_mm: Annotated[
        list[Annotated[float, quantity("mm", 0.0, 100.0, "Diameter of a cable through it.", 6.1)]],
        listing(1, 12, "Cables through it; one, or several in a multi-hole insert."),
    ]
    clamps_from_mm: Annotated[
        float, quantity("mm", 0.0, 100.0, "Thinnest cable that it seals.", 4.5)
    ]
    clamps_to_mm: Annotated[
        float, quantity("mm", 0.0, 100.0, "Thickest cable that it seals.", 10.0)
    ]
    hole_mm: Annotated[float, quantity("mm", 0.0, 100.0, "Hole to drill.", 16.3)]
    part_key: PartKey


class EntryAnswer(Output, kw_only=True):
    """How cables pass the roof or a wall."""

    glands: Annotated[list[Gland], listing(0, 12, "Glands; none where no size seals the cable.")]
    bend_radius_mm: Annotated[
        float, quantity("mm", 0.0, 1000.0, "Tightest bend of the thickest cable, inside.", 24.4)
    ]
    drip_loop_mm: Annotated[
        float, quantity("mm", 0.0, 1000.0, "How far the loop hangs below the entry.", 75.0)
    ]
    edge_protection: Annotated[str, prose("What keeps the edge from the cable.")]
    sealant: Annotated[str, prose("What keeps water out.")]
    steps: Annotated[
        list[Annotated[str, label("One step.", "Deburr the hole.", 400)]],
        listing(1, 20, "Steps in order."),
    ]
    basis: SourceKey


class WireSizingAnswer(Answer, kw_only=True):
    """Smallest conductor in both ladders, protection, disconnects and entry.

    `checks` are those of the chosen size of the rules' own ladder, then of the protection, of the
    conductor at hand and of the entry.
    """

    currents: Annotated[DesignCurrents, prose("Currents that the rules ask for.")]
    rules_ladder: Annotated[Ladder, choice("Ladder that the rules are written for.", "awg")]
    awg: Annotated[LadderResult, prose("American wire gauge.")]
    metric: Annotated[LadderResult, prose("Square millimetres.")]
    governing: Annotated[
        str,
        prose("The same for the rules' own ladder.", "voltage-drop"),
    ]
    at_hand: Annotated[SizeResult, prose("The conductor at hand, judged.")] | None
    protection: Annotated[Protection, prose("Fuse or breaker.")]
    disconnects: Annotated[list[Disconnect], listing(0, 4, "Means to switch off.")]
    notes: Annotated[list[WiringNote], listing(0, 20, "Polarity, order, bonding.")]
    entry: Annotated[EntryAnswer, prose("Cable entry, where asked for.")] | None
