"""Where a number comes from, what was assumed, and what to beware of."""

from typing import Annotated, Literal

from msgspec import Meta

from .base import Output
from .quantity import choice, label, prose

BasisKind = Literal["standard", "published", "physics", "common-practice", "given"]
CautionTopic = Literal[
    "electric-shock", "fire", "battery", "fall", "road-safety", "adhesive", "roof-leak", "judgement"
]


TextKind = Literal[
    "statement", "check", "remedy", "caution", "change", "load-case", "fault", "phrase"
]
SourceKey = Annotated[
    str, prose("Key of a source among the answer's `sources`.", "nec-2023: 690.9(A)")
]
Parameters = Annotated[
    dict[str, float | str | list[str]],
    Meta(
        description="Figures, names and texts that the text tells, units in the names of figures. "
        "A text stands among the answer's `texts`."
    ),
]


class Basis(Output, kw_only=True):
    """Source of a figure or rule."""

    key: Annotated[str, prose("Key by which the answer refers to it.", "nec-2023: 690.8")]
    kind: Annotated[BasisKind, choice("Kind of source.", "standard")]
    reference: Annotated[str, prose("Title, clause and edition of the source.", "NEC 2023, 690.8")]
    note: Annotated[
        str,
        prose(
            "How far the source was checked, and what to know when relying on it.",
            "Figures recalled from memory; check against the standard's own text.",
        ),
    ]


class Assumption(Output, kw_only=True):
    """A value that the caller did not give and that the engine chose."""

    field: Annotated[
        str, prose("Request field, as a JSON Pointer, that would set it.", "/site/hot_cell_c")
    ]
    value: Annotated[
        int | float | str | bool, prose("Value used; the unit is in the field name.", "70.0")
    ]
    why: Annotated[str, prose("Reason for this value, with its basis.", "Common practice.")]
    code: Annotated[str, prose("Stable kebab-case code of the reason.", "hottest-place")] = ""
    parameters: Parameters = {}


class Caution(Output, kw_only=True):
    """A danger of the work described, shown wherever someone may get hurt."""

    code: Annotated[str, prose("Stable kebab-case code of the caution.", "lit-panel")]
    about: Annotated[CautionTopic, choice("Kind of danger.", "electric-shock")]
    text: Annotated[
        str,
        label("What to beware of and whom to ask.", "A lit panel is live.", longest=600),
    ]


class CodedText(Output, kw_only=True):
    """A text of the answer as it is made from a code and parameters."""

    text: Annotated[str, prose("As it stands in the answer.", "2 strings of 2 × sheet-115")]
    kind: Annotated[
        TextKind,
        choice("Kind of its code; of a check or a load case it is the title.", "statement"),
    ]
    code: Annotated[str, prose("Stable code, unique within its kind.", "strings-of")]
    parameters: Parameters


class EngineStamp(Output, kw_only=True):
    """What computed an answer, so that it can be reproduced."""

    version: Annotated[str, prose("Engine version.", "0.1.0")]
    data_sha256: Annotated[
        str, prose("Digest over the tables and sources that the engine used.", "9f2c…")
    ]
