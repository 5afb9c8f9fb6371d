"""What can be done differently: one entry a code, and one change of a job."""

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import msgspec

from sunhitch.texts.templates import Parameter, template
from sunhitch.types.fitout import FitOutRequest
from sunhitch.types.revision import JobChange


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
    return {name: told[name] for name in sorted(template(kind.text).names)}


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
        More where it changes what is owned.
    reason : str
        Titles of the checks that it is to mend.
    """

    code: str
    parameters: dict[str, Parameter]
    apply: Callable[[FitOutRequest], FitOutRequest]
    added_rank: int = 0
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
    text = template(change_kinds()[code].text).filled(parameters)
    return JobChange(code=code, parameters=parameters, text=text, wanted=wanted, reason=reason)
