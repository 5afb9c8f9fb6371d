"""The work sheet of a fit-out: one page of HTML that needs nothing else, for paper and phone."""

import re
from collections.abc import Iterable
from functools import partial
from typing import TYPE_CHECKING

from sunhitch.report.amounts import both, infinite, rest, top_speed, utilisation
from sunhitch.report.current_paths import EXPLAINED, HEAD, conductor_rows
from sunhitch.report.grouping import alike, counted, worst_first
from sunhitch.report.work_words import quantity_words, reading_words
from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest, PanelMount
from sunhitch.types.mount import Improvement
from sunhitch.types.work import StepReading, WorkStep

from .marking_out import mark_rows
from .roof_harness import Harness
from .roof_plan import drawn_detail, drawn_plan
from .sheet import Drawn
from .sheets import page
from .wiring_diagram import drawn_fit_out

if TYPE_CHECKING:
    from markupsafe import Markup

Blank = tuple[str, StepReading]
"""Where a reading is noted: what it is taken on, and what is sound."""
_ENTRY = "Cable entry"
_PLAN = (340.0, 480.0)
"""Largest width and height of the roof among its dimensions."""
_TIGHT = 0.75
"""Utilisation from which a rule is told."""
_ROUTE = re.compile(r" \(.* to .*\)")
"""From where to where a line runs, which its schedule tells."""


def draw_work_sheet(request: FitOutRequest, answer: FitOutAnswer) -> str:
    """Draw the work sheet.

    Parameters
    ----------
    request : FitOutRequest
        What was asked, for the drawings.
    answer : FitOutAnswer
        The checked build.

    Returns
    -------
    str
        HTML with its styles and drawings inside.
    """
    best = answer.configurations[0]
    harness = Harness.of(answer.plan, best)
    pictures = {
        "roof-plan": drawn_plan(answer.plan, harness, _PLAN),
        "wiring-diagram": drawn_fit_out(request, answer),
        _ENTRY: drawn_detail(answer.plan, harness, _ENTRY),
    } | {
        f"panel {one.name}": drawn_detail(answer.plan, harness, one.name, one)
        for one in answer.plan.panels
    }
    window = partial(_window, pictures)
    return page(
        "work_sheet.html.j2",
        answer,
        best=best,
        pictures=[_named(n, drawn.svg) for n, drawn in enumerate(pictures.values())],
        window=window,
        crops=partial(_crops, pictures, _devices(answer)),
        marks=mark_rows(answer.plan),
        steps=answer.work_steps,
        readings=partial(_readings, answer),
        head=HEAD,
        explained=EXPLAINED,
        conductors=conductor_rows(answer.current_paths),
        changes=_changes(answer),
        holds=_holds(answer.mounts),
        notes=_notes(answer),
        tightest=_tightest(answer.checks),
        counted=counted(answer.checks),
    )


def _named(number: int, svg: str) -> "Markup":
    """A picture that windows refer to; our own, with every text in it escaped."""
    from markupsafe import Markup

    return Markup(svg.replace("<svg ", f'<svg id="picture-{number}" ', 1))  # noqa: S704


def _window(pictures: dict[str, Drawn], name: str, window: str, told: str) -> "Markup":
    from markupsafe import Markup, escape

    left, top, right, bottom = pictures[name].windows[window]
    wide = right - left
    box = f'viewBox="{left:.1f} {top:.1f} {wide:.1f} {bottom - top:.1f}"'
    size = f'width="{wide / 10.0:.1f}em"'
    used = f'<use href="#picture-{list(pictures).index(name)}"/>'
    drawn = f'<svg {box} {size} role="img" aria-label="{escape(told)}">{used}</svg>'
    return Markup(drawn)  # noqa: S704 - figures, and what is escaped


def _devices(answer: FitOutAnswer) -> list[str]:
    """Everything inside that is switched, looked at or tightened."""
    fuses = [fuse.device for fuse in answer.protection_schedule if not fuse.of_string]
    controllers = [array.controller for array in answer.configurations[0].arrays]
    return [*controllers, *fuses, *(switch.name for switch in answer.disconnects)]


def _crops(
    pictures: dict[str, Drawn], devices: list[str], step: WorkStep
) -> list[tuple[str, str, str]]:
    """What a phone shows of a step: caption, picture and window of each subject, else of all."""
    wiring = pictures["wiring-diagram"].windows
    found: list[tuple[str, str, str]] = []
    if "roof-plan" in step.views:
        own = [name for name in step.subjects if f"panel {name}" in pictures]
        found += [(name, f"panel {name}", "all") for name in own] or [(_ENTRY, _ENTRY, "all")]
    if "wiring-diagram" in step.views:
        named = [name for name in step.subjects if name.lower() in wiring] or devices
        shown = dict.fromkeys(name for name in named if name.lower() in wiring)
        found += [(name, "wiring-diagram", name.lower()) for name in shown]
    return found


def _readings(answer: FitOutAnswer, step: WorkStep) -> list[tuple[str, list[Blank]]]:
    """Blanks of a step, those of one quantity and one band together under its words."""
    found: dict[str, list[Blank]] = {}
    for reading in step.readings:
        told = f"{quantity_words(reading)}: {reading_words(reading)}"
        # A reading of a type of panel is taken on every panel of it.
        of_type = [one.name for one in answer.plan.panels if one.panel_type == reading.subject]
        blanks = ((name, reading) for name in of_type or [reading.subject])
        found.setdefault(told[:1].upper() + told[1:], []).extend(blanks)
    return list(found.items())


def _changes(answer: FitOutAnswer) -> list[tuple[Improvement, str]]:
    """Improvements, each change once with its least favourable figures and panels it is told of."""
    told: dict[str, list[tuple[Improvement, str]]] = {}
    for mount in answer.mounts:
        for one in mount.improvements:
            told.setdefault(one.change, []).append((one, mount.panel))
    found = [
        (max((one for one, _ in of), key=_used), ", ".join(panel for _, panel in of))
        for of in told.values()
    ]
    return sorted(found, key=lambda change: _used(change[0]))


def _used(change: Improvement) -> float:
    return infinite(change.utilisation_fraction)


def _holds(mounts: Iterable[PanelMount]) -> dict[tuple[str, ...], list[str]]:
    """How the mounting holds, in words, and the panels of which that is true."""
    found: dict[tuple[str, ...], list[str]] = {}
    for one in mounts:
        told = (
            one.governing_title,
            utilisation(one.utilisation_fraction),
            top_speed(one.pass_speed_m_s),
            rest(one.cure) if one.cure else "–",
            both(one.nut_torque_n_m, "N·m") if one.nut_torque_n_m else "–",
        )
        found.setdefault(told, []).append(one.panel)
    return found


def _notes(answer: FitOutAnswer) -> list[str]:
    """Notes on the wiring that no step tells; what codes leave out stands in the answer."""
    steps = " ".join(step.text for step in answer.work_steps)
    notes = (note for note in answer.wiring_notes if note.topic != "workmanship")
    return [note.text for note in notes if note.text not in steps]


def _tightest(checks: Iterable[Check]) -> list[tuple[str, Check]]:
    """The tightest case of every rule that compares, where much is used, with a short subject."""
    rules = (same[0] for same in alike(worst_first(checks)))
    tight = (one for one in rules if (one.utilisation_fraction or 0.0) >= _TIGHT)
    return [(_ROUTE.sub("", one.subject or ""), one) for one in tight]
