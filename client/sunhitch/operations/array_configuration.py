"""How to wire the panels, for people; the fit-out shows the same lines."""

from collections.abc import Sequence

from sunhitch.report.amounts import both, cold_open_circuit, figure, percent
from sunhitch.report.layout import Page
from sunhitch.types.array import (
    ArrangedString,
    Arrangement,
    ArrayConfigurationAnswer,
    ArrayConfigurationRequest,
    HarnessItem,
    Rejection,
)

from .operation import Operation

_SHOWN = 6


def present(page: Page, answer: ArrayConfigurationAnswer) -> list[str]:
    """What to build and why, then the others and what rules out the rest."""
    everything = "" if answer.complete else "; not every assignment was tried"
    reckoned = (
        f"Reckoned with cells at {both(answer.hot_cell_c, '°C')}, cold of "
        f"{both(answer.lowest_ambient_c, '°C')}, charging at {figure(answer.charge_voltage_v)} V. "
        f"{answer.examined} arrangements examined, {answer.passing} without a failing check"
        f"{everything}."
    )
    return [
        page.heading("What to build"),
        *page.bullets([*answer.summary, reckoned]),
        *ranking(page, answer.arrangements),
        *chosen(page, answer.drawn or answer.arrangements[0]),
        *rejected(page, answer.rejections),
    ]


def ranking(page: Page, arrangements: Sequence[Arrangement]) -> list[str]:
    """Arrangements side by side, best first."""
    return page.columns(
        "Arrangements, best first",
        arrangements[:_SHOWN],
        {
            "#": lambda one: str(one.rank),
            "Arrangement": lambda one: one.name,
            "Verdict": lambda one: one.verdict,
            "In sun": lambda one: f"{figure(one.sun.charging_power_w)} W",
            "Averaged": lambda one: f"{figure(one.weighted_power_w)} W",
            "Margin": lambda one: percent(one.margin_fraction),
            "Strings": lambda one: "; ".join(
                " + ".join(string.panels) for array in one.arrays for string in array.strings
            ),
        },
    )


def chosen(page: Page, best: Arrangement) -> list[str]:
    """The arrangement to build: strings, reasons, harness, and what would change it."""
    strings = [
        f"{array.controller}: {_string(string)}"
        for array in best.arrays
        for string in array.strings
    ]
    named = len(best.arrays) > 1
    parts = [_for(item.controller, named) + _harness(item) for item in best.harness]
    changes = [_for(change.controller, named) + change.text for change in best.sensitivity]
    return [
        *page.section(f"Number {best.rank}: {best.name}", [*strings, *best.reasons]),
        *page.section("Harness", parts),
        *page.section("If something changes", changes),
    ]


def rejected(page: Page, rejections: Sequence[Rejection]) -> list[str]:
    """Why other arrangements fail."""
    return page.section(
        "Why others fail",
        [
            f"{one.title}: {one.arrangements} arrangement{'s' if one.arrangements > 1 else ''}, "
            f"such as {one.example}"
            for one in rejections
        ],
    )


def _string(string: ArrangedString) -> str:
    fuse = "no fuse" if string.fuse_a is None else f"{figure(string.fuse_a)} A fuse"
    joined = " in series" if len(string.panels) > 1 else ""
    cold = cold_open_circuit(string)
    known = f"in the cold {cold} open circuit, " if cold else ""
    return (
        f"{' + '.join(string.panels)}{joined}; {known}"
        f"{figure(string.hot_vmp_v)} V at work in the heat, {figure(string.i_mp_a)} A, {fuse}"
    )


def _for(controller: str, named: bool) -> str:
    """Whose part it is, where there are several controllers."""
    return f"{controller}: " if named else ""


def _harness(item: HarnessItem) -> str:
    each = " each" if item.pieces > 1 else ""
    length = "" if item.length_m is None else f", {both(item.length_m, 'm')}{each}"
    rating = "" if item.rating_a is None else f", rated {figure(item.rating_a)} A"
    return (
        f"{item.pieces} × {item.kind.replace('-', ' ')}, {item.where}{length}; carries "
        f"{figure(item.current_a)} A{rating}"
    )


ARRAY_CONFIGURATION = Operation(
    "array-configuration",
    ArrayConfigurationRequest,
    ArrayConfigurationAnswer,
    "Series and parallel arrangements of an array",
    "Every way to wire the given panels to one or two controllers, each with its checks, its power "
    "in sun and shade, its harness, and a ranking with reasons and what would change it.",
    present,
)
