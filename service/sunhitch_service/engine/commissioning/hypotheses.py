"""What can be wrong with an array or its readings, as changed strings and changed readings."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.commissioning import CauseCode, Reading
from sunhitch_service.engine.tables import table

from .model import StringState, WeakGroup, terminals
from .practice import figure
from .setup import ARRAY, CommissioningInspection

Strings = dict[str, StringState]
_ALL = ""
"""Every reading of a current."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One way in which an array or its readings may be wrong.

    Parameters
    ----------
    code : str
        Cause.
    explains : str
        What it makes of the array, with figures.
    strings : dict
        Strings that differ from faultless ones, by name.
    prior : float
        Its weight before any reading.
    lead_ohm : float
        Resistance more than there should be between array and meter [Ω].
    towards_open : float
        How far a controller has moved from the maximum towards open circuit [1].
    dim : tuple of (str, float) or None
        Reading whose light was lower than metered, or "" for all of currents, and by what share.
    swapped : bool
        Whether a voltage shows the wrong sign.
    at_the_joint : bool
        Whether strings differ only once they are joined, not where each is read alone.
    """

    code: CauseCode
    explains: str
    strings: Strings
    prior: float = 1.0
    lead_ohm: float = 0.0
    towards_open: float = 0.0
    dim: tuple[str, float] | None = None
    swapped: bool = False
    at_the_joint: bool = False

    def changes(self, of: str) -> Strings:
        """Strings behind a reading that differ."""
        if of == ARRAY:
            return self.strings
        return {} if self.at_the_joint or of not in self.strings else self.strings

    def light_at(self, reading: Reading) -> float:
        """Share of the metered light in which a reading of a current was taken."""
        if self.dim is None or reading.kind == "open-circuit":
            return 1.0
        name, lost = self.dim
        return 1.0 - lost if name in (_ALL, reading.name) else 1.0


def hypotheses(
    inspection: CommissioningInspection, indices: list[int], light: float, cell_c: float
) -> list[Hypothesis]:
    """Every cause with a range of severities, weighted so that a cause's weights make its prior.

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.
    indices : list of int
        Readings of one day.
    light, cell_c : float
        Light [W/m²] and heat [°C] that size resistances.

    Returns
    -------
    list of Hypothesis
        Causes that this array can have.
    """
    strings = inspection.strings
    readings = [inspection.request.readings[index] for index in indices]
    held_back = statement("nearer-to-open-circuit")
    every = [
        *_swapped(readings),
        *_dimmed(readings),
        *_even(strings),
        *_of_one_string(strings, {reading.of for reading in readings}),
        *_contacts(inspection, light, cell_c),
        *(
            Hypothesis("controller-holds-back", held_back, {}, towards_open=float(share))
            for share in np.linspace(0.1, 0.98, 23)
        ),
    ]
    total: dict[CauseCode, float] = {}
    for one in every:
        total[one.code] = total.get(one.code, 0.0) + one.prior
    rows = {row["code"]: float(row["prior"]) for row in table("commissioning", "causes").rows}
    steady = all(inspection.conditions[index].is_steady for index in indices)
    rows["light-changed"] *= figure("seen-steady") if steady else 1.0
    weighed = [replace(one, prior=one.prior * rows[one.code] / total[one.code]) for one in every]
    return [_no_fault(inspection, indices, rows), *weighed]


def _no_fault(
    inspection: CommissioningInspection, indices: list[int], priors: dict[str, float]
) -> Hypothesis:
    """A faultless array, by what the light allows to say of it."""
    conditions = [inspection.conditions[index] for index in indices]
    prior = priors["nothing-wrong"]
    if any(one.is_weak for one in conditions):
        least = min(one.irradiance_w_m2 for one in conditions)
        told = statement("too-little-light", irradiance_w_m2=least)
        return Hypothesis("too-little-light", told, {}, priors["too-little-light"])
    if any(one.is_unsteady for one in conditions):
        return Hypothesis("light-changed", statement("light-changed"), {}, prior)
    return Hypothesis("nothing-wrong", statement("faultless-array"), {}, prior)


def _swapped(readings: list[Reading]) -> Iterator[Hypothesis]:
    if any(reading.voltage_v is not None for reading in readings):
        yield Hypothesis("leads-swapped", statement("plus-and-minus-swapped"), {}, swapped=True)


def _dimmed(readings: list[Reading]) -> Iterator[Hypothesis]:
    """A cloud that the meter of light did not see."""
    amperes = [reading.name for reading in readings if reading.kind != "open-circuit"]
    for name in [_ALL, *amperes] if len(amperes) > 1 else amperes:
        for share in np.arange(0.06, 0.42, 0.05):
            less = float(share)
            told = (
                statement("less-light-than-metered-while", share_fraction=less)
                if name == _ALL
                else statement("less-light-than-metered-at", share_fraction=less, reading=name)
            )
            yield Hypothesis("light-changed", told, {}, dim=(name, less))


def _even(strings: Strings) -> Iterator[Hypothesis]:
    """Every panel alike."""
    for share in np.arange(0.05, 0.31, 0.025):
        yield Hypothesis(
            "dirt",
            statement("light-held-back", share_fraction=float(share)),
            {name: replace(s, light=1.0 - float(share)) for name, s in strings.items()},
        )
    for kelvin in (6.0, 10.0, 15.0, 20.0, 30.0):
        yield Hypothesis(
            "hotter-cells",
            statement("hotter-cells", warmer_k=kelvin),
            {name: replace(s, warmer_k=kelvin) for name, s in strings.items()},
        )
    for share in (0.06, 0.09, 0.12):
        yield Hypothesis(
            "weak-panels",
            statement("every-panel-low", share_fraction=share),
            {
                name: replace(s, light=1.0 - share, lost_positions=0.5 * share * s.positions)
                for name, s in strings.items()
            },
        )


def _of_one_string(strings: Strings, measured: set[str]) -> Iterator[Hypothesis]:
    """One string differs; equal strings that no reading tells apart are tried once."""
    seen: list[StringState] = []
    unmeasured = [string for name, string in strings.items() if name not in measured]
    for name, string in strings.items():
        known = name in measured
        if not known:
            if string in seen:
                continue
            seen.append(string)
        weight = 1.0 if known else float(unmeasured.count(string))
        place = (
            statement("in-string", string=name)
            if known or len(strings) == 1
            else statement("in-one-string")
        )
        for code, told, new in _changes(string, len(strings)):
            here = statement("cause-there", cause=told, place=place)
            yield Hypothesis(code, here, {name: new}, weight)
        if len(strings) > 1:
            away = replace(string, is_open=True)
            told = (
                statement("string-not-joined", string=name)
                if known
                else statement("one-string-not-joined")
            )
            yield Hypothesis("string-missing", told, {name: away}, weight, at_the_joint=True)


def _changes(string: StringState, strings: int) -> Iterator[tuple[CauseCode, str, StringState]]:
    cells = float(string.panel.layout.positions_in_series)
    if strings > 1:
        yield (
            "string-missing",
            statement("no-current-one-of", strings=strings),
            replace(string, is_open=True),
        )
        for share in (0.15, 0.3, 0.45, 0.6, 0.8):
            dim = replace(string, light=1.0 - share)
            yield "shade-on-string", statement("less-light", share_fraction=share), dim
    if string.in_series > 1:
        missing = replace(string, lost_positions=cells)
        yield "panel-missing", statement("panel-gives-nothing", panels=string.in_series), missing
    if string.in_series > 2:
        turned = replace(string, lost_positions=2.0 * cells)
        yield "panel-reversed", statement("two-voltages-missing"), turned
    yield from _weak_groups(string)


def _weak_groups(string: StringState) -> Iterator[tuple[CauseCode, str, StringState]]:
    layout = string.panel.layout
    for size, guarded in dict.fromkeys((g.last - g.first + 1, g.has_diode) for g in layout.bypass):
        for left in (0.3, 0.5, 0.6, 0.7, 0.8, 0.88):
            weak = replace(string, weak=WeakGroup(size, guarded, left), weak_groups=1)
            yield "cracked-cell", statement("cell-gives", left_fraction=left), weak
        if not guarded:
            continue
        for number in (1, 2)[: len(layout.bypass) * string.in_series]:
            whole = WeakGroup(size, guarded, 0.15, size, layout.paths_in_parallel)
            dim = replace(string, weak=whole, weak_groups=number)
            told = (
                statement("one-bypass-group")
                if number == 1
                else statement("bypass-groups", groups=number)
            )
            yield "shaded-cells", statement("skipped-under-load", groups=told), dim
        shorted = replace(string, lost_positions=float(size))
        yield "shorted-group", statement("group-never-adds"), shorted


def _contacts(
    inspection: CommissioningInspection, light: float, cell_c: float
) -> Iterator[Hypothesis]:
    """Resistance in the leads of the array or in one string, by the voltage that it costs."""
    strings = inspection.strings
    typical = terminals(list(strings.values()), 0.0, light, cell_c)
    whole_ohm = typical.maximum_v / typical.maximum_a
    for share in (0.04, 0.06, 0.08, 0.1, 0.125, 0.15, 0.2, 0.3):
        ohm = share * whole_ohm
        told = statement("voltage-lost", share_fraction=share, ohm=ohm)
        yield Hypothesis("bad-contact", told, {}, lead_ohm=ohm)
    for name, string in strings.items() if len(strings) > 1 else ():
        for share in (0.06, 0.1, 0.15, 0.25):
            ohm = share * whole_ohm * len(strings)
            told = statement("voltage-of-string-lost", share_fraction=share, string=name, ohm=ohm)
            changed = {name: replace(string, extra_ohm=ohm)}
            yield Hypothesis("bad-contact", told, changed, 1.0 / len(strings))
