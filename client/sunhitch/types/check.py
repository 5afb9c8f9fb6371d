"""One rule applied to one build, and the parts that every answer shares."""

from typing import Annotated, Literal, Self

from .base import Output
from .basis import Assumption, Basis, Caution, CodedText, EngineStamp, Parameters, SourceKey
from .documented import Documented
from .quantity import choice, count, label, listing, prose, quantity

Verdict = Literal["pass", "review", "not-assessed", "fail"]
VERDICTS: tuple[Verdict, ...] = ("pass", "review", "not-assessed", "fail")
"""All verdicts, worst last."""
Checks = Literal["all", "open", "counts"]
"""Which checks of an answer are told; open are those that do not pass."""
VERDICT_HEADER = "X-Sunhitch-Verdict"
"""Tells the verdict beside an answer, however the answer is shown."""

_ANY = 1e12


class Check(Output, kw_only=True):
    """A demand compared with a capacity under one rule."""

    code: Annotated[str, label("Stable kebab-case code of the rule.", "cold-voc-controller")]
    title: Annotated[
        str,
        label(
            "The rule in words, the same for every check with this code.",
            "Open-circuit voltage on the coldest morning",
            160,
        ),
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
    basis: SourceKey
    parameters: Parameters
    note: Annotated[
        str, prose("What else to know of this case; mostly empty.", "Least space is at vent.")
    ]
    remedy: Annotated[
        str, prose("What to change; empty when it passes.", "Use two strings instead of one.")
    ]
    remedies: Annotated[
        list[Annotated[str, prose("Code.", "cold-voc-controller.fewer")]],
        listing(0, 20, "Codes of the sentences of `remedy`, in order."),
    ]


class VerdictCounts(Output, kw_only=True):
    """How many checks have which verdict."""

    passed: Annotated[int, count(0, 100_000, "Checks that pass.", 40)]
    review: Annotated[int, count(0, 100_000, "Checks for a person to review.", 2)]
    not_assessed: Annotated[int, count(0, 100_000, "Checks that lack a figure.", 1)]
    failed: Annotated[int, count(0, 100_000, "Checks that fail.", 0)]


class AnswerPart(Documented, kw_only=True):
    """What any parts of an answer tell; a subclass names the parts that a program wants.

    Examples
    --------
    >>> class FirstScreen(AnswerPart):
    ...     summary: list[str]
    ...     checks: list[Check]
    >>> screen = client.fit_out(job, fields=FirstScreen, checks="open")  # doctest: +SKIP
    """

    verdict: Annotated[Verdict, choice("Worst verdict among the checks.", "review")]
    counts: Annotated[VerdictCounts, prose("How many checks have which verdict.")]
    answer_id: Annotated[
        str,
        prose("Same for the same request to the same engine.", "5d41402abc4b2a76b9719d911017c592"),
    ]


class Answer(AnswerPart, kw_only=True):
    """What every calculation answers beside its own results."""

    checks: Annotated[list[Check], listing(0, 100_000, "Every rule that was applied.")]
    sources: Annotated[
        list[Basis], listing(0, 1000, "Sources that the answer refers to, each once.")
    ]
    assumptions: Annotated[
        list[Assumption], listing(0, 10_000, "Values that the engine chose for the caller.")
    ]
    cautions: Annotated[list[Caution], listing(0, 200, "Dangers of this work.")]
    texts: Annotated[
        list[CodedText],
        listing(0, 100_000, "Code and parameters of texts that have none beside them, each once."),
    ] = []
    engine: Annotated[EngineStamp, prose("What computed this answer.")]

    def source_of(self, cited: Check) -> Basis | None:
        """Source of a check of this answer; None where the answer does not tell it."""
        return next((one for one in self.sources if one.key == cited.basis), None)

    def diff(self, other: Self) -> str:
        """What is different in another answer of the same calculation, in ten lines or less.

        Parameters
        ----------
        other : Answer
            For example that to a variant of the request.

        Returns
        -------
        str
            Verdicts, checks that changed most, amounts that differ most.
        """
        return self._documents.differences(self, other)

    def __repr__(self) -> str:
        """Its kind and verdict; `print(operation_of(answer).text(answer))` tells all of it."""
        return f"<{type(self).__name__} {self.verdict}: {len(self.checks)} checks>"
