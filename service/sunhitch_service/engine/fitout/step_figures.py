"""Figures that the texts of the work steps tell."""

import math
from collections import Counter
from datetime import datetime, timedelta

from sunhitch import units
from sunhitch.report.amounts import at_least_hours
from sunhitch.texts import Text, statement, together
from sunhitch.texts.templates import Parameter
from sunhitch.types.fitout import ProtectiveDevice
from sunhitch.types.mount import AdhesiveFeet, BondedSheet, Cure, Rails
from sunhitch_service.engine.commissioning.sound_array import ReadingBand
from sunhitch_service.engine.mount.setup import middle_m
from sunhitch_service.engine.roof.geometry import front_left

from .build import Build
from .cables import SizedLine, notes
from .circuit import string_name
from .step_readings import PanelTest, insulation_of, open_circuit_v
from .wording import passes_up_to
from .work_order import closed_in_front, order_words

_DONE_WHILE_CABLING = (
    "bonding-battery",
    "bonding-battery-iec",
    "bonding-battery-boat",
    "chassis-return",
    "workmanship",
    "guarded-above-30-v",
    "touch-above-60-v",
)
"""Notes that are work to do; the others say what a code asks, and stand once in the answer."""

_DONE_ON_PANELS = ("bonding-pv",)
"""Those of them that wait for panels on the roof."""

_WITH_CABLES_IN_THEM = ("tighten-gland", "bend-no-tighter", "from-rear-or-below")
"""What is done at an entry once its cables are there."""


def step_figures(build: Build, bench: PanelTest) -> dict[str, Parameter]:
    """What the steps tell of a build; empty where it has nothing of the kind.

    Parameters
    ----------
    build : Build
        The checked build.
    bench : PanelTest
        What every type of panel reads on the bench.
    """
    resting = _resting(build.slowest_cure) if build.slowest_cure else ""
    surface, order = build.job.request.surface, order_words(build)
    front_m, left_m = front_left(build.job.request.roof.outline)
    known = surface is not None and surface.kind != "unknown"
    return {
        "corners": together(
            "semicolon",
            (
                statement(
                    "corner",
                    panel=p.panel,
                    front_mm=1000.0 * (p.x_m - front_m),
                    left_mm=1000.0 * (p.y_m - left_m),
                )
                for p in build.roof.placements
            ),
        ),
        "entry_x_mm": 1000.0 * (build.roof.entry_x_m - front_m),
        "entry_y_mm": 1000.0 * (build.roof.entry_y_m - left_m),
        "surface": surface.kind if surface is not None and known else "roof",
        "resting": resting,
        "cured": statement("of-cure-are-over", resting=resting) if resting else "",
        "drilled": "yes" if build.drilled else "",
        "fitted": _fitted(build),
        "leaks": "yes" if build.drilled or build.entry is not None else "",
        "spacers": _spacers(build),
        "bond_order": order,
        "fasten_order": order,
        "rail_order": order,
        "railed": "yes" if any(isinstance(kind.mounting, Rails) for kind in build.kinds) else "",
        "feet_first": _feet_first(build),
        "drive_away": _drive_away(build),
        "insulation": _insulation(build),
        **_bench(bench),
        **_old_roof(build),
        "new_height": _new_height(build),
        "speed_limit": _speed_limit(build),
        "charging_w": build.arrangement.sun.charging_power_w,
        **_entry(build),
        **_wiring(build),
        **_fuses(build),
        **_voltages(build),
    }


def _resting(cure: Cure) -> Text:
    """Rest of a bond before it is driven, and the temperature and humidity at which that holds."""
    told: dict[str, Parameter] = {"hours": at_least_hours(cure), "at_c": cure.at_c}
    if cure.at_humidity_fraction is None:
        return statement("resting", **told)
    return statement("resting-damp", humidity_fraction=cure.at_humidity_fraction, **told)


def _speed_limit(build: Build) -> str:
    never = any(mount.pass_speed_m_s is None for mount in build.mounts)
    return statement("do-not-drive" if never else "drive-up-to", told=passes_up_to(build.mounts))


def _new_height(build: Build) -> str:
    """How high the vehicle is with its panels, rounded up."""
    job = build.job
    rise_m = max(
        middle_m(kind.mounting, body, kind.spacer) + body.thickness_m / 2
        for kind in build.kinds
        for body in [job.body_of(job.names_of(kind.name)[0])]
    )
    height_m = job.request.vehicle.roof_height_m + rise_m
    feet, inches = divmod(_up(12.0 * units.to_feet(height_m)), 12)
    return statement(
        "new-height",
        rise_mm=1000.0 * rise_m,
        height_m=_up(100.0 * height_m) / 100.0,
        feet=feet,
        inches=inches,
    )


def _up(amount: float) -> int:
    return math.ceil(amount - 1e-9)


def _fitted(build: Build) -> str:
    """How panels are held on their feet or rails; empty where the panels themselves are glued."""
    nuts = sorted({mount.nut_torque_n_m for mount in build.mounts if mount.nut_torque_n_m})
    torques: list[str] = [statement("torque", torque_n_m=torque) for torque in nuts]
    fairings = closed_in_front(build)
    clamped = any(isinstance(kind.mounting, Rails) for kind in build.kinds)
    return together(
        "space",
        [
            statement("tighten-lock-nuts", torques=torques) if torques else "",
            statement("set-clamps") if clamped else "",
            statement("fit-fairings", panels=fairings) if fairings else "",
        ],
    )


def _feet_first(build: Build) -> str:
    """Whether feet or panel come first, and why."""
    held = {type(kind.mounting) for kind in build.kinds}
    trimmed = closed_in_front(build, bonded=True)
    return together(
        "space",
        [
            statement("feet-first") if AdhesiveFeet in held else "",
            statement("sheet-at-once") if BondedSheet in held else "",
            statement("seal-front-edge", panels=trimmed) if trimmed else "",
        ],
    )


def _spacers(build: Build) -> str:
    """Spacer sheets by type: in the path of the load, or trapped and idle."""
    return together(
        "space",
        [
            statement(
                "spacer-glued" if isinstance(kind.mounting, BondedSheet) else "spacer-laid",
                sheet=statement(
                    "spacer-of",
                    panel_type=kind.name,
                    material=kind.spacer.material,
                    thickness_mm=1000.0 * kind.spacer.thickness_m,
                ),
            )
            for kind in build.kinds
            if kind.spacer is not None
        ],
    )


def _drive_away(build: Build) -> str:
    """When the vehicle may move, where the caller says when the bond is made."""
    cure, bonded = build.slowest_cure, build.job.request.work.bonded_at
    if cure is None or bonded is None:
        return ""
    moment = datetime.fromisoformat(bonded) + timedelta(hours=at_least_hours(cure))
    return statement("drive-from", bonded_at=bonded, drive_at=moment.isoformat(timespec="minutes"))


def _bench(bench: PanelTest) -> dict[str, Parameter]:
    """Readings of every type of panel before it is mounted."""
    return {
        "bench_w_m2": bench.irradiance_w_m2,
        "bench_c": bench.cell_c,
        "bench_readings": together(
            "semicolon",
            [
                statement(
                    "bench-readings",
                    kind=kind,
                    voltage=_band(one.voltage_v, "V"),
                    current=_band(one.current_a, "A"),
                )
                for kind, one in bench.panels.items()
            ],
        ),
        "bench_voltage_falls": together(
            "semicolon",
            [
                statement("voltage-falls", mv_per_k=1000.0 * one.falls_v_per_k, kind=kind)
                for kind, one in bench.panels.items()
            ],
        ),
        "half_readings": together(
            "semicolon",
            [
                statement("half-readings", kind=kind, current=_band(one.half_a, "A"))
                for kind, one in bench.panels.items()
                if one.half_a
            ],
        ),
    }


def _labels(build: Build) -> Text:
    """What is written on disconnects and fuses, for whoever opens or replaces them later."""
    labels: list[str] = [
        statement("label-switch", name=each.name, voltage_v=each.minimum_voltage_v)
        for each in build.switches.listed
    ]
    labels += [
        statement("label-fuse", device=fuse.device, rating_a=fuse.rating_a, family=fuse.family)
        for fuse in build.fuses
        if fuse.rating_a
    ]
    return statement("labels", labels=labels)


def _band(band: ReadingBand, unit: str) -> str:
    return statement("band", expected=band.expected, unit=unit, low=band.low, high=band.high)


def _insulation(build: Build) -> str:
    """At which voltage the insulation of each array is tested."""
    rows = ((array.controller, insulation_of(build, array)) for array in build.arrangement.arrays)
    tested = [
        statement("tested-at", controller=name, test_v=row["test_voltage_v"])
        for name, row in rows
        if row is not None
    ]
    return statement("in-brackets", parts=[*tested]) if tested else ""


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
        return {"glands": "", "entry_steps": "", "through_glands": ""}
    counts = Counter(
        statement("gland-hole", size=g.size, hole_mm=g.hole_mm) for g in build.entry.glands
    )
    holes = [statement("so-many", pieces=number, what=text) for text, number in counts.items()]
    steps = build.entry.steps
    return {
        "glands": statement("glands", glands=[*holes]) if holes else "",
        "entry_steps": together("space", [one for one in steps if not _with_cables(one)]),
        "through_glands": together("space", filter(_with_cables, steps)),
    }


def _with_cables(step: str) -> bool:
    return isinstance(step, Text) and step.code in _WITH_CABLES_IN_THEM


def _wiring(build: Build) -> dict[str, str]:
    parts = [
        statement(
            "harness-item",
            pieces=item.pieces,
            part=item.kind,
            polarity=item.polarity,
            place=item.where,
        )
        for item in build.arrangement.harness
        if item.pieces
    ]
    asked = notes(build.lines)
    return {
        "chargers": together("and", _chargers(build)),
        "removable": together("and", [each.name for each in build.job.request.removable]),
        "switches": together(
            "space",
            [statement("switch-at", name=s.name, place=s.place) for s in build.switches.listed],
        ),
        "labels": _labels(build),
        "cables": together("space", map(_cable_run, build.lines)),
        "asked_for": together("space", [n.text for n in asked if n.code in _DONE_WHILE_CABLING]),
        "frame_bonds": together("space", [n.text for n in asked if n.code in _DONE_ON_PANELS]),
        "harness": statement("harness", parts=[*parts]) if parts else "",
        "strings": together(
            "space",
            [
                statement(
                    "string-run-plus" if len(string.panels) > 1 else "string-run",
                    controller=array.controller,
                    number=number,
                    panels=string.panels,
                )
                for array in build.arrangement.arrays
                for number, string in enumerate(array.strings, start=1)
            ],
        ),
    }


def _cable_run(line: SizedLine) -> str:
    return statement(
        "cable-run",
        line=line.line,
        start=line.start,
        end=line.end,
        length_m=line.length_m,
        size=_size(line),
    )


def _chargers(build: Build) -> list[str]:
    """Other chargers, each with the fuses in its cables."""
    return [
        statement(
            "charger-with-fuses",
            charger=charger.name,
            devices=[fuse.device for fuse in build.fuses if charger.name == _behind(build, fuse)],
        )
        for charger in build.job.request.chargers
    ]


def _behind(build: Build, fuse: ProtectiveDevice) -> str:
    """Controller, charger or load whose cable a fuse protects; empty for those of strings."""
    return next((line.controller for line in build.lines if line.line == fuse.protects), "")


def _size(line: SizedLine) -> str:
    if line.answer.at_hand:
        return line.answer.at_hand.size
    awg, metric = line.answer.awg.chosen, line.answer.metric.chosen
    area = statement("area", area_mm2=metric.area_mm2) if metric else ""
    if awg and area:
        return statement("either-size", size=awg.size, other=area)
    return awg.size if awg else area or statement("no-single-conductor")


def _fuses(build: Build) -> dict[str, str]:
    others = {charger.name for charger in build.job.request.chargers}
    told = [
        (f, statement("rating-and-place", rating_a=f.rating_a, place=f.place))
        for f in build.fuses
        if f.rating_a > 0.0 and _behind(build, f) not in others
    ]
    strings = together(
        "semicolon",
        [statement("fuse-in-list", device=f.device, fuse=text) for f, text in told if f.of_string],
    )
    return {
        "string_fuses": statement("string-fuses-go-in", fuses=strings) if strings else "",
        "line_fuses": together(
            "space",
            [
                statement("fuse-alone", device=fuse.device, fuse=text)
                for fuse, text in told
                if not fuse.of_string
            ],
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
        arrays.append(statement("array-range", controller=array.controller, low_v=low, high_v=high))
    return {
        "string_voltages": together(
            "semicolon",
            [
                statement("string-range", string=name, low_v=low, high_v=high)
                for name, (low, high) in strings.items()
            ],
        ),
        "array_voltages": together("space", arrays),
    }
