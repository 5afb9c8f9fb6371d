"""`array-configuration`: which panels in series, which in parallel, on which controller."""

from typing import Annotated, Literal

from .base import Input, Output
from .check import Answer, Check, Verdict
from .panel import PanelElectrical, PanelName, PanelType
from .quantity import choice, count, label, listing, prose, quantity
from .shade import PanelLight
from .system import Battery, Controller, PanelMountingHeat, RuleSet, SiteTemperatures

BranchJoining = Literal["two-by-two", "n-to-one"]

RankBy = Literal["energy", "sun-power", "margin"]
HarnessKind = Literal["branch-connector", "extension", "string-fuse"]
HarnessPolarity = Literal["positive", "negative", "both", "between-panels"]
SensitivityChange = Literal[
    "site-10-k-colder",
    "one-more-in-series",
    "one-more-string",
    "other-controller-voltage",
    "other-controller-current",
]


class PanelTypeCount(PanelType, kw_only=True):
    """Panels of one type."""

    count: Annotated[int, count(1, 24, "Panels of this type.", 4)]
    instances: Annotated[
        list[PanelName],
        listing(0, 24, "Names of the single panels; `name-1`, `name-2`, … where none are given."),
    ] = []
    lead_length_m: (
        Annotated[float, quantity("m", 0.0, 5.0, "Length of each of the panel's own leads.", 0.9)]
        | None
    ) = None


class SunState(Input, kw_only=True):
    """Full sun in the panels' plane."""

    irradiance_w_m2: Annotated[
        float, quantity("W/m²", 1.0, 1500.0, "Irradiance on an unshaded cell.", 1000.0)
    ] = 1000.0
    cell_temperature_c: (
        Annotated[
            float,
            quantity("°C", -60.0, 130.0, "Cells; estimated for 25 °C air if not given.", 50.0),
        ]
        | None
    ) = None


class ShadeState(Input, kw_only=True):
    """One state of light and how much of the useful time it lasts."""

    name: Annotated[str, label("Name, unique within the request.", "mast at noon")]
    weight_fraction: Annotated[
        float,
        quantity("1", 0.0, 1.0, "Share of the useful time; what is left is full sun.", 0.2),
    ]
    irradiance_w_m2: Annotated[
        float, quantity("W/m²", 1.0, 1500.0, "Irradiance on an unshaded cell.", 800.0)
    ]
    cell_temperature_c: Annotated[
        float, quantity("°C", -60.0, 130.0, "Cell temperature of all panels.", 45.0)
    ]
    light: Annotated[
        list[PanelLight], listing(0, 48, "Shaded panels; those not listed see the full state.")
    ] = []


class ConnectorRatings(Input, kw_only=True):
    """Plugs and branch connectors between panels and entry."""

    plug_current_a: (
        Annotated[float, quantity("A", 1.0, 200.0, "Rating of one plug pair.", 30.0)] | None
    ) = None
    branch_current_a: (
        Annotated[
            float, quantity("A", 1.0, 200.0, "Rating of a branch connector's joined side.", 30.0)
        ]
        | None
    ) = None
    largest_conductor_mm2: (
        Annotated[
            float, quantity("mm²", 0.5, 120.0, "Largest conductor that a plug's sleeve takes.", 6.0)
        ]
        | None
    ) = None
    joining: Annotated[
        BranchJoining,
        choice("Y pieces that join two each, or one piece that joins all.", "two-by-two"),
    ] = "two-by-two"


class ArrayConnectors(ConnectorRatings, kw_only=True):
    """Plugs, branch connectors and string fuses; a fit-out has these among its `parts`."""

    string_fuse_a: (
        Annotated[
            float, quantity("A", 0.5, 200.0, "String fuses at hand, judged as they are.", 15.0)
        ]
        | None
    ) = None


class RemovablePanel(Input, kw_only=True):
    """A panel that is plugged in beside an array where the vehicle stands."""

    name: Annotated[str, label("Name, unique within the request.", "suitcase panel")]
    controller: Annotated[str, label("Name of the controller.", "controller-1")]
    electrical: Annotated[PanelElectrical, prose("Nameplate of one panel.")]
    in_series: Annotated[int, count(1, 12, "Such panels in series.", 1)] = 1
    lead_m: Annotated[float, quantity("m", 0.1, 30.0, "Lead to the controller, one way.", 6.0)]
    plug_current_a: (
        Annotated[float, quantity("A", 1.0, 200.0, "Rating of its plug and socket.", 30.0)] | None
    ) = None
    interlocked: Annotated[
        bool, prose("Whether a switch opens before the plug can be pulled, and pins are shrouded.")
    ] = False


Removable = Annotated[list[RemovablePanel], listing(0, 2, "One on each controller at most.")]


class DrawnArray(Input, kw_only=True):
    """Strings on one controller, as drawn."""

    controller: Annotated[str, label("Name of the controller.", "controller-1")]
    strings: Annotated[
        list[Annotated[list[PanelName], listing(1, 24, "In series, from the positive end.")]],
        listing(1, 24, "Strings in parallel."),
    ]


Drawn = Annotated[
    list[DrawnArray],
    listing(0, 2, "A wiring to be judged as drawn; panels that it leaves out stay unused."),
]


class PanelPlace(Input, kw_only=True):
    """Where a panel's junction box is, in roof coordinates."""

    panel: PanelName
    x_m: Annotated[float, quantity("m", -5.0, 30.0, "From the front edge rearwards.", 0.6)]
    y_m: Annotated[float, quantity("m", -5.0, 30.0, "From the left edge to the right.", 0.4)]


class HarnessLayout(Input, kw_only=True):
    """Places on the roof; with them the extensions get lengths."""

    entry_x_m: Annotated[float, quantity("m", -5.0, 30.0, "Cable entry, x.", 2.8)]
    entry_y_m: Annotated[float, quantity("m", -5.0, 30.0, "Cable entry, y.", 1.0)]
    places: Annotated[list[PanelPlace], listing(1, 48, "Junction box of every panel.")]
    slack_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Added to every length for bends and loops.", 0.1)
    ] = 0.1


class ArrayTarget(Input, kw_only=True):
    """What makes one arrangement better than another."""

    rank_by: Annotated[
        RankBy,
        choice(
            "Weighted power over sun and shade, power in full sun, or distance from every limit.",
            "energy",
        ),
    ] = "energy"
    minimum_power_w: (
        Annotated[float, quantity("W", 1.0, 50_000.0, "Charging power wanted in sun.", 400.0)]
        | None
    ) = None
    voltage_reserve_fraction: (
        Annotated[
            float,
            quantity("1", 0.0, 0.5, "Wanted reserve below the controller's voltage.", 0.05),
        ]
        | None
    ) = None


class ArrayConfigurationRequest(Input, kw_only=True):
    """Panels at hand, what they feed and where they travel."""

    panels: Annotated[list[PanelTypeCount], listing(1, 6, "Panel types with counts.")]
    controllers: Annotated[
        list[Controller], listing(1, 2, "Controllers at hand; an arrangement may use one of two.")
    ]
    battery: Annotated[Battery, prose("Battery bank behind every controller.")]
    site: Annotated[SiteTemperatures, prose("Temperatures to live with.")]
    mounting_heat: Annotated[PanelMountingHeat, prose("How the panels shed heat.")] = (
        PanelMountingHeat()
    )
    rules: Annotated[RuleSet, choice("Rules to apply.", "nec-2023")] | None = None
    sun: Annotated[SunState, prose("Full sun.")] = SunState()
    shade: Annotated[list[ShadeState], listing(0, 20, "Other states of light.")] = []
    connectors: Annotated[ArrayConnectors, prose("Plugs, branches, string fuses.")] = (
        ArrayConnectors()
    )
    layout: Annotated[HarnessLayout, prose("Places, for cable lengths.")] | None = None
    target: Annotated[ArrayTarget, prose("What to rank by.")] = ArrayTarget()
    removable: Removable = []
    other_charging_a: Annotated[
        float, quantity("A", 0.0, 2000.0, "Chargers that may run beside the array.", 30.0)
    ] = 0.0
    drawn: Drawn = []
    leave_out_at_most: (
        Annotated[int, count(0, 23, "Panels that an arrangement may leave unused.", 1)] | None
    ) = None
    most_arrangements: Annotated[int, count(1, 200, "Arrangements to return.", 10)] = 10


class ArrangedString(Output, kw_only=True):
    """Panels in series."""

    panels: Annotated[list[PanelName], listing(1, 24, "From the positive end.")]
    cold_voc_coefficient_v: (
        Annotated[
            float,
            quantity("V", 0.0, 1e5, "Open circuit in the cold by the panels' coefficient.", 51.3),
        ]
        | None
    )
    cold_voc_table_v: (
        Annotated[
            float, quantity("V", 0.0, 1e5, "Open circuit in the cold by the rules' table.", 54.0)
        ]
        | None
    )
    hot_vmp_v: Annotated[
        float, quantity("V", -1e5, 1e5, "At maximum power with hot cells, nameplate.", 31.2)
    ]
    i_sc_a: Annotated[
        float,
        quantity(
            "A",
            0.0,
            1e4,
            "Largest Isc of its panels; more beyond 1250 W/m² and where the back is lit.",
            6.4,
        ),
    ]
    i_mp_a: Annotated[float, quantity("A", 0.0, 1e4, "Smallest Imp of its panels.", 5.99)]
    p_mp_w: Annotated[float, quantity("W", 0.0, 1e6, "Sum of nameplate powers.", 230.0)]
    reverse_current_a: Annotated[
        float, quantity("A", 0.0, 1e6, "What other sources can push back into it.", 16.0)
    ]
    fuse_a: (
        Annotated[float, quantity("A", 0.1, 1000.0, "String fuse; None where none is fitted.", 10)]
        | None
    )

    @property
    def cold_voc_v(self) -> float | None:
        """Open circuit in the cold, the higher of both methods [V]; None where neither applies."""
        known = [v for v in (self.cold_voc_coefficient_v, self.cold_voc_table_v) if v is not None]
        return max(known, default=None)


class ControllerArray(Output, kw_only=True):
    """What is wired to one controller."""

    controller: Annotated[str, prose("Name of the controller.", "controller-1")]
    strings: Annotated[list[ArrangedString], listing(1, 24, "Strings in parallel.")]
    i_sc_a: Annotated[float, quantity("A", 0.0, 1e4, "Sum of the strings' Isc.", 12.8)]
    p_mp_w: Annotated[float, quantity("W", 0.0, 1e6, "Sum of nameplate powers.", 460.0)]
    output_current_a: Annotated[
        float,
        quantity("A", 0.0, 1e4, "Charging current in full sun, after every limit.", 27.5),
    ]
    hot_power_w: Annotated[float, quantity("W", 0.0, 1e6, "Panel power with hot cells.", 380.0)]
    removable: (
        Annotated[ArrangedString, prose("What is plugged in beside it; null where nothing is.")]
        | None
    )

    @property
    def whole(self) -> list[ArrangedString]:
        """Strings, and what is plugged in beside them."""
        return [*self.strings, *([self.removable] if self.removable else [])]

    @property
    def whole_i_sc_a(self) -> float:
        """Sum of Isc with what is plugged in beside the strings [A]."""
        return sum(string.i_sc_a for string in self.whole)

    @property
    def whole_p_mp_w(self) -> float:
        """Sum of nameplate powers with what is plugged in beside the strings [W]."""
        return sum(string.p_mp_w for string in self.whole)

    @property
    def cold_voc_v(self) -> float | None:
        """Highest of all that meets at the controller in the cold [V]; None if one is not known."""
        volts = [string.cold_voc_v for string in self.whole]
        known = [v for v in volts if v is not None]
        return max(known) if len(known) == len(volts) else None


class StatePower(Output, kw_only=True):
    """Power of an arrangement in one state of light."""

    name: Annotated[str, prose("`sun`, or the name of the shade state.", "mast at noon")]
    weight_fraction: Annotated[float, quantity("1", 0.0, 1.0, "Share of the time.", 0.2)]
    available_w: Annotated[
        float, quantity("W", 0.0, 1e6, "Every panel alone at its own maximum.", 430.0)
    ]
    panel_power_w: Annotated[
        float, quantity("W", 0.0, 1e6, "What the controllers can draw from the panels.", 415.0)
    ]
    charging_power_w: Annotated[float, quantity("W", 0.0, 1e6, "What reaches the battery.", 396.0)]
    clipped_w: Annotated[
        float, quantity("W", 0.0, 1e6, "Panel power left unused at a controller limit.", 0.0)
    ]


class HarnessItem(Output, kw_only=True):
    """Parts of one kind in one place."""

    kind: Annotated[HarnessKind, choice("Kind of part.", "branch-connector")]
    pieces: Annotated[int, count(0, 1000, "How many.", 1)]
    polarity: Annotated[HarnessPolarity, choice("Conductor.", "positive")]
    joins: Annotated[int, count(0, 24, "Branches that one piece joins; 0 where it joins none.", 2)]
    rating_a: (
        Annotated[float, quantity("A", 0.1, 1000.0, "Rating; None where not decided here.", 30.0)]
        | None
    )
    current_a: Annotated[
        float, quantity("A", 0.0, 1e4, "Largest current through it, 1.25 × Isc.", 16.0)
    ]
    length_m: (
        Annotated[float, quantity("m", 0.0, 200.0, "Length of each; None without places.", 1.5)]
        | None
    )
    controller: Annotated[str, prose("Controller whose array it belongs to.", "controller-1")]
    strings: Annotated[
        list[Annotated[int, count(1, 24, "String, counted from 1.", 1)]],
        listing(0, 24, "Strings whose current it carries."),
    ]
    where: Annotated[str, prose("Where it goes.", "where strings 1 and 2 meet")]
    part_key: Annotated[
        str,
        prose("Key of the part; empty where it is cut from cable or sits in it.", "plug-pair:30a"),
    ]


class Sensitivity(Output, kw_only=True):
    """What a change would do to an arrangement."""

    change: Annotated[SensitivityChange, choice("What changes.", "site-10-k-colder")]
    controller: Annotated[str, prose("Controller whose array it is about.", "controller-1")]
    verdict: Annotated[Verdict, choice("Verdict of the rule that the change touches.", "fail")]
    demand: Annotated[
        float, quantity("see unit", -1e12, 1e12, "What the build would ask for.", 103.0)
    ]
    capacity: Annotated[
        float, quantity("see unit", -1e12, 1e12, "What the rule would allow.", 100.0)
    ]
    unit: Annotated[str, prose("Unit of demand and capacity.", "V")]
    text: Annotated[str, prose("The same in words.", "10 K colder: 103 V at a limit of 100 V.")]


class Arrangement(Output, kw_only=True):
    """One way to wire the panels."""

    rank: Annotated[int, count(1, 200, "Place in the ranking.", 1)]
    name: Annotated[str, prose("Short name.", "2 strings of 2 × sheet-115")]
    verdict: Annotated[Verdict, choice("Worst verdict among its checks.", "pass")]
    arrays: Annotated[list[ControllerArray], listing(1, 2, "One per controller in use.")]
    leftover: Annotated[list[PanelName], listing(0, 48, "Panels left unused.")]
    weighted_power_w: Annotated[
        float, quantity("W", 0.0, 1e6, "Charging power averaged over the states.", 350.0)
    ]
    sun: Annotated[StatePower, prose("Full sun.")]
    shade: Annotated[list[StatePower], listing(0, 20, "Every shade state, as given.")]
    mismatch_fraction: Annotated[
        float,
        quantity("1", 0.0, 1.0, "Share of panel power in sun lost by sharing.", 0.01),
    ]
    margin_fraction: Annotated[
        float,
        quantity("1", -1e9, 1.0, "Distance from the nearest limit; negative beyond it.", 0.12),
    ]
    harness: Annotated[list[HarnessItem], listing(0, 200, "Parts between panels and entry.")]
    reasons: Annotated[
        list[Annotated[str, prose("One reason.")]], listing(1, 20, "Why it ranks where it does.")
    ]
    sensitivity: Annotated[list[Sensitivity], listing(0, 10, "What would change it.")]
    checks: Annotated[list[Check], listing(1, 500, "Every rule applied to it.")]


class Rejection(Output, kw_only=True):
    """Arrangements that fail for the same reason."""

    code: Annotated[str, prose("Code of the failing check.", "cold-voc-controller")]
    title: Annotated[
        str, prose("The rule in words.", "Open-circuit voltage in the cold against the controller")
    ]
    arrangements: Annotated[
        int, count(1, 1_000_000_000_000_000, "How many fail it; one may fail several.", 12)
    ]
    example: Annotated[str, prose("One of them, with its figures.", "1 string of 4: 104 of 100 V")]


class ArrayConfigurationAnswer(Answer, kw_only=True):
    """Arrangements in order.

    Checks are those of the wiring as drawn, else of the first one; then the battery's in the cold.
    """

    hot_cell_c: Annotated[float, quantity("°C", -60.0, 200.0, "Hot cells reckoned with.", 78.0)]
    lowest_ambient_c: Annotated[float, quantity("°C", -60.0, 40.0, "Cold reckoned with.", -18.0)]
    charge_voltage_v: Annotated[
        float, quantity("V", 5.0, 100.0, "Highest charging voltage reckoned with.", 14.4)
    ]
    examined: Annotated[
        int,
        count(0, 1_000_000_000_000_000, "Distinct arrangements, symmetric ones counted once.", 64),
    ]
    passing: Annotated[
        int,
        count(0, 1_000_000_000_000_000, "Of these, within every limit of voltage and current.", 17),
    ]
    complete: Annotated[
        bool,
        prose("Whether every distinct assignment of single panels to strings was examined."),
    ]
    drawn: Annotated[Arrangement, prose("The wiring as drawn; null where none is.")] | None
    arrangements: Annotated[list[Arrangement], listing(1, 200, "Best first.")]
    rejections: Annotated[list[Rejection], listing(0, 50, "Why the others fail.")]
    summary: Annotated[
        list[Annotated[str, prose("One sentence.")]],
        listing(1, 20, "What to build and why, in plain words."),
    ]
