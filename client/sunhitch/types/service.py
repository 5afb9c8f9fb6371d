"""What the service tells of itself: its state, its flat questions, the tables of its engine."""

from typing import Annotated, Literal

from msgspec import Meta

from .base import Output
from .basis import Basis, EngineStamp
from .check import Verdict
from .quantity import choice, count, listing, prose

ServiceState = Literal["live", "ready"]
LoopState = Literal["compiled", "compiling", "none"]


class Health(Output, kw_only=True):
    """State of the service."""

    status: Annotated[
        ServiceState,
        choice("`live`: it answers. `ready`: tables are loaded and workers are up.", "ready"),
    ]
    loops: Annotated[
        LoopState,
        choice(
            "Inner loops: `compiling` and `none` calculate the same with NumPy, slower.", "compiled"
        ),
    ]
    engine: Annotated[EngineStamp, prose("What computes the answers.")]


class QuickQuestion(Output, kw_only=True):
    """One question in the list."""

    name: Annotated[str, prose("Last part of the path.", "cold-voc")]
    title: Annotated[str, prose("In a few words.", "Open-circuit voltage in the cold")]
    description: Annotated[str, prose("What it answers.")]
    value: Annotated[str, prose("Field that `format=txt` gives alone.", "string_v_oc_v")]
    example: Annotated[
        str, prose("A call.", "/v1/quick/cold-voc?v_oc_v=22.9&lowest_ambient_c=-18&format=txt")
    ]


class QuickQuestions(Output, kw_only=True):
    """Every quick question."""

    questions: Annotated[list[QuickQuestion], listing(1, 1000, "In the order of the work.")]


CodeKind = Literal[
    "check",
    "remedy",
    "caution",
    "work-step",
    "note",
    "change",
    "load-case",
    "statement",
    "problem",
    "fault",
    "phrase",
]


class CodeInfo(Output, kw_only=True):
    """One code that an answer or a problem may carry."""

    kind: Annotated[CodeKind, choice("What carries it.", "check")]
    code: Annotated[str, prose("Stable; unique within its kind.", "cold-voc-controller")]
    title: Annotated[str, prose("The same for all that carry it; empty where it has none.")]
    meaning: Annotated[str, prose("What it says, in a sentence; empty where the text says it.")]
    template: Annotated[
        str,
        prose(
            "Text with `{parameter:format}` where parameters go. A format is `.1f` and the like, "
            "`g`, `percent` for a fraction, `ceil` for a figure rounded up, `at-least` and "
            "`at-most` for three digits rounded up or down, `figure` for three digits, "
            "`both m` for metres and feet and so with other units, `word` for a key of "
            "`words`, `lower` or `capital` for how a text begins, `and`, `comma`, `semicolon`, "
            "`plus`, `to` or `space` for what stands between the entries of a list, or nothing. "
            "Spaces at the end of a text count for nothing.",
            "Move it {short_m:at-least} m away from {obstacle}.",
        ),
    ]
    severity: Annotated[Verdict, choice("Verdict beyond a check's limit.", "fail")] | None
    unit: Annotated[str, prose("Of a check's demand and capacity; empty where it has none.", "V")]
    parameters: Annotated[
        dict[str, str], Meta(description="What each parameter is; its unit is in its name.")
    ]


class Codes(Output, kw_only=True):
    """Every code with its texts, out of which a front end makes its own language."""

    codes: Annotated[list[CodeInfo], listing(1, 10_000, "By kind.")]
    words: Annotated[dict[str, str], Meta(description="Words that templates name by a key.")]


class ReferenceTableInfo(Output, kw_only=True):
    """One table in the list."""

    name: Annotated[str, prose("Last part of its path.", "wiring-nec-table-8")]
    basis: Annotated[Basis, prose("Where its figures come from.")]
    columns: Annotated[
        list[Annotated[str, prose("Name with its unit.", "area_mm2")]],
        listing(1, 200, "Columns, in order."),
    ]
    rows: Annotated[int, count(1, 100_000, "How many there are.", 15)]


class ReferenceTables(Output, kw_only=True):
    """Every table that the engine reads."""

    tables: Annotated[list[ReferenceTableInfo], listing(1, 1000, "By name.")]


class ReferenceTable(Output, kw_only=True):
    """One table with its source."""

    name: Annotated[str, prose("Its name.", "wiring-nec-table-8")]
    basis: Annotated[Basis, prose("Where its figures come from.")]
    columns: Annotated[
        list[Annotated[str, prose("Name with its unit.", "area_mm2")]],
        listing(1, 200, "Columns, in order."),
    ]
    rows: Annotated[
        list[dict[str, float | str | None]],
        listing(1, 100_000, "Values by column; null where the table has none."),
    ]
