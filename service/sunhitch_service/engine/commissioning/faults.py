"""What can be wrong with an array, as changed strings."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from sunhitch.report.amounts import percent
from sunhitch.types.commissioning import CauseCode

from .model import StringState, Terminals

Strings = list[StringState]


@dataclass(frozen=True, slots=True)
class Suspicion:
    """One way in which the array may be wrong.

    Parameters
    ----------
    code : str
        Cause.
    explains : str
        What it makes of the array, with figures.
    strings : list of StringState
        The array with the fault.
    towards_open : float
        How far a controller has moved from the maximum towards open circuit [1].
    """

    code: CauseCode
    explains: str
    strings: Strings
    towards_open: float = 0.0


def suspicions(strings: Strings, typical: Terminals) -> list[Suspicion]:
    """Every cause with a range of severities.

    Parameters
    ----------
    strings : list of StringState
        Faultless.
    typical : Terminals
        What they give in the light of the readings.

    Returns
    -------
    list of Suspicion
        Causes that this array can have.
    """
    return [
        *_even(strings),
        *_of_one_string(strings),
        *_contacts(strings, typical),
        *_held(strings),
    ]


def _even(strings: Strings) -> Iterator[Suspicion]:
    """Every panel alike."""
    for share in (0.95, 0.975, 1.0):
        yield Suspicion(
            "nothing-wrong",
            "a faultless array within the usual few per cent",
            [replace(s, light=share) for s in strings],
        )
    for share in np.arange(0.70, 0.945, 0.03):
        yield Suspicion(
            "dirt",
            f"{percent(1 - share)} of the light held back on every panel",
            [replace(s, light=float(share)) for s in strings],
        )
    for kelvin in (5.0, 10.0, 15.0, 20.0, 30.0):
        yield Suspicion(
            "hotter-cells",
            f"cells about {kelvin:.0f} K hotter than reckoned",
            [replace(s, warmer_k=kelvin) for s in strings],
        )
    for share in (0.03, 0.06, 0.10):
        yield Suspicion(
            "weak-panels",
            f"every panel about {percent(share)} low in current and half as much in voltage",
            [
                replace(s, light=1.0 - share, lost_positions=0.5 * share * _positions(s))
                for s in strings
            ],
        )


def _of_one_string(strings: Strings) -> Iterator[Suspicion]:
    """One string differs; equal strings are tried once."""
    for place, string in enumerate(strings):
        if any(string == earlier for earlier in strings[:place]):
            continue

        def changed(new: StringState, place: int = place) -> Strings:
            return [new if k == place else s for k, s in enumerate(strings)]

        for code, explains, new in _changes(string, len(strings)):
            yield Suspicion(code, explains, changed(new))


def _changes(string: StringState, strings: int) -> Iterator[tuple[CauseCode, str, StringState]]:
    cells = float(string.panel.layout.positions_in_series)
    if strings > 1:
        open_string = replace(string, is_open=True)
        yield "string-missing", f"one of {strings} strings is open", open_string
        for share in (0.2, 0.4, 0.6, 0.8):
            dim = replace(string, light=share)
            yield (
                "shade-on-string",
                f"{percent(1 - share)} less light on one of {strings} strings",
                dim,
            )
    if string.in_series > 1:
        missing = replace(string, lost_positions=cells)
        yield "panel-missing", f"{string.in_series - 1} of {string.in_series} panels give", missing
    if string.in_series > 2:
        turned = replace(string, lost_positions=2.0 * cells)
        yield "panel-reversed", "a string two panels short in voltage", turned
    groups = [g for g in string.panel.layout.bypass if g.has_diode]
    for group in groups[:1]:
        size = float(group.last - group.first + 1)
        for number in (1, 2)[: len(groups) * string.in_series]:
            dim = replace(string, dim_positions=number * size, dim_light=0.15)
            yield "shaded-cells", f"{_groups(number)} skipped under load", dim
        shorted = replace(string, lost_positions=size)
        yield "shorted-group", "one bypass group adds no voltage at any time", shorted


def _groups(number: int) -> str:
    return "one bypass group" if number == 1 else f"{number} bypass groups"


def _contacts(strings: Strings, typical: Terminals) -> Iterator[Suspicion]:
    """Resistance in each string, sized by the voltage that it costs."""
    if typical.maximum_a <= 0.0:
        return
    per_string = typical.maximum_a / len(strings)
    for share in (0.03, 0.06, 0.1, 0.15, 0.2, 0.3):
        ohm = share * typical.maximum_v / per_string
        yield Suspicion(
            "bad-contact",
            f"about {percent(share)} of the voltage lost under load, as by "
            f"{ohm / len(strings):.2g} Ω",
            [replace(s, extra_ohm=ohm) for s in strings],
        )


def _held(strings: Strings) -> Iterator[Suspicion]:
    for share in np.linspace(0.1, 0.98, 23):
        yield Suspicion(
            "controller-holds-back",
            "panels able to give more, worked nearer to open circuit",
            strings,
            float(share),
        )


def _positions(string: StringState) -> float:
    return float(string.in_series * string.panel.layout.positions_in_series)
