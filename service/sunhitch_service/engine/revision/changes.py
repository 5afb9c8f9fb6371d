"""What can be done differently: one entry a code, and one change of a job."""

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import msgspec

from sunhitch.texts import Text
from sunhitch.texts.templates import Parameter, template
from sunhitch.types.fitout import FitOutRequest
from sunhitch.types.revision import MOST_CHANGES, JobChange


class ChangeKind(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """An entry of the table: its text with `{name:format}`, and its rank among changes."""

    rank: int
    text: str


@cache
def _file() -> dict[str, Any]:
    file = resources.files("sunhitch_service.engine.revision").joinpath("data", "changes.toml")
    return tomllib.loads(file.read_text("utf-8"))


@cache
def change_kinds() -> dict[str, ChangeKind]:
    """Every kind of change by its code."""
    kinds = {code: entry for code, entry in _file().items() if code != "common"}
    return msgspec.convert(kinds, dict[str, ChangeKind])


def described(kind: ChangeKind) -> dict[str, str]:
    """What each parameter of a kind's text is."""
    told: dict[str, str] = _file()["common"]["parameters"]
    return {name: told[name] for name in template(kind.text).names}


@dataclass(frozen=True, slots=True)
class Change:
    """One thing to do differently.

    Parameters
    ----------
    code : str
        Key of `changes.toml`.
    parameters : dict
        What its text tells; of a panel that moves, what sets the move apart from others.
    apply : callable
        From a job to the job with it.
    added_rank : int
        More where it changes more than others of its code.
    owned : bool
        Whether it changes what is owned.
    reason : str
        Titles of the checks that it is to mend.
    """

    code: str
    parameters: dict[str, Parameter]
    apply: Callable[[FitOutRequest], FitOutRequest]
    added_rank: int = 0
    owned: bool = False
    reason: str = ""

    @property
    def rank(self) -> int:
        """Order among changes that mend as much; the lowest is the least."""
        return change_kinds()[self.code].rank + self.added_rank

    @property
    def told(self) -> JobChange:
        """The change in words."""
        return told(self.code, self.parameters, reason=self.reason)


def told(
    code: str, parameters: dict[str, Parameter], *, wanted: bool = False, reason: str = ""
) -> JobChange:
    """A change in words, with what it mends where the caller did not want it."""
    text = Text(template(change_kinds()[code].text).filled(parameters), code, parameters, "change")
    return JobChange(code=code, parameters=parameters, text=text, wanted=wanted, reason=reason)


_TOGETHER: dict[str, tuple[str, ...]] = {
    "values-set": ("value-set",),
    "parts-lost": ("panel-lost", "controller-lost"),
    "panels-added": ("panel-added",),
    "panels-less": ("panel-less",),
    "panels-set": ("panel-moved", "panel-turned"),
}
"""Lines that become one where there are too many, those that say most in little first."""


def few(changes: Sequence[JobChange]) -> list[JobChange]:
    """The same in no more lines than are read on a roof, alike ones told together.

    Parameters
    ----------
    changes : sequence of JobChange
        At most six of them so that the job holds, beside what is wanted and places.
    """
    found = list(changes)
    for together, codes in _TOGETHER.items():
        alike = [one for one in found if one.code in codes]
        if len(found) <= MOST_CHANGES:
            break
        if len(alike) > 1:
            named = ", ".join(str(_subject(one)) for one in alike)
            parameters: dict[str, Parameter] = {"number": len(alike), "named": named}
            wanted = all(one.wanted for one in alike)
            reasons = "; ".join(dict.fromkeys(one.reason for one in alike if one.reason))
            line = told(together, parameters, wanted=wanted, reason=reasons)
            at = found.index(alike[0])
            rest = [one for one in found if one not in alike]
            found = [*rest[:at], line, *rest[at:]]
    return found


def _subject(one: JobChange) -> Parameter:
    return next(one.parameters[name] for name in _SUBJECTS if name in one.parameters)


_SUBJECTS = ("panel", "controller", "pointer")
