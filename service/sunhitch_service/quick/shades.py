"""Power of panels with some cells in shade."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from sunhitch import build
from sunhitch.texts import Text, statement, together
from sunhitch.types.check import VERDICTS
from sunhitch.types.panel import CellLayout, Panel, PanelElectrical
from sunhitch.types.quick.shades import QuickShadedPower, ShadedPowerQuestion
from sunhitch.types.shade import ShadedIvAnswer, ShadedIvRequest, Sun
from sunhitch.types.system import RuleSet
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.pv.presets import preset_layout
from sunhitch_service.engine.shade.calculation import shaded_iv
from sunhitch_service.engine.shade.patterns import (
    ShadePattern,
    groups_reached,
    light_grid,
    paths_reached,
    patterns,
)
from sunhitch_service.engine.sources import sources_of

from .words import assumed, cited, warned

_MOST_PANELS = 60
_MOST_SOLVED = 120
"""Arrays: they take a second at most."""


@dataclass(frozen=True, slots=True)
class _ShadedArray:
    """Equal panels, some of them shaded alike."""

    kind: Panel
    layout: CellLayout
    in_series: int
    in_parallel: int
    shaded: int
    share: float
    sun: Sun
    rules: RuleSet | None

    def by_string(self, most: int) -> list[tuple[int, ...]]:
        """Shaded panels of each string, from as few strings as can be to as many.

        Strings with one shaded panel beside strings with many can give less, and heat a cell more,
        than either end: all ways to share them out, or so many of them in even steps.
        """
        every = list(_shared_out(self.shaded, self.in_parallel, self.in_series))
        steps = min(most, len(every))
        return [every[k * (len(every) - 1) // max(1, steps - 1)] for k in range(steps)]

    def solved(self, pattern: ShadePattern, strings: tuple[int, ...]) -> ShadedIvAnswer:
        grid = light_grid(self.layout, pattern, self.share)
        light = {
            f"{number}-{place}": grid
            for number, count in enumerate(strings, 1)
            for place in range(1, count + 1)
        }
        panels, wiring = build.array(self.kind, self.in_series, self.in_parallel, light)
        return shaded_iv(
            ShadedIvRequest(panels=panels, wiring=wiring, sun=self.sun, rules=self.rules)
        )

    def told(self, pattern: ShadePattern, strings: tuple[int, ...]) -> str:
        groups, paths = len(self.layout.bypass), self.layout.paths_in_parallel
        told = statement("groups-shaded", shaded=groups_reached(pattern), groups=groups)
        if paths > 1:
            reached = paths_reached(pattern)
            told = statement("paths-shaded", told=told, shaded=reached, paths=groups * paths)
        if len(strings) > 1:
            reached = sum(n > 0 for n in strings)
            told = statement("strings-shaded", told=told, shaded=reached, strings=len(strings))
        return statement("as-a-sentence", told=told)


def _shared_out(panels: int, strings: int, most: int) -> Iterator[tuple[int, ...]]:
    """Ways to deal panels to equal strings, no more than so many each, the fullest first."""
    if strings == 0:
        if panels == 0:
            yield ()
        return
    for own in range(min(panels, most), -(-panels // strings) - 1, -1):
        for rest in _shared_out(panels - own, strings - 1, own):
            yield (own, *rest)


def shaded_power(asked: ShadedPowerQuestion) -> QuickShadedPower:
    """Power with the worst and the kindest pattern of the shade, each solved cell by cell."""
    notes = Assumptions()
    array = _array(asked, notes)
    found = patterns(array.layout, asked.shaded_cells, asked.shaded_groups)
    faults = Faults()
    there_are = len(array.layout.bypass)
    if asked.shaded_groups is not None and asked.shaded_groups > there_are:
        faults.add("/shaded_groups", "fewer-groups", groups=there_are)
    elif not found:
        _note_unfit(array.layout, asked, faults)
    faults.add_if(
        array.shaded > array.in_series * array.in_parallel,
        "/shaded_panels",
        "fewer-panels",
        panels=array.in_series * array.in_parallel,
    )
    faults.add_if(
        array.in_series * array.in_parallel > _MOST_PANELS,
        "/strings_in_parallel",
        "too-many-shaded-panels",
        panels=array.in_series * array.in_parallel,
        most_panels=_MOST_PANELS,
    )
    faults.raise_any()
    ways = array.by_string(max(2, _MOST_SOLVED // len(found)))
    answers = {one: array.solved(*one) for one in product(found, ways)}
    worst = min(answers, key=lambda one: answers[one].maximum_power_point.power_w)
    best = max(answers, key=lambda one: answers[one].maximum_power_point.power_w)
    others = tuple(f"/panels/{number}/" for number in range(1, _MOST_PANELS))  # all are equal
    notes.merge([one for one in answers[worst].assumptions if not one.field.startswith(others)])
    return _answer(
        answers[worst],
        list(answers.values()),
        (array.told(*worst), array.told(*best)),
        notes,
    )


def _array(asked: ShadedPowerQuestion, notes: Assumptions) -> _ShadedArray:
    def whole(field: str, given: int | None, why: Text) -> int:
        return int(notes.choose(f"/{field}", given, 1, why))

    kind = _panel(asked, notes)
    why = statement("dense-shadow")
    return _ShadedArray(
        kind=kind,
        layout=preset_layout(kind.construction or "full-cell-2-diodes", asked.cells_in_series),
        in_series=whole("panels_in_series", asked.panels_in_series, statement("one-panel")),
        in_parallel=whole(
            "strings_in_parallel", asked.strings_in_parallel, statement("one-string")
        ),
        shaded=whole("shaded_panels", asked.shaded_panels, statement("one-shaded")),
        share=notes.choose("/light_fraction", asked.light_fraction, 0.15, why),
        sun=Sun(
            irradiance_w_m2=notes.choose(
                "/irradiance_w_m2", asked.irradiance_w_m2, 1000.0, statement("full-sun")
            ),
            cell_temperature_c=notes.choose(
                "/cell_c", asked.cell_c, 25.0, statement("as-on-nameplate")
            ),
        ),
        rules=asked.rules,
    )


def _panel(asked: ShadedPowerQuestion, notes: Assumptions) -> Panel:
    plate = PanelElectrical(
        p_mp_w=asked.p_mp_w,
        v_mp_v=asked.v_mp_v,
        i_mp_a=asked.i_mp_a,
        v_oc_v=asked.v_oc_v,
        i_sc_a=asked.i_sc_a,
        cells_in_series=asked.cells_in_series,
        alpha_sc_fraction_per_c=asked.alpha_sc_fraction_per_c,
        beta_voc_fraction_per_c=asked.beta_voc_fraction_per_c,
        gamma_pmp_fraction_per_c=asked.gamma_pmp_fraction_per_c,
        max_series_fuse_a=asked.max_series_fuse_a,
        max_system_voltage_v=asked.max_system_voltage_v,
        cell_material=asked.cell_material,
    )
    if asked.construction is None:
        why = statement("usual-flexible-panel")
        notes.note("/construction", "full-cell-2-diodes", why)
    return Panel(electrical=plate, construction=asked.construction or "full-cell-2-diodes")


def _note_unfit(layout: CellLayout, asked: ShadedPowerQuestion, faults: Faults) -> None:
    paths, groups, at = layout.paths_in_parallel, asked.shaded_groups, "/shaded_cells"
    if groups is None:
        faults.add(at, "fewer-cells", cells=layout.positions_in_series * paths)
    elif asked.shaded_cells < groups:
        faults.add(at, "cells-on-fewer-groups", groups=groups)
    else:
        sizes = sorted((g.last - g.first + 1 for g in layout.bypass), reverse=True)
        most = paths * sum(sizes[:groups])
        faults.add(at, "groups-hold-fewer-cells", groups=groups, cells=most)


def _answer(
    worst: ShadedIvAnswer, every: list[ShadedIvAnswer], told: tuple[str, str], notes: Assumptions
) -> QuickShadedPower:
    top, full = worst.maximum_power_point, worst.loss_split.unshaded_w
    severe = max(every, key=lambda one: (VERDICTS.index(one.verdict), _hottest_w(one)))
    checks = [check for one in (severe, worst) for check in one.checks]
    return QuickShadedPower(
        power_w=max(0.0, top.power_w),
        best_power_w=max(0.0, *(one.maximum_power_point.power_w for one in every)),
        pattern=told[0],
        best_pattern=told[1],
        unshaded_w=full,
        lost_fraction=min(1.0, max(0.0, 1.0 - top.power_w / full)),
        tracker_w=max(0.0, min(one.tracker.found.power_w for one in every)),
        voltage_v=max(0.0, top.voltage_v),
        current_a=max(0.0, top.current_a),
        conducting_diodes=sum(panel.conducting_diodes for panel in worst.panels),
        hottest_cell_w=max(map(_hottest_w, every)),
        verdict=severe.verdict,
        remedy=together("space", dict.fromkeys(check.remedy for check in checks)),
        assumed=assumed(notes.listed()),
        basis=cited(*sources_of(check.basis for check in checks)),
        caution=warned(worst.cautions),
    )


def _hottest_w(answer: ShadedIvAnswer) -> float:
    return max(panel.hottest_cell_dissipation_w for panel in answer.panels)
