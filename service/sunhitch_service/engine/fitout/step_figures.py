"""Figures that the texts of the work steps tell."""

from collections import Counter
from datetime import datetime, timedelta

from sunhitch.report.amounts import both, figure, rest
from sunhitch.types.mount import AdhesiveFeet, BondedSheet, Rails
from sunhitch_service.engine.commissioning.sound_array import ReadingBand

from .build import Build
from .cables import SizedLine, notes
from .circuit import string_name
from .step_readings import PanelTest, insulation_of, open_circuit_v
from .wording import listed, passes_up_to
from .work_order import order_words

_DONE_WHILE_CABLING = (
    "bonding-battery",
    "bonding-battery-iec",
    "bonding-battery-boat",
    "bonding-pv",
    "chassis-return",
    "workmanship",
    "guarded-above-30-v",
    "touch-above-60-v",
)
"""Notes that are work to do; the others say what a code asks, and stand once in the answer."""


def step_figures(build: Build, bench: PanelTest) -> dict[str, str | float]:
    """What the steps tell of a build; empty where it has nothing of the kind.

    Parameters
    ----------
    build : Build
        The checked build.
    bench : PanelTest
        What every type of panel reads on the bench.
    """
    resting = rest(build.slowest_cure) if build.slowest_cure else ""
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
        "fitted": _fitted(build),
        "leaks": "yes" if build.drilled or build.entry is not None else "",
        "spacers": _spacers(build),
        "bond_order": order_words(build),
        "fasten_order": order_words(build),
        "feet_first": _feet_first(build),
        "drive_away": _drive_away(build),
        "insulation": _insulation(build),
        **_bench(bench),
        **_old_roof(build),
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


def _fitted(build: Build) -> str:
    """How panels are held on their feet or rails; empty where the panels themselves are glued."""
    nuts = sorted({mount.nut_torque_n_m for mount in build.mounts if mount.nut_torque_n_m})
    told: list[str] = []
    if nuts:
        torques = listed([both(torque, "N·m") for torque in nuts])
        told.append(
            f"Tighten lock nuts to {torques}: enough to hold, not enough to crush the sheet."
        )
    if any(isinstance(kind.mounting, Rails) for kind in build.kinds):
        told.append("Set clamps on the frame's long sides, to the torque of their maker.")
    return " ".join(told)


def _feet_first(build: Build) -> str:
    """Whether feet or panel come first, and why."""
    mountings = [kind.mounting for kind in build.kinds]
    told: list[str] = []
    if any(isinstance(mounting, AdhesiveFeet) for mounting in mountings):
        told.append(
            "Feet first, by a drilled board, the panel after the cure: pads are pressed from "
            "above, and no wind pulls on a young bond."
        )
    if any(isinstance(mounting, BondedSheet) for mounting in mountings):
        told.append(
            "A bonded panel goes down at once: lower its far edge against a batten, roll it down "
            "towards you, and weigh it down."
        )
    return " ".join(told)


def _spacers(build: Build) -> str:
    """Spacer sheets by type: in the path of the load, or trapped and idle."""
    told: list[str] = []
    for kind in build.kinds:
        if kind.spacer is None:
            continue
        thick = both(1000.0 * kind.spacer.thickness_m, "mm")
        sheet = f"{kind.name}: {kind.spacer.material} of {thick}"
        if isinstance(kind.mounting, BondedSheet):
            told.append(f"{sheet}, glued to the panel over its whole area; it carries the load.")
        else:
            told.append(
                f"{sheet}, laid under the panel, where all studs or clamps hold it; it carries no "
                "load, and its glue is no part of the hold."
            )
    return " ".join(told)


def _drive_away(build: Build) -> str:
    """When the vehicle may move, where the caller says when the bond is made."""
    cure, bonded = build.slowest_cure, build.job.request.work.bonded_at
    if cure is None or bonded is None:
        return ""
    moment = datetime.fromisoformat(bonded) + timedelta(hours=cure.hours_before_driving)
    return f" Made at {bonded}, it may be driven from {moment.isoformat(timespec='minutes')}."


def _bench(bench: PanelTest) -> dict[str, str | float]:
    """Readings of every type of panel before it is mounted."""
    return {
        "bench_w_m2": bench.irradiance_w_m2,
        "bench_c": bench.cell_c,
        "bench_readings": "; ".join(
            f"{kind}: {_band(one.voltage_v, 'V')} open circuit and {_band(one.current_a, 'A')} "
            "short circuit"
            for kind, one in bench.panels.items()
        ),
        "bench_voltage_falls": "; ".join(
            f"{1000.0 * one.falls_v_per_k:.0f} mV for each kelvin above ({kind})"
            for kind, one in bench.panels.items()
        ),
        "half_readings": "; ".join(
            f"{kind} gives {_band(one.half_w, 'W')}, at about {figure(one.half_v)} V, where the "
            f"bare panel gives {figure(one.bare_w)} W"
            for kind, one in bench.panels.items()
            if one.has_diodes
        ),
    }


def _band(band: ReadingBand, unit: str) -> str:
    return f"{figure(band.expected)} {unit} ({figure(band.low)} to {figure(band.high)} {unit})"


def _insulation(build: Build) -> str:
    """At which voltage the insulation of each array is tested."""
    rows = ((array.controller, insulation_of(build, array)) for array in build.arrangement.arrays)
    tested = [f"{name} at {row['test_voltage_v']} V" for name, row in rows if row is not None]
    return f" ({listed(tested)})" if tested else ""


def _old_roof(build: Build) -> dict[str, str]:
    """What an earlier build left; empty where it left nothing of the kind."""
    left = build.job.request.work.old_roof
    glued = "glued-panels" in left
    return {
        "glued_panels": "yes" if glued else "",
        "old_adhesive": "yes" if glued or "adhesive" in left else "",
        "old_holes": "yes" if "holes" in left else "",
    }


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
    asked_for = [note.text for note in notes(build.lines) if note.code in _DONE_WHILE_CABLING]
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
        string_name(array.controller, number): open_circuit_v(build, string)
        for array in build.arrangement.arrays
        for number, string in enumerate(array.strings, start=1)
    }
    arrays: list[str] = []
    for array in build.arrangement.arrays:
        ranges = [open_circuit_v(build, string) for string in array.strings]
        low, high = min(low for low, _ in ranges), max(high for _, high in ranges)
        arrays.append(f"{array.controller} {low:.0f} to {high:.0f} V.")
    return {
        "string_voltages": "; ".join(
            f"{name} {low:.0f} to {high:.0f} V" for name, (low, high) in strings.items()
        ),
        "array_voltages": " ".join(arrays),
    }
