"""How a calculation refuses input that is well-formed but makes no sense."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One contradiction in a request.

    Parameters
    ----------
    pointer : str
        JSON Pointer to the field; empty for the whole request.
    message : str
        What is wrong and what would be right.
    """

    pointer: str
    message: str


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


class Faults:
    """Collects faults, so that a caller sees all of them at once."""

    def __init__(self) -> None:
        self._found: list[Fault] = []

    def add(self, pointer: str, message: str) -> None:
        """Note one fault at a JSON Pointer."""
        self._found.append(Fault(pointer, message))

    def add_if(self, wrong: bool, pointer: str, message: str) -> None:
        """Note one fault where `wrong` holds."""
        if wrong:
            self.add(pointer, message)

    def raise_any(self) -> None:
        """Refuse the request if any fault was noted.

        Raises
        ------
        ContradictionError
            With every fault noted so far.
        """
        if self._found:
            raise ContradictionError(self._found)
