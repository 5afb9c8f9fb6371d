"""The two kinds of contract Structs: what callers send, and what they get back."""

from typing import Any, dataclass_transform

import msgspec


class _NamedFieldsOnly(msgspec.StructMeta):
    """Applies `kw_only` to every subclass; msgspec applies it only where it is spelled out."""

    def __new__(
        mcls,
        name: str,
        bases: tuple[type, ...],
        namespace: dict[str, Any],
        **config: Any,  # noqa: ANN401 - msgspec's own options, passed on unchanged
    ) -> "_NamedFieldsOnly":
        config.setdefault("kw_only", True)
        return super().__new__(mcls, name, bases, namespace, **config)


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(msgspec.field,))
class Input(msgspec.Struct, metaclass=_NamedFieldsOnly, frozen=True, forbid_unknown_fields=True):
    """Part of a request: immutable, named fields only, unknown fields refused."""


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(msgspec.field,))
class Output(msgspec.Struct, metaclass=_NamedFieldsOnly, frozen=True):
    """Part of an answer: immutable, and every field is always present.

    Fields that this version does not know are passed over, so that an older client reads what a
    newer service answers.
    """
