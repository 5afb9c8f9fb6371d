"""What the answers of most quick questions say in words."""

from typing import Annotated, TypeAlias

from sunhitch.types.base import Output
from sunhitch.types.basis import CodedText
from sunhitch.types.quantity import listing, prose

Remedy: TypeAlias = Annotated[str, prose("What to change; empty when nothing needs to be.")]


class FlatAnswer(Output, kw_only=True, omit_defaults=True, repr_omit_defaults=True):
    """What every flat question answers behind its own figures.

    Subclasses leave `kw_only` to the type checkers, for whom it is inherited: msgspec then puts
    their fields first, as rows and cells have them.
    """

    assumed: Annotated[
        str, prose("Values that the question left open, each with what was chosen and why.")
    ]
    basis: Annotated[str, prose("Where rule and figures come from, and how far they were checked.")]
    texts: Annotated[
        list[CodedText],
        listing(0, 1000, "With `texts=coded`: code and parameters of each text of the answer."),
    ] = []


class WarnedAnswer(FlatAnswer, kw_only=True):
    """The same, where the work can hurt someone."""

    caution: Annotated[str, prose("Dangers of this work, and whom to ask.")]
