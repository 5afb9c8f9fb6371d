"""Name the fit-out's own fields in what a part says about its request."""

from collections.abc import Callable, Generator
from contextlib import contextmanager

from sunhitch_service.engine.errors import ContradictionError, Fault

Translate = Callable[[str], str]
"""From a pointer into a part's request to one into the fit-out request."""


def moved(prefixes: dict[str, str]) -> Translate:
    """Replace the first of the given prefixes that a pointer opens with.

    Parameters
    ----------
    prefixes : dict of str to str
        From the part's prefix to the fit-out's; the first match in the given order counts.

    Returns
    -------
    callable
        Pointers with no known prefix stay as they are.
    """

    def translate(pointer: str) -> str:
        for theirs, ours in prefixes.items():
            if pointer == theirs or pointer.startswith(f"{theirs}/"):
                return ours + pointer.removeprefix(theirs)
        return pointer

    return translate


@contextmanager
def faults_of(translate: Translate) -> Generator[None]:
    """Let a part refuse its request in the fit-out's terms.

    Parameters
    ----------
    translate : callable
        From the part's pointers to the fit-out's.

    Raises
    ------
    ContradictionError
        The part's faults with translated pointers.
    """
    try:
        yield
    except ContradictionError as error:
        faults = [Fault(translate(fault.pointer), fault.message) for fault in error.faults]
        raise ContradictionError(faults) from error
