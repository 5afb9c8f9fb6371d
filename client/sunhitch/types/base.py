"""The two kinds of contract Structs: what callers send, and what they get back."""

from typing import ClassVar, dataclass_transform

import msgspec


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(msgspec.field,))
class Input(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Part of a request: immutable, named fields only, unknown fields refused.

    Attributes
    ----------
    EXACTLY_ONE : tuple of str
        Fields of which exactly one is given, that is, not null.
    """

    EXACTLY_ONE: ClassVar[tuple[str, ...]] = ()


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(msgspec.field,))
class Output(msgspec.Struct, frozen=True, kw_only=True):
    """Part of an answer: immutable, and every field is always present.

    Fields that this version does not know are passed over, so that an older client reads what a
    newer service answers.
    """
