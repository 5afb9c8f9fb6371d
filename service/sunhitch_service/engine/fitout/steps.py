"""Work steps in the order that keeps people, roof and electronics safe."""

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import resources

import msgspec

from sunhitch.report.amounts import at_least_hours
from sunhitch.texts import Text, statement
from sunhitch.texts.templates import template
from sunhitch.types.mount import AdhesiveFeet, BondedSheet, FastenedFeet, Mounting, Rails
from sunhitch.types.parts import Part, worded
from sunhitch.types.work import Each, WorkStep
from sunhitch_service.engine.mount.setup import own_fasteners

from .build import Build
from .practice import WORK
from .step_figures import step_figures
from .step_readings import PanelTest, step_readings
from .work_order import placing_order, unplaced
from .work_times import work_hours

_UNPLACED = "unplaced"
"""What steps are about that put panels on the roof."""


class Step(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One step of the table; its texts hold `{name:format}` for figures of the build."""

    code: str
    title: str
    text: str
    cautions: tuple[str, ...]
    hold_until: str = ""
    needs: str = ""
    about: str = ""
    tools: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    views: tuple[str, ...] = ()

    @property
    def names(self) -> list[str]:
        """Figures that its texts tell, in order of the alphabet."""
        return sorted({*template(self.text).names, *template(self.hold_until).names})


@cache
def all_steps() -> list[Step]:
    """Every step, in order."""
    file = resources.files("sunhitch_service.engine.fitout").joinpath("data", "steps.toml")
    return msgspec.convert(tomllib.loads(file.read_text("utf-8"))["step"], list[Step])


def tool_text(name: str) -> Text:
    """A tool with its code."""
    return Text(name, f"tool.{worded(name)}", {})


def work_steps(build: Build, parts: list[Part], bench: PanelTest) -> list[WorkStep]:
    """Put the work in order.

    Parameters
    ----------
    build : Build
        The checked build.
    parts : list of Part
        Its parts list.
    bench : PanelTest
        What every type of panel reads on the bench.

    Returns
    -------
    list of WorkStep
        Those of `steps.toml` that the build needs, numbered from 1.
    """
    figures, subjects = step_figures(build, bench), _subjects(build)
    needed = [
        step
        for step in all_steps()
        if (not step.needs or figures[step.needs])
        and (step.about != _UNPLACED or subjects[_UNPLACED])
    ]
    every, free = (_counts(build, subjects, subjects[of]) for of in ("panel", _UNPLACED))
    resting = build.slowest_cure
    return [
        WorkStep(
            number=number,
            code=step.code,
            parameters={name: figures[name] for name in step.names},
            title=step.title,
            text=" ".join(template(step.text).filled(figures).split()),
            hold_until=" ".join(template(step.hold_until).filled(figures).split()),
            cautions=list(step.cautions),
            subjects=subjects.get(step.about, []),
            views=list(step.views),
            readings=step_readings(step.code, build, bench),
            tools=[tool_text(name) for name in step.tools],
            part_keys=[part.key for part in parts if part.kind in step.parts],
            hours=work_hours(
                step.code, free if step.about == _UNPLACED else every, build.job.request.work
            ),
            waiting_hours=(
                float(at_least_hours(resting)) if resting and step.code == "bond-and-wait" else 0.0
            ),
        )
        for number, step in enumerate(needed, start=1)
    ]


def _subjects(build: Build) -> Mapping[str, list[str]]:
    """What steps work on, in the order of work."""
    return {
        "panel": [one.panel for one in placing_order(build)],
        _UNPLACED: [one.panel for one in unplaced(build)],
        "gland": [
            statement("gland-hole", size=gland.size, hole_mm=gland.hole_mm)
            for gland in build.glands
        ],
        "device": [
            *(fuse.device for fuse in build.fuses),
            *(switch.name for switch in build.switches.listed),
            *(array.controller for array in build.arrangement.arrays),
        ],
        "cable": [line.line for line in build.lines],
        "string": build.strings,
        "charger": [charger.name for charger in build.job.request.chargers],
    }


def _counts(
    build: Build, subjects: Mapping[str, list[str]], panels: Sequence[str]
) -> dict[Each, int]:
    """How many of each the times of steps count that work on some panels."""
    mountings = [build.job.type_of(panel).mounting for panel in panels]
    return {
        "job": 1,
        "panel": len(panels),
        "foot": sum(_feet(mounting) for mounting in mountings),
        "fastener": int(sum(own_fasteners(mounting).sum() for mounting in mountings)),
        "cable": len(build.lines),
        "device": len(subjects["device"]),
        "string": len(build.strings),
        "gland": len(build.glands),
        "charger": len(build.job.request.chargers),
    }


def _feet(mounting: Mounting) -> int:
    """Feet or clamps of a panel; for a bonded sheet, as many as take its time."""
    match mounting:
        case AdhesiveFeet() | FastenedFeet():
            return len(mounting.feet)
        case Rails():
            return len(mounting.clamps)
        case BondedSheet():
            return int(WORK.figure("sheet_feet"))
