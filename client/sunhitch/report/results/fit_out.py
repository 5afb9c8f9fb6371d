"""The whole build, for people: choices, schedules, parts and steps."""

from itertools import groupby

from sunhitch.report.amounts import both, figure, percent
from sunhitch.report.layout import Page
from sunhitch.types.fitout import FitOutAnswer, PanelHold, ProtectiveDevice, WireLine

from .array_configuration import chosen, ranking, rejected
from .mount_check import passes
from .wire_sizing import glands

_HELPS = 2


def present(page: Page, answer: FitOutAnswer) -> list[str]:
    """Everything that a fitter decides, buys and does, in that order."""
    return [
        page.heading(f"In short: {answer.title}"),
        *page.bullets(answer.summary),
        "",
        *ranking(page, answer.configurations),
        "",
        *chosen(page, answer.configurations[0]),
        *rejected(page, answer.rejections),
        *_roof(page, answer),
        *_holds(page, answer.mounts),
        *_wires(page, answer.wire_schedule),
        *_protection(page, answer.protection_schedule),
        *page.section("Disconnects", _disconnects(answer)),
        *page.section("Cable entry", glands(answer.glands)),
        *_parts(page, answer),
        *_steps(page, answer),
    ]


def _roof(page: Page, answer: FitOutAnswer) -> list[str]:
    rows = [
        (
            place.panel,
            f"{figure(place.x_m)}, {figure(place.y_m)} m",
            f"{figure(place.along_x_m)} × {figure(place.along_y_m)} m",
            both(place.cable_to_entry_m, "m"),
        )
        for place in answer.roof.placements
    ]
    head = ("Panel", "Front left corner x, y", "Along x × y", "Cable to entry")
    told = (
        f"{figure(answer.array_power_w)} W, {both(answer.roof.panel_mass_kg, 'kg')}, centre at "
        f"{figure(answer.roof.centre_x_m)}, {figure(answer.roof.centre_y_m)} m; panels cover "
        f"{percent(answer.roof.panel_area_fraction)} of the roof; cable entry at "
        f"{figure(answer.roof.entry_x_m)}, {figure(answer.roof.entry_y_m)} m."
    )
    return ["", page.heading("On the roof"), *page.bullets([told]), *page.table(head, rows)]


def _holds(page: Page, mounts: list[PanelHold]) -> list[str]:
    rows = [
        (
            hold.panel,
            hold.verdict,
            percent(hold.utilisation_fraction),
            both(hold.pass_speed_m_s, "m/s"),
            percent(hold.foot_lost_reserve_fraction),
            hold.governing_title,
        )
        for hold in mounts
    ]
    head = ("Panel", "Verdict", "Used", "Passes up to", "Left, a foot lost", "Governed by")
    return [
        "",
        page.heading("Whether it stays on"),
        *page.table(head, rows),
        *page.section("What helps, computed, best first", _helps(mounts)),
    ]


def _helps(mounts: list[PanelHold]) -> list[str]:
    return [
        f"{hold.panel}: {one.change}; {percent(one.utilisation_fraction)} used, "
        f"{passes(one.pass_speed_m_s)}"
        for hold in mounts
        for one in hold.improvements[:_HELPS]
    ]


def _wires(page: Page, lines: list[WireLine]) -> list[str]:
    rows = [
        (
            line.line,
            f"{line.conductors} × {both(line.length_m, 'm')}",
            f"{line.awg} AWG" if line.awg else "none",
            f"{figure(line.metric_mm2)} mm²" if line.metric_mm2 else "none",
            f"{figure(line.maximum_current_a)} A",
            percent(line.drop_fraction),
            line.verdict,
            f"{line.start} to {line.end}",
        )
        for line in lines
    ]
    head = ("Line", "Length", "Gauge", "or metric", "Current", "Drop", "Verdict", "From, to")
    return ["", page.heading("Wires"), *page.table(head, rows)]


def _protection(page: Page, devices: list[ProtectiveDevice]) -> list[str]:
    if not devices:
        return []
    rows = [
        (
            device.device,
            f"{device.pieces} × {figure(device.rating_a)} A" if device.rating_a else "none fits",
            device.family,
            f"{figure(device.minimum_voltage_v)} V DC",
            f"{figure(device.minimum_interrupting_a)} A",
            device.protects,
            device.place,
        )
        for device in devices
    ]
    head = ("No.", "Rating", "Kind", "At least", "Breaks", "Protects", "Place")
    return ["", page.heading("Fuses and breakers"), *page.table(head, rows)]


def _disconnects(answer: FitOutAnswer) -> list[str]:
    return [
        f"{one.name}: {one.place} Opens {one.poles}; at least {figure(one.minimum_current_a)} A, "
        f"{figure(one.minimum_voltage_v)} V DC{', under load' if one.load_break else ''}."
        for one in answer.disconnects
    ]


def _parts(page: Page, answer: FitOutAnswer) -> list[str]:
    lines = ["", page.heading("Parts")]
    for group, parts in groupby(answer.bill_of_materials, key=lambda part: part.group):
        lines += page.wrap(f"{group.replace('-', ' ').capitalize()}:", "  ")
        lines += page.bullets(
            f"{_amount(part.amount, part.unit)} {part.name}"
            f"{f' ({part.ratings})' if part.ratings else ''}, for {part.needed_for}"
            for part in parts
        )
    return lines


def _amount(amount: float, unit: str) -> str:
    return f"{figure(amount)} ×" if unit == "piece" else f"{both(amount, unit)} of"


def _steps(page: Page, answer: FitOutAnswer) -> list[str]:
    lines = ["", page.heading("Steps")]
    for step in answer.work_steps:
        lines += page.wrap(f"{step.title}. {step.text}", f"{step.number:4d}. ")
        if step.hold_until:
            lines += page.wrap(f"Wait until: {step.hold_until}", "      ◦ ")
        lines += [line for c in step.cautions for line in page.wrap(c.text, "      ! ")]
    return lines
