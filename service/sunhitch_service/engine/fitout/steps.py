"""Work steps in the order that keeps people, roof and electronics safe."""

from collections import Counter
from collections.abc import Iterator

from sunhitch.report.amounts import both, rest
from sunhitch.types.array import ArrangedString
from sunhitch.types.fitout import WorkStep
from sunhitch.types.mount import Cure
from sunhitch.types.wiring import EntryAnswer, NoteTopic
from sunhitch_service.engine.cautions import cautions

from .build import Build
from .cables import SizedLine, notes
from .wording import listed, passes_up_to

_Step = tuple[str, str, str, tuple[str, ...]]
"""Title, text, what to wait for, keys of cautions."""


def work_steps(build: Build) -> list[WorkStep]:
    """Put the work in order.

    Parameters
    ----------
    build : Build
        The checked build.

    Returns
    -------
    list of WorkStep
        Numbered from 1.
    """
    steps = [*_before(build), *_on_the_roof(build), *_wiring(build), *_switch_on(build)]
    return [
        WorkStep(number=n, title=title, text=text, hold_until=hold, cautions=cautions(*keys))
        for n, (title, text, hold, keys) in enumerate(steps, start=1)
    ]


def _before(build: Build) -> Iterator[_Step]:
    yield (
        "Settle what this sheet leaves open",
        "Go through every check that does not pass and mend it first; have local codes, the "
        "vehicle maker's roof limits and a licensed electrician agree with the plan.",
        "Nothing fails, and everything not assessed has been answered",
        ("judgement",),
    )
    yield (
        "Try every panel on the ground",
        f"{_voltage_list(build)} Look for cracked cells and damaged leads before anything is "
        "fixed.",
        "Every panel reads within 5 % of its figure at its own temperature (common practice)",
        ("lit-panel",),
    )
    where = "; ".join(
        f"{p.panel} front {1000.0 * p.x_m:.0f} mm, left {1000.0 * p.y_m:.0f} mm"
        for p in build.roof.placements
    )
    entry = (
        f"front {1000.0 * build.roof.entry_x_m:.0f} mm, left {1000.0 * build.roof.entry_y_m:.0f} mm"
    )
    yield (
        "Mark out the roof",
        "Take every point from the marking-out list: from the front edge and the left edge, "
        f"looking forward. Corners at the front left: {where}. Cable entry: {entry}. Both "
        "diagonals of every panel must be equal before anything is fixed.",
        "Every mark agrees with the plan, and nothing lies beneath a foot but sound skin",
        ("roof-work",),
    )


def _voltage_list(build: Build) -> str:
    texts: list[str] = []
    for kind in build.job.request.panel_types:
        e = kind.panel.electrical
        beta = build.job.beta_voc[kind.name]
        texts.append(
            f"{kind.name}: about {e.v_oc_v:.1f} V open circuit with cells at 25 °C (77 °F), "
            f"{e.v_oc_v * (1.0 + 25.0 * beta):.1f} V at 50 °C "
            "(122 °F)."
        )
    return " ".join(texts)


def _on_the_roof(build: Build) -> Iterator[_Step]:
    if build.slowest_cure is not None:
        yield from _gluing(build, build.slowest_cure)
    if build.drilled:
        yield (
            "Drill and seal the fasteners",
            "Drill only where the vehicle maker allows it, deburr, seal every hole, fit washers "
            "or backing plates.",
            "",
            ("roof-leak", "roof-work"),
        )
    yield from _nuts(build)
    yield from _cable_entry(build)


def _gluing(build: Build, cure: Cure) -> Iterator[_Step]:
    surface = build.job.request.surface
    known = surface is not None and surface.kind != "unknown"
    kind = surface.kind.replace("-", " ") if surface is not None and known else "roof"
    yield (
        "Prepare the surface",
        f"Clean, abrade and prime the {kind} exactly as the adhesive's maker says; try the bond "
        "on a hidden spot first.",
        "The surface is clean, dry and within the adhesive's temperature range",
        ("adhesive-cure", "roof-work"),
    )
    resting = rest(cure)
    yield (
        "Bond and wait",
        "Set the feet with the panel, or a board drilled like it, as a jig, so that studs meet "
        "their holes. Press every foot or sheet down over its whole area. "
        f"Let the bond rest {resting}, longer where it is colder.",
        f"{resting} have passed; do not drive before",
        ("adhesive-cure", "road-safety"),
    )


def _nuts(build: Build) -> Iterator[_Step]:
    found = sorted({mount.nut_torque_n_m for mount in build.mounts if mount.nut_torque_n_m})
    torques = [both(torque, "N·m") for torque in found]
    if torques:
        yield (
            "Fit the panels",
            f"Tighten lock nuts to {listed(torques)}: enough to hold, not enough to crush the "
            "sheet.",
            "",
            ("roof-work", "road-safety"),
        )


def _cable_entry(build: Build) -> Iterator[_Step]:
    entry = build.entry
    if entry is None:
        return
    yield (
        "Make the cable entry",
        f"{_gland_text(entry)}{' '.join(entry.steps)}",
        "Sealant has skinned over; the entry is tight under a hose",
        ("roof-leak", "dc-arc"),
    )


def _gland_text(entry: EntryAnswer) -> str:
    counts = Counter(f"{g.size}, hole {g.hole_mm:.1f} mm" for g in entry.glands)
    holes = [f"{number} × {text}" for text, number in counts.items()]
    return f"Glands: {listed(holes)}. " if holes else ""


def _line_texts(build: Build) -> str:
    texts = [
        f"{line.line}, {line.start} to {line.end}: {both(line.length_m, 'm')}, {_size(line)}."
        for line in build.lines
    ]
    return " ".join(texts)


def _size(line: SizedLine) -> str:
    awg, metric = line.answer.awg.chosen, line.answer.metric.chosen
    sizes = [awg.size] if awg else []
    sizes += [f"{metric.area_mm2:g} mm²"] if metric else []
    return " or ".join(sizes) or "no single conductor passes"


def _string_texts(build: Build) -> str:
    texts: list[str] = []
    for array in build.arrangement.arrays:
        for number, string in enumerate(array.strings, start=1):
            how = " to ".join(string.panels) if len(string.panels) > 1 else string.panels[0]
            series = ", plus to minus" if len(string.panels) > 1 else ""
            texts.append(f"{array.controller}, string {number}: {how}{series}.")
    return " ".join(texts)


def _harness_text(build: Build) -> str:
    parts = [
        f"{item.pieces} × {item.kind.replace('-', ' ')} ({item.polarity}) {item.where}"
        for item in build.arrangement.harness
        if item.pieces
    ]
    return f"Harness: {'; '.join(parts)}." if parts else ""


def _wiring(build: Build) -> Iterator[_Step]:
    """Everything inside first; the roof's plugs meet last, so that no bare end is ever live."""
    places = " ".join(f"{s.name}: {s.place}" for s in build.switches)
    yield (
        "Fit disconnects, fuse holders and controller",
        f"{places} Leave every fuse out and every disconnect open.",
        "All fuses are out, all disconnects are open",
        ("dc-arc", "battery-energy"),
    )
    yield (
        "Run all cables, panels still unplugged",
        f"{_line_texts(build)} Clip roof cables down, out of puddles and off edges, and protect "
        "cables inside from edges and heat; red is positive, black is negative. "
        f"{_asked_for(build, 'bonding', 'return', 'workmanship')}".strip(),
        "Every conductor ends in a terminal or a plug; none is bare",
        ("dc-arc", "roof-work"),
    )
    yield (
        "Test every string by itself",
        f"{_string_texts(build)} Measure polarity and open-circuit voltage of each string before "
        f"it meets another: {_string_voltages(build)}",
        "Polarity of every string is right and its voltage is within its range",
        ("lit-panel",),
    )
    yield (
        "Join the panels, plugs last",
        f"The disconnect stays open. {_harness_text(build)} {_string_fuse_text(build)}".strip(),
        "Every plug pair has clicked; both sides are of the same make",
        ("lit-panel", "dc-arc"),
    )


def _asked_for(build: Build, *topics: NoteTopic) -> str:
    """What the rules ask for beside the sizes, on some topics."""
    return " ".join(note.text for note in notes(build.lines) if note.topic in topics)


def _string_fuse_text(build: Build) -> str:
    fuses = [f for f in build.fuses if f.of_string and f.rating_a > 0.0]
    texts = [f"{f.device}, {f.rating_a:g} A, {_inner(f.place).rstrip('.')}" for f in fuses]
    return f"String fuses go in now: {'; '.join(texts)}." if texts else ""


def _inner(sentence: str) -> str:
    """A sentence as it reads within another."""
    return f"{sentence[:1].lower()}{sentence[1:]}"


def _switch_on(build: Build) -> Iterator[_Step]:
    fuses = " ".join(
        f"{f.device}: {f.rating_a:g} A, {_inner(f.place).rstrip('.')}."
        for f in build.fuses
        if f.rating_a > 0.0 and not f.of_string
    )
    yield (
        "Battery first",
        f"Check polarity with a meter, put in the fuses, close the battery disconnect. {fuses}",
        "The controller shows the battery's voltage and is set to its chemistry",
        ("battery-energy", "connection-order"),
    )
    yield (
        "Then the panels",
        f"At the open PV disconnect, measure polarity and voltage: {_expected(build)} Close the "
        "disconnect only when both are right.",
        "Polarity is right and the voltage is within its range",
        ("lit-panel", "connection-order"),
    )
    yield (
        "Prove it with the meter",
        f"In clear midday sun expect about {build.arrangement.sun.charging_power_w:.0f} W into a "
        "battery that is not full; note sun, temperatures, voltage and current for later years.",
        "",
        ("lit-panel", "battery-energy"),
    )
    yield from _before_driving(build)


def _expected(build: Build) -> str:
    texts: list[str] = []
    for array in build.arrangement.arrays:
        ranges = [_range_v(build, string) for string in array.strings]
        low, high = min(low for low, _ in ranges), max(high for _, high in ranges)
        texts.append(f"{array.controller} {low:.0f} to {high:.0f} V.")
    return " ".join(texts)


def _string_voltages(build: Build) -> str:
    texts: list[str] = []
    for array in build.arrangement.arrays:
        for number, string in enumerate(array.strings, start=1):
            low, high = _range_v(build, string)
            texts.append(f"string {number} of {array.controller} {low:.0f} to {high:.0f} V")
    return f"{'; '.join(texts)}, from hot cells to the coldest morning."


def _range_v(build: Build, string: ArrangedString) -> tuple[float, float]:
    """Open-circuit voltage with hot cells and in the cold [V]."""
    site = build.job.request.site
    hot, cold = build.hot_cell_c, site.lowest_ambient_c
    return _open_circuit(build, string, hot), _open_circuit(build, string, cold)


def _open_circuit(build: Build, string: ArrangedString, cell_c: float) -> float:
    total = 0.0
    for name in string.panels:
        kind = build.job.type_of(name)
        beta = build.job.beta_voc[kind.name]
        total += kind.panel.electrical.v_oc_v * (1.0 + beta * (cell_c - 25.0))
    return total


def _before_driving(build: Build) -> Iterator[_Step]:
    wait = f"{rest(build.slowest_cure)} of cure are over; " if build.slowest_cure else ""
    passing = any(mount.pass_speed_m_s is None for mount in build.mounts)
    limit = passes_up_to(build.mounts)
    limit = f"{limit[0].upper()}{limit[1:]}{': do not drive' if passing else ''}."
    yield (
        "Before the first drive",
        f"Try every foot by hand, look for lifted edges, fit a second means of holding. {limit}",
        f"{wait}no mount check fails for the speed to be driven, each `review` has been looked at, "
        "and what is `not-assessed` is settled",
        ("road-safety",),
    )
    yield (
        "Look again",
        "After the first 50 km (30 miles), after every storm and each season: feet, nuts, edges, "
        "sealant, cables, and the meter reading against today's.",
        "",
        ("road-safety", "roof-work"),
    )
