"""The whole build, for people: choices, schedules, parts and steps."""

from sunhitch.report.amounts import (
    at_least,
    both,
    figure,
    none_or,
    passes,
    percent,
    top_speed,
    utilisation,
)
from sunhitch.report.current_paths import EXPLAINED, HEAD, conductor_rows
from sunhitch.report.layout import Page
from sunhitch.report.part_words import part_ratings
from sunhitch.report.summary import danger
from sunhitch.report.work_words import cost_words, reading_name, reading_words
from sunhitch.types.fitout import (
    FitOutAnswer,
    FitOutCandidate,
    FitOutRequest,
    PanelMount,
    ProtectiveDevice,
    WireLine,
)
from sunhitch.types.mount import Improvement
from sunhitch.types.parts import Part

from .array_configuration import chosen, ranking, rejected
from .harvest import energy, watt_hours
from .mount_check import told_expected
from .operation import Operation
from .roof_layout import told_proof
from .wire_sizing import glands, told_disconnect

_HELPS = 2


def present(page: Page, answer: FitOutAnswer) -> list[str]:
    """Everything that a fitter decides, buys and does, in that order."""
    return [
        page.heading(f"In short: {answer.title}"),
        *page.bullets(answer.summary),
        *_candidates(page, answer.candidates),
        *ranking(page, answer.configurations),
        *chosen(page, answer.configurations[0]),
        *rejected(page, answer.rejections),
        *_roof(page, answer),
        *_mounts(page, answer.mounts),
        *_wires(page, answer.wire_schedule),
        *_protection(page, answer.protection_schedule),
        *page.chapter(
            "What can overload each wire, and what opens",
            HEAD,
            conductor_rows(answer.current_paths),
        ),
        *page.bullets([EXPLAINED]),
        *page.section("Disconnects", [told_disconnect(one) for one in answer.disconnects]),
        *page.section("Cable entry", glands(answer.glands)),
        *page.section("Polarity, order, bonding", [note.text for note in answer.wiring_notes]),
        *_parts(page, answer),
        *_steps(page, answer),
        *page.section("Hours and cost", cost_words(answer.work_cost)),
        *([] if answer.harvest is None else energy(page, answer.harvest)),
    ]


def _candidates(page: Page, candidates: list[FitOutCandidate]) -> list[str]:
    """Panels to choose from, best first, and what the others would need."""
    needs = [
        f"{one.rank}. {one.panel_type}: {need}"
        for one in candidates[1:]
        for need in one.needs[:_HELPS]
    ]
    return [
        *page.columns(
            "Panels to choose from, best first",
            candidates,
            {
                "#": lambda one: str(one.rank),
                "Panels": lambda one: f"{one.panels} × {one.panel_type}",
                "Built": lambda one: one.construction or "its own",
                "Verdict": lambda one: one.verdict,
                "Averaged": lambda one: f"{figure(one.weighted_power_w)} W",
                "Energy": lambda one: (
                    "not asked for" if one.energy_wh is None else watt_hours(one.energy_wh)
                ),
                "Price": lambda one: "not given" if one.price is None else figure(one.price),
                "Mass": lambda one: both(one.mass_kg, "kg"),
                "Why": lambda one: one.reason,
            },
        ),
        *page.section("What the others would need", needs),
    ]


def _roof(page: Page, answer: FitOutAnswer) -> list[str]:
    told = (
        f"{figure(answer.array_power_w)} W, {both(answer.roof.panel_mass_kg, 'kg')}, centre at "
        f"{figure(answer.roof.centre_x_m)}, {figure(answer.roof.centre_y_m)} m; panels cover "
        f"{percent(answer.roof.panel_area_fraction)} of the roof; cable entry at "
        f"{figure(answer.roof.entry_x_m)}, {figure(answer.roof.entry_y_m)} m."
    )
    return [
        *page.section("On the roof", [told, told_proof(answer.plan.proof)]),
        *page.columns(
            "",
            answer.roof.placements,
            {
                "Panel": lambda place: place.panel,
                "Front left corner x, y": lambda place: f"{place.x_m:.3f}, {place.y_m:.3f} m",
                "Along x × y": lambda place: (
                    f"{figure(place.along_x_m)} × {figure(place.along_y_m)} m"
                ),
                "Cable to entry, with slack": lambda place: both(place.cable_to_entry_m, "m"),
            },
        ),
    ]


def _mounts(page: Page, mounts: list[PanelMount]) -> list[str]:
    alike: dict[str, list[str]] = {}
    for mount in mounts:
        alike.setdefault(told_expected(mount.expected), []).append(mount.panel)
    return [
        *page.columns(
            "Whether it stays on",
            mounts,
            {
                "Panel": lambda mount: mount.panel,
                "Verdict": lambda mount: mount.verdict,
                "Utilisation": lambda mount: utilisation(mount.utilisation_fraction),
                "Passes up to": lambda mount: top_speed(mount.pass_speed_m_s),
                "Left, a foot lost": lambda mount: (
                    "none"
                    if mount.foot_lost_reserve_fraction is None
                    else percent(mount.foot_lost_reserve_fraction)
                ),
                "Governed by": lambda mount: mount.governing_title.partition(": ")[0],
            },
        ),
        *page.bullets([f"{', '.join(panels)}: {told}" for told, panels in alike.items()]),
        *page.section("What helps, each change by itself, best first", _helps(mounts)),
    ]


def _helps(mounts: list[PanelMount]) -> list[str]:
    """What helps most, each change once with its worst figures."""
    changes: dict[str, list[tuple[PanelMount, Improvement]]] = {}
    for mount in mounts:
        for one in mount.improvements[:_HELPS]:
            changes.setdefault(one.change, []).append((mount, one))
    return [
        f"{change} ({', '.join(mount.panel for mount, _ in helped)}): "
        f"{utilisation(none_or(max, (one.utilisation_fraction for _, one in helped)))}, "
        f"{passes(none_or(min, (one.pass_speed_m_s for _, one in helped)))}"
        for change, helped in changes.items()
    ]


def _wires(page: Page, lines: list[WireLine]) -> list[str]:
    routes = (f"{line.line}: {line.start} to {line.end}" for line in lines)
    return [
        *page.columns(
            "Wires",
            lines,
            {
                "Line": lambda line: line.line,
                "Length": lambda line: f"{line.conductors} × {both(line.length_m, 'm')}",
                "Gauge": lambda line: (
                    f"{line.at_hand} at hand" if line.at_hand else line.awg or "none"
                ),
                "or metric": lambda line: (
                    f"{figure(line.metric_mm2)} mm²" if line.metric_mm2 else "none"
                ),
                "Current": lambda line: f"{figure(line.maximum_current_a)} A",
                "Drop": lambda line: f"{percent(line.drop_fraction)} in {line.drop_of}",
                "Heat": lambda line: f"{figure(line.loss_w)} W",
                "Verdict": lambda line: line.verdict,
            },
        ),
        *page.bullets(routes),
    ]


def _protection(page: Page, devices: list[ProtectiveDevice]) -> list[str]:
    return page.columns(
        "Fuses and breakers",
        devices,
        {
            "No.": lambda device: device.device,
            "Rating": lambda device: (
                f"{device.pieces} × {figure(device.rating_a)} A" if device.rating_a else "none fits"
            ),
            "Kind": lambda device: device.family,
            "At least": lambda device: f"{at_least(device.minimum_voltage_v)} V DC",
            "Breaks": lambda device: f"{at_least(device.minimum_interrupting_a)} A",
            "Protects": lambda device: device.protected,
            "Place": lambda device: device.place,
        },
    )


def _parts(page: Page, answer: FitOutAnswer) -> list[str]:
    lines = ["", page.heading("Parts")]
    for group in dict.fromkeys(part.group for part in answer.parts_list):
        lines += page.wrap(f"{group.replace('-', ' ').capitalize()}:", "  ")
        lines += page.bullets(told_part(part) for part in answer.parts_list if part.group == group)
    return lines


def told_part(part: Part) -> str:
    """A line of the parts list."""
    ratings = f" ({told})" if (told := part_ratings(part)) else ""
    amount = both(part.amount, part.unit)
    many = f"{figure(part.amount)} ×" if part.unit == "piece" else f"{amount} of"
    line = f"{many} {part.name}{ratings}; {', '.join(part.needed_for)}"
    return f"{line}; {figure(part.at_hand)} there already" if part.at_hand else line


def _steps(page: Page, answer: FitOutAnswer) -> list[str]:
    lines = ["", page.heading("Steps")]
    told: dict[str, int] = {}
    known = {caution.code: caution for caution in answer.cautions}
    for step in answer.work_steps:
        lines += page.wrap(f"{step.title}. {step.text}", f"{step.number:4d}. ")
        for reading in step.readings:
            told_reading = f"{reading_name(reading)}: {reading_words(reading)}"
            lines += page.wrap(told_reading, "      = ")
        if step.tools:
            lines += page.wrap(f"{', '.join(step.tools)}; {figure(step.hours)} h", "      + ")
        if step.hold_until:
            lines += page.wrap(f"Wait until: {step.hold_until}", "      ◦ ")
        for caution in (known[code] for code in step.cautions):
            first = told.setdefault(caution.code, step.number)
            text = caution.text if first == step.number else f"As in step {first}."
            lines += page.wrap(f"{danger(caution)}: {text}", "      ! ")
    return lines


FIT_OUT = Operation(
    "fit-out",
    FitOutRequest,
    FitOutAnswer,
    "The whole job, checked",
    "From vehicle, roof, panels placed or to be laid out, controllers, battery, site, shade and "
    "travel to one build: roof plan, ranked wirings, wire and fuse schedule, mount checks, parts "
    "list and ordered work steps, with all checks in one list.",
    present,
    in_pieces=True,
    has_tables=True,
)
