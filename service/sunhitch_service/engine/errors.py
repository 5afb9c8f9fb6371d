"""How a calculation refuses input that is well-formed but makes no sense."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import NamedTuple

from sunhitch.texts import Text, sentence
from sunhitch.texts.templates import Parameter
from sunhitch.types.base import Input


@dataclass(frozen=True, slots=True)
class Fault:
    """One contradiction in a request.

    Parameters
    ----------
    pointer : str
        JSON Pointer to the field; empty for the whole request.
    message : Text
        What is wrong and what would be right.
    """

    pointer: str
    message: Text


class ContradictionError(ValueError):
    """The request is well-formed but contradicts itself; carries every fault found.

    Parameters
    ----------
    faults : list of Fault
        At least one.
    """

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("; ".join(f"{f.pointer}: {f.message}" for f in faults))
        self.faults = faults


class Named(NamedTuple):
    """A name and the JSON Pointer of the place where it stands."""

    pointer: str
    name: str


def listed(pointer: str, names: Iterable[str], field: str = "name") -> list[Named]:
    """Names of a list's items, each at its own place.

    Parameters
    ----------
    pointer : str
        JSON Pointer of the list.
    names : iterable of str
        One for every item.
    field : str
        Where each item has it; with slashes where that is deeper.
    """
    return [Named(f"{pointer}/{index}/{field}", name) for index, name in enumerate(names)]


def in_strings(pointer: str, strings: Iterable[Iterable[str]]) -> list[Named]:
    """Names in lists of lists, each at its own place.

    Parameters
    ----------
    pointer : str
        JSON Pointer of the outer list.
    strings : iterable of iterable of str
        Such as the panels of every string.
    """
    return [
        Named(f"{pointer}/{outer}/{inner}", name)
        for outer, names in enumerate(strings)
        for inner, name in enumerate(names)
    ]


class Faults:
    """Collects faults, so that a caller sees all of them at once."""

    def __init__(self) -> None:
        self._found: list[Fault] = []

    def __bool__(self) -> bool:
        """Whether any fault was noted."""
        return bool(self._found)

    def add(self, pointer: str, code: str, /, **parameters: Parameter) -> None:
        """Note one fault at a JSON Pointer; its code and parameters are those of `sentence`."""
        self._found.append(Fault(pointer, sentence(code, **parameters)))

    def add_if(self, wrong: bool, pointer: str, code: str, /, **parameters: Parameter) -> None:
        """Note one fault where `wrong` holds."""
        if wrong:
            self.add(pointer, code, **parameters)

    def exactly_one(self, asked: Input, pointer: str) -> bool:
        """Whether exactly one is given of the fields that ask for it; noted where it is not."""
        names = asked.EXACTLY_ONE
        given = [f"{pointer}/{name}" for name in names if getattr(asked, name) is not None]
        if len(given) != 1:
            for at in given or [pointer]:
                self.add(at, "exactly-one", fields=", ".join(names))
        return len(given) == 1

    def unique(self, names: Iterable[Named]) -> None:
        """Note every name that stands at an earlier place already."""
        first: dict[str, str] = {}
        for pointer, name in names:
            earlier = first.setdefault(name, pointer)
            if earlier != pointer:
                self.add(pointer, "name-given-twice", name=name, earlier=earlier)

    def known(self, references: Iterable[Named], names: Collection[str], kind: str) -> None:
        """Note every reference to something that is not there."""
        for pointer, name in references:
            if name not in names:
                known = ", ".join(dict.fromkeys(names))
                self.add(pointer, "no-such-name", kind=kind, name=name, known=known)

    def raise_any(self) -> None:
        """Refuse the request if any fault was noted.

        Raises
        ------
        ContradictionError
            With every fault noted so far.
        """
        if self._found:
            raise ContradictionError(self._found)
