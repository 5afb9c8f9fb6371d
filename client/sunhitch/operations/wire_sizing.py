"""Conductor, fuse, disconnects and entry of one circuit, for people."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence

from sunhitch.report.amounts import at_least, at_most, both, figure, percent
from sunhitch.report.layout import Page
from sunhitch.types.wiring import (
    Disconnect,
    Gland,
    LadderResult,
    Protection,
    SizeResult,
    WireSizingAnswer,
    WireSizingRequest,
)

from .operation import Operation


def present(page: Page, answer: WireSizingAnswer) -> list[str]:
    """Both ladders with the neighbouring sizes, then everything around the cable."""
    return [
        page.heading("What to use"),
        *page.bullets(_chosen(answer)),
        *page.bullets(f"Fuse or breaker: {one}" for one in _protection(answer.protection)),
        *page.section("Currents", [answer.currents.how]),
        *_ladder(page, "American wire gauge", answer.awg, _titles(answer)),
        *_ladder(page, "Metric sizes", answer.metric, _titles(answer)),
        *page.section("What it loses in a year", _lost(answer)),
        *page.columns("The conductor at hand", filter(None, [answer.at_hand]), _COLUMNS),
        *page.section(
            "Disconnects", [f"{told_disconnect(one)} {one.note}" for one in answer.disconnects]
        ),
        *page.section(
            "Cable entry",
            [*glands(answer.entry.glands), *answer.entry.steps] if answer.entry else [],
        ),
        *page.section("Polarity, order, bonding", [note.text for note in answer.notes]),
    ]


def _titles(answer: WireSizingAnswer) -> dict[str, str]:
    """Rules in words by code: those of the rules' own ladder, and that of the other one."""
    return {check.code: check.title for check in answer.checks} | {
        "equivalent-area": "Area not below that of the size chosen by the rules"
    }


def _ladder(page: Page, title: str, ladder: LadderResult, titles: dict[str, str]) -> list[str]:
    best = ladder.chosen
    choice = (
        "No size of this ladder passes."
        if best is None
        else f"Smallest that passes: {best.size}{_metal(best)}."
    )
    failed = [titles.get(code, code) for code in ladder.governing.split(", ") if code]
    which = "The largest" if best is None else "The next smaller one"
    ruled_out = f"{which} fails: {'; '.join(failed)}." if failed else ""
    return [
        "",
        page.heading(title),
        *page.bullets(text for text in (f"{choice} {ruled_out}".strip(), ladder.note) if text),
        *page.columns("", ladder.sizes, _COLUMNS),
    ]


def _chosen(answer: WireSizingAnswer) -> list[str]:
    sizes = [one.chosen for one in (answer.awg, answer.metric) if one.chosen is not None]
    return [
        f"{one.size}{_metal(one)}: {percent(one.drop_fraction)} of voltage lost, "
        f"{figure(one.loss_w)} W of heat, cable at {both(one.conductor_temperature_c, '°C')}"
        for one in sizes
    ]


def _metal(size: SizeResult) -> str:
    return f", {figure(size.area_mm2)} mm² of metal" if size.ladder == "awg" else ""


_COLUMNS: Mapping[str, Callable[[SizeResult], str]] = {
    "Size": lambda size: size.size,
    "Metal": lambda size: f"{figure(size.area_mm2)} mm²",
    "Verdict": lambda size: size.verdict,
    "May carry": lambda size: f"{figure(size.ampacity_a)} A",
    "Conductor at": lambda size: both(size.conductor_temperature_c, "°C"),
    "Drop": lambda size: f"{figure(size.drop_v)} V",
    "Share": lambda size: percent(size.drop_fraction),
    "Heat": lambda size: f"{figure(size.loss_w)} W",
}


def _lost(answer: WireSizingAnswer) -> list[str]:
    """Energy of the chosen sizes and of the next larger ones, where hours were given."""
    sizes = [
        size
        for ladder in (answer.awg, answer.metric)
        for size in (ladder.chosen, *ladder.neighbours)
        if size is not None and size.verdict == "pass"
    ]
    return [_loss(size) for size in sizes if size.energy_lost_wh_per_year is not None]


def _loss(size: SizeResult) -> str:
    worth = "" if size.cost_per_year is None else f", worth {figure(size.cost_per_year)}"
    return f"{size.size}: {both(size.energy_lost_wh_per_year or 0.0, 'Wh')}{worth}"


def _protection(device: Protection) -> list[str]:
    if not device.needed:
        return [f"Not needed: {device.why}"]
    kind = next((one.title for one in device.options if one.family == device.family), "device")
    size = (
        "No standard size fits"
        if device.rating_a is None
        else f"{kind}, {figure(device.rating_a)} A"
    )
    least, most = at_least(device.minimum_a), at_most(device.maximum_a)
    room = (
        f"anything from {least} to {most} A would do"
        if device.maximum_a >= device.minimum_a
        else f"the load asks for {least} A, the cable allows {most} A"
    )
    near = ""
    if device.within_m is not None:
        near = f" Within {both(float(at_most(device.within_m)), 'm')} of its source."
    return [
        f"{size}; {room}. {device.why}",
        f"At least {at_least(device.needed_voltage_v)} V DC, breaking "
        f"{at_least(device.needed_interrupting_a)} A or more. {device.place}{near}",
    ]


def told_disconnect(one: Disconnect) -> str:
    """Where a disconnect goes, what it opens and what it must bear."""
    load = ", under load" if one.load_break else ""
    return (
        f"{one.name}: {one.place} Opens {one.poles}; at least {at_least(one.minimum_current_a)} A, "
        f"{at_least(one.minimum_voltage_v)} V DC{load}."
    )


def glands(needed: Sequence[Gland]) -> list[str]:
    """Glands of a cable entry, equal ones together."""
    return [
        f"{count} × gland {size}: hole {both(hole_mm, 'mm')}, for cables of "
        f"{' + '.join(figure(cable) for cable in cables_mm)} mm."
        for (size, hole_mm, cables_mm), count in Counter(
            (gland.size, gland.hole_mm, tuple(gland.cables_mm)) for gland in needed
        ).items()
    ]


WIRE_SIZING = Operation(
    "wire-sizing",
    WireSizingRequest,
    WireSizingAnswer,
    "Conductor, fuse and entry of one circuit",
    "The smallest conductor that satisfies every rule, in American wire gauge and in square "
    "millimetres, what governed, drop and loss, the neighbouring sizes, the protective device, "
    "disconnects and cable entry.",
    present,
)
