"""What the answers of most quick questions say in words."""

from typing import Annotated, TypeAlias

from sunhitch.types.quantity import prose

Assumed: TypeAlias = Annotated[
    str, prose("Values that the question left open, each with what was chosen and why.")
]
Source: TypeAlias = Annotated[
    str, prose("Where rule and figures come from, and how far they were checked.")
]
Beware: TypeAlias = Annotated[str, prose("Dangers of this work, and whom to ask.")]
Remedy: TypeAlias = Annotated[str, prose("What to change; empty when nothing needs to be.")]
