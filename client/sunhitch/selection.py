"""What of an answer is told; the service and the embedded client share it."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import msgspec
from msgspec.structs import replace

from .codec import encode
from .faults import MOST_FAULTS, fault_at
from .pointers import Json
from .texts import sentence
from .types.check import Answer, AnswerPart, Checks
from .types.problem import FieldError

ALWAYS = AnswerPart.__struct_fields__
"""Told with any parts of an answer."""

PART = "application/vnd.sunhitch.part+json"
"""Media type of named parts of an answer, which is a type of its own in the schema."""
Texts = Literal["plain", "coded"]


@dataclass(frozen=True, slots=True)
class AnswerSelection:
    """What of an answer is told.

    Parameters
    ----------
    checks : {'all', 'open', 'counts'}
        Which checks.
    fields : tuple of str
        Which parts; all of them where empty.
    texts : {'plain', 'coded'}
        Whether code and parameters of texts are told.
    """

    checks: Checks = "all"
    fields: tuple[str, ...] = ()
    texts: Texts = "plain"

    @property
    def query(self) -> dict[str, str]:
        """As a service is asked for it; empty where all is told."""
        return {
            "checks": "" if self.checks == "all" else self.checks,
            "fields": ",".join(self.fields),
            "texts": "" if self.texts == "plain" else self.texts,
        }

    def told(self, answer: Answer) -> bytes:
        """What is told, as JSON."""
        coded = self.texts == "coded"
        if answer.texts and not coded:
            answer = replace(answer, texts=[])
        told = encode(answer, texts=coded)
        if self.checks == "all" and not self.fields:
            return told
        whole: dict[str, Any] = msgspec.json.decode(told)
        if self.checks != "all":
            is_open = self.checks == "open"
            whole["checks"] = [
                one for one in whole["checks"] if is_open and one["verdict"] != "pass"
            ]
        names = {*ALWAYS, *self.fields} if self.fields else set(whole)
        part = {name: value for name, value in whole.items() if name in names}
        used = _texts({name: one for name, one in part.items() if name not in ("sources", "texts")})
        if coded:
            part["texts"] = _used(used, whole["texts"])
        if "sources" in part and names != {*ALWAYS, "sources"}:
            part["sources"] = [one for one in whole["sources"] if one["key"] in used]
        return encode(part)


def unknown_names(asked: str, names: Sequence[str], known: Collection[str]) -> list[FieldError]:
    """The fault of a query parameter that names what there is not; none where all is known."""
    unknown = [one for one in names if one not in known][:MOST_FAULTS]
    if not unknown:
        return []
    few = ", ".join(one[:80] for one in unknown[:10])
    told = sentence("unknown-name", name=few, known=", ".join(known))
    return [fault_at(f"/{asked}", told, "query")]


def _texts(part: Json) -> set[str]:
    if isinstance(part, str):
        return {part}
    inner = part.values() if isinstance(part, dict) else part if isinstance(part, list) else ()
    return set[str]().union(*(_texts(one) for one in inner))


def _used(told: set[str], texts: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Coded texts that are told, and those that these tell in turn."""
    used = [one for one in texts if one["text"] in told]
    inner = _texts([one["parameters"] for one in used]) - told
    return used + _used(inner, [one for one in texts if one not in used]) if inner else used
