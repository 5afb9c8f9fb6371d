"""One rule applied to one build, and the parts that every answer shares."""

from typing import Annotated, Literal

from .base import Output
from .basis import Assumption, Basis, Caution, EngineStamp
from .documented import Documented
from .quantity import choice, label, listing, prose, quantity

Verdict = Literal["pass", "review", "not-assessed", "fail"]
VERDICTS: tuple[Verdict, ...] = ("pass", "review", "not-assessed", "fail")
"""All verdicts, worst last."""
VERDICT_HEADER = "X-Sunhitch-Verdict"
"""Tells the verdict beside an answer, however the answer is shown."""

_ANY = 1e12


class Check(Output, kw_only=True):
    """A demand compared with a capacity under one rule."""

    code: Annotated[str, label("Stable kebab-case code of the rule.", "cold-voc-controller")]
    title: Annotated[
        str, label("The rule in words.", "Open-circuit voltage on the coldest morning", 160)
    ]
    subject: (
        Annotated[
            str, prose("What the rule was applied to; null for the whole request.", "string 1")
        ]
        | None
    )
    verdict: Annotated[Verdict, choice("Outcome.", "pass")]
    demand: (
        Annotated[float, quantity("see unit", -_ANY, _ANY, "What the build asks for.", 83.1)] | None
    )
    capacity: (
        Annotated[float, quantity("see unit", -_ANY, _ANY, "What the rule allows.", 100.0)] | None
    )
    unit: (
        Annotated[str, prose("Unit of demand and capacity; null where there is neither.", "V")]
        | None
    )
    utilisation_fraction: (
        Annotated[
            float,
            quantity(
                "1",
                0.0,
                _ANY,
                "Demand ÷ capacity; null where there is no ratio, as where nothing is allowed.",
                0.83,
            ),
        ]
        | None
    )
    basis: Annotated[Basis, prose("Where the rule comes from.")]
    remedy: Annotated[
        str, prose("What to change; empty when it passes.", "Use two strings instead of one.")
    ]


class Answer(Documented, kw_only=True):
    """What every calculation answers beside its own results."""

    verdict: Annotated[Verdict, choice("Worst verdict among the checks.", "review")]
    checks: Annotated[list[Check], listing(0, 100_000, "Every rule that was applied.")]
    assumptions: Annotated[
        list[Assumption], listing(0, 10_000, "Values that the engine chose for the caller.")
    ]
    cautions: Annotated[list[Caution], listing(0, 200, "Dangers of this work.")]
    engine: Annotated[EngineStamp, prose("What computed this answer.")]

    def __repr__(self) -> str:
        """Its kind and verdict; `print(operation_of(answer).text(answer))` tells all of it."""
        return f"<{type(self).__name__} {self.verdict}: {len(self.checks)} checks>"
