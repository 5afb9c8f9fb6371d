"""Work steps in the order that keeps people, roof and electronics safe."""

import tomllib
from collections import Counter
from functools import cache
from importlib import resources

import msgspec

from sunhitch.report.amounts import both, rest
from sunhitch.texts.templates import template
from sunhitch.types.array import ArrangedString
from sunhitch.types.fitout import WorkStep
from sunhitch_service.engine.cautions import cautions

from .build import Build
from .cables import SizedLine, notes
from .circuit import string_name
from .wording import listed, passes_up_to


class Step(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One step of the table; its texts hold `{name:format}` for figures of the build."""

    code: str
    title: str
    text: str
    cautions: tuple[str, ...]
    hold_until: str = ""
    needs: str = ""

    @property
    def names(self) -> frozenset[str]:
        """Figures that its texts tell."""
        return template(self.text).names | template(self.hold_until).names


@cache
def all_steps() -> list[Step]:
    """Every step, in order."""
    file = resources.files("sunhitch_service.engine.fitout").joinpath("data", "steps.toml")
    return msgspec.convert(tomllib.loads(file.read_text("utf-8"))["step"], list[Step])


def work_steps(build: Build) -> list[WorkStep]:
    """Put the work in order.

    Parameters
    ----------
    build : Build
        The checked build.

    Returns
    -------
    list of WorkStep
        Those of `steps.toml` that the build needs, numbered from 1.
    """
    figures = _figures(build)
    needed = [step for step in all_steps() if not step.needs or figures[step.needs]]
    return [
        WorkStep(
            number=number,
            code=step.code,
            parameters={name: figures[name] for name in sorted(step.names)},
            title=step.title,
            text=" ".join(template(step.text).filled(figures).split()),
            hold_until=template(step.hold_until).filled(figures),
            cautions=cautions(*step.cautions),
        )
        for number, step in enumerate(needed, start=1)
    ]


def _figures(build: Build) -> dict[str, str | float]:
    """What the steps tell of a build; empty where it has nothing of the kind."""
    resting = rest(build.slowest_cure) if build.slowest_cure else ""
    nuts = sorted({mount.nut_torque_n_m for mount in build.mounts if mount.nut_torque_n_m})
    surface = build.job.request.surface
    known = surface is not None and surface.kind != "unknown"
    return {
        "corners": "; ".join(
            f"{p.panel} front {1000.0 * p.x_m:.0f} mm, left {1000.0 * p.y_m:.0f} mm"
            for p in build.roof.placements
        ),
        "entry_x_mm": 1000.0 * build.roof.entry_x_m,
        "entry_y_mm": 1000.0 * build.roof.entry_y_m,
        "surface": surface.kind.replace("-", " ") if surface is not None and known else "roof",
        "resting": resting,
        "cured": f"{resting} of cure are over; " if resting else "",
        "drilled": "yes" if build.drilled else "",
        "torques": listed([both(torque, "N·m") for torque in nuts]),
        "speed_limit": _speed_limit(build),
        "charging_w": build.arrangement.sun.charging_power_w,
        **_entry(build),
        **_wiring(build),
        **_fuses(build),
        **_voltages(build),
    }


def _speed_limit(build: Build) -> str:
    told = passes_up_to(build.mounts)
    never = any(mount.pass_speed_m_s is None for mount in build.mounts)
    return f"{told[0].upper()}{told[1:]}{': do not drive' if never else ''}"


def _entry(build: Build) -> dict[str, str]:
    if build.entry is None:
        return {"glands": "", "entry_steps": ""}
    counts = Counter(f"{g.size}, hole {g.hole_mm:.1f} mm" for g in build.entry.glands)
    holes = [f"{number} × {text}" for text, number in counts.items()]
    return {
        "glands": f"Glands: {listed(holes)}." if holes else "",
        "entry_steps": " ".join(build.entry.steps),
    }


def _wiring(build: Build) -> dict[str, str]:
    parts = [
        f"{item.pieces} × {item.kind.replace('-', ' ')} ({item.polarity}) {item.where}"
        for item in build.arrangement.harness
        if item.pieces
    ]
    asked_for = [
        note.text
        for note in notes(build.lines)
        if note.topic in ("bonding", "return", "workmanship")
    ]
    return {
        "chargers": listed([each.name for each in build.job.request.chargers]),
        "removable": listed([each.name for each in build.job.request.removable]),
        "switches": " ".join(f"{s.name}: {s.place}" for s in build.switches),
        "cables": " ".join(
            f"{line.line}, {line.start} to {line.end}: {both(line.length_m, 'm')}, {_size(line)}."
            for line in build.lines
        ),
        "asked_for": " ".join(asked_for),
        "harness": f"Harness: {'; '.join(parts)}." if parts else "",
        "strings": " ".join(
            f"{array.controller}, string {number}: {' to '.join(string.panels)}"
            f"{', plus to minus' if len(string.panels) > 1 else ''}."
            for array in build.arrangement.arrays
            for number, string in enumerate(array.strings, start=1)
        ),
    }


def _size(line: SizedLine) -> str:
    if line.answer.at_hand:
        return line.answer.at_hand.size
    awg, metric = line.answer.awg.chosen, line.answer.metric.chosen
    sizes = [awg.size] if awg else []
    sizes += [f"{metric.area_mm2:g} mm²"] if metric else []
    return " or ".join(sizes) or "no single conductor passes"


def _fuses(build: Build) -> dict[str, str]:
    told = [
        (f, f"{f.rating_a:g} A, {f.place[:1].lower()}{f.place[1:]}".rstrip("."))
        for f in build.fuses
        if f.rating_a > 0.0
    ]
    strings = "; ".join(f"{fuse.device}, {text}" for fuse, text in told if fuse.of_string)
    return {
        "string_fuses": f"String fuses go in now: {strings}." if strings else "",
        "line_fuses": " ".join(
            f"{fuse.device}: {text}." for fuse, text in told if not fuse.of_string
        ),
    }


def _voltages(build: Build) -> dict[str, str]:
    """Open-circuit voltages of panels on the ground, of strings, and of whole arrays."""
    strings = {
        string_name(array.controller, number): _range_v(build, string)
        for array in build.arrangement.arrays
        for number, string in enumerate(array.strings, start=1)
    }
    arrays: list[str] = []
    for array in build.arrangement.arrays:
        ranges = [_range_v(build, string) for string in array.strings]
        low, high = min(low for low, _ in ranges), max(high for _, high in ranges)
        arrays.append(f"{array.controller} {low:.0f} to {high:.0f} V.")
    panels: list[str] = []
    for kind in build.job.request.panel_types:
        v_oc_v, beta = kind.panel.electrical.v_oc_v, build.job.beta_voc[kind.name]
        panels.append(
            f"{kind.name}: about {v_oc_v:.1f} V open circuit with cells at 25 °C (77 °F), "
            f"{v_oc_v * (1.0 + 25.0 * beta):.1f} V at 50 °C (122 °F)."
        )
    return {
        "panel_voltages": " ".join(panels),
        "string_voltages": "; ".join(
            f"{name} {low:.0f} to {high:.0f} V" for name, (low, high) in strings.items()
        ),
        "array_voltages": " ".join(arrays),
    }


def _range_v(build: Build, string: ArrangedString) -> tuple[float, float]:
    """Open-circuit voltage with hot cells and in the cold [V]."""
    low, high = 0.0, 0.0
    for name in string.panels:
        kind = build.job.type_of(name)
        v_oc_v, beta = kind.panel.electrical.v_oc_v, build.job.beta_voc[kind.name]
        low += v_oc_v * (1.0 + beta * (build.hot_cell_c - 25.0))
        high += v_oc_v * (1.0 + beta * (build.job.request.site.lowest_ambient_c - 25.0))
    return low, high
