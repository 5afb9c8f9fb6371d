"""`fit-out-change`: the least change of a job that is under way, or that fails."""

from typing import Annotated, Any, Literal

from msgspec import UNSET, UnsetType

from .base import Input, Output
from .basis import Parameters
from .check import Answer, Verdict
from .fitout import FitOutRequest
from .mount import PassSpeed
from .panel import PanelTypeName
from .parts import Part, PartKey
from .quantity import choice, count, label, listing, prose, quantity
from .roof import RoofPlan

ChangeGoal = Literal["no-failure", "no-new-failure", "as-wanted"]
PatchOperation = Literal["add", "remove", "replace"]
MOST_CHANGES = 10
"""Lines of a list that is read on a roof."""
_MoneyMore = Annotated[
    float, quantity("see currency", -1e7, 1e7, "Negative where it is less.", 140.0)
]
Json = bool | int | float | str | list[Any] | dict[str, Any] | None
"""Any value of JSON."""


class AddedPanels(Input, kw_only=True):
    """More panels of a type that the job knows."""

    panel_type: PanelTypeName
    number: Annotated[int, count(1, 12, "How many more.", 1)]


class WantedValue(Input, kw_only=True):
    """A value of the job that is to be another."""

    pointer: Annotated[
        str,
        label(
            "JSON Pointer into the job; `-` at its end adds to a list.",
            "/roof/obstacles/0/x_m",
            longest=200,
        ),
    ]
    value: Annotated[Json, prose("New value; null takes out what may be absent.")]


class FitOutChangeRequest(Input, kw_only=True):
    """A job and what is to be different."""

    job: Annotated[FitOutRequest, prose("The job as it stands; its `parts` say how far each is.")]
    add_panels: Annotated[list[AddedPanels], listing(0, 6, "Panels to be added.")] = []
    values: Annotated[
        list[WantedValue], listing(0, 50, "Values to be other; nothing here is undone again.")
    ] = []
    goal: Annotated[
        ChangeGoal,
        choice(
            "Change until nothing fails, until nothing fails that passed before, or no more than "
            "is wanted.",
            "no-failure",
        ),
    ] = "no-failure"


class PatchStep(Output, kw_only=True):
    """One operation of a JSON Patch (RFC 6902)."""

    op: Annotated[PatchOperation, choice("Operation.", "replace")]
    path: Annotated[str, prose("JSON Pointer into the job.", "/roof/obstacles/0/x_m")]
    value: Annotated[Json, prose("New value; absent where there is none.")] | UnsetType = UNSET


class JobChange(Output, kw_only=True):
    """One thing to do differently."""

    code: Annotated[str, prose("Stable kebab-case code of the kind of change.", "panel-moved")]
    parameters: Parameters
    text: Annotated[str, prose("What to do differently.", "Move sheet-2 by 40 mm to the rear.")]
    wanted: Annotated[bool, prose("Whether the caller asked for it; else it makes the job hold.")]
    reason: Annotated[
        str, prose("What it mends, by the titles of checks.", "Space between panel and obstacle")
    ]


class ChangeCost(Output, kw_only=True):
    """What a change costs beyond the job as it stood, by the caller's rates and prices.

    What is spared counts where it is planned: what is owned, fixed or broken is paid for.
    """

    hours: Annotated[float, quantity("h", -1000.0, 1000.0, "Work more than before.", 0.4)]
    currency: Annotated[str, prose("Of the amounts.", "EUR")]
    labour: Annotated[_MoneyMore | None, prose("None without a rate.")]
    parts_added: Annotated[_MoneyMore | None, prose("None while one of them has no price.")]
    parts_spared: Annotated[_MoneyMore | None, prose("None while one of them has no price.")]
    total: Annotated[_MoneyMore | None, prose("None while a rate or a price is missing.")]
    without_price: Annotated[
        list[PartKey], listing(0, 600, "Parts added or spared that have no price.")
    ]


class FailingCheck(Output, kw_only=True):
    """A check that fails."""

    code: Annotated[str, prose("Code of the rule.", "panel-obstacle-clearance")]
    subject: Annotated[str, prose("What it is about; empty for the whole job.", "sheet-2")]
    title: Annotated[str, prose("The rule in words.", "Space between panel and obstacle")]
    remedy: Annotated[str, prose("What to change.", "Move the panel 12 mm away from it.")]


class JobFigures(Output, kw_only=True):
    """A job at one look."""

    verdict: Annotated[Verdict, choice("Worst verdict among its checks.", "review")]
    failing: Annotated[list[FailingCheck], listing(0, 100_000, "Checks that fail.")]
    panels: Annotated[int, count(0, 24, "Panels on the roof.", 4)]
    array_power_w: Annotated[float, quantity("W", 0.0, 1e6, "Nameplate power.", 460.0)]
    weighted_power_w: Annotated[
        float, quantity("W", 0.0, 1e6, "Charging power averaged over sun and shade.", 350.0)
    ]
    panel_mass_kg: Annotated[float, quantity("kg", 0.0, 3000.0, "Mass of all panels.", 9.2)]
    pass_speed_m_s: PassSpeed


class NearestChange(Output, kw_only=True):
    """The job nearest to what is wanted in which nothing is against the goal."""

    summary: Annotated[str, prose("What of the wanted is given up.", "Use plugs rated 20 A.")]
    changes: Annotated[
        list[JobChange], listing(1, MOST_CHANGES, "What to do differently from the job as sent.")
    ]
    patch: Annotated[list[PatchStep], listing(0, 1000, "The same as a JSON Patch (RFC 6902).")]
    after: Annotated[JobFigures, prose("The job after these changes.")]


class FitOutChangeAnswer(Answer, kw_only=True):
    """What to do differently; `checks` are those of the job after it.

    The patch turns the job that was sent into the job after the change: ask `fit-out` for that to
    get its schedules, parts, steps and pictures.
    """

    title: Annotated[str, prose("Name of the job.", "Library van 7")]
    met: Annotated[bool, prose("Whether the goal is reached; else this comes nearest to it.")]
    summary: Annotated[
        list[Annotated[str, prose("One sentence.")]], listing(1, 10, "The answer in plain words.")
    ]
    changes: Annotated[
        list[JobChange],
        listing(0, MOST_CHANGES, "What to do differently, what was wanted first."),
    ]
    patch: Annotated[list[PatchStep], listing(0, 1000, "The same as a JSON Patch (RFC 6902).")]
    before: Annotated[JobFigures, prose("The job as it was sent.")]
    after: Annotated[JobFigures, prose("The job after the changes.")]
    plan: Annotated[RoofPlan, prose("The roof after the changes, for drawing.")]
    parts_added: Annotated[list[Part], listing(0, 300, "What is to be bought beyond before.")]
    parts_spared: Annotated[list[Part], listing(0, 300, "What is no longer needed.")]
    cost: Annotated[ChangeCost, prose("Hours and money of the change.")]
    nearest: (
        Annotated[
            NearestChange,
            prose("Where the goal is not reached, what reaches it with the least given up."),
        ]
        | None
    )
