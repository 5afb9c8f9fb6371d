"""Power of panels with some cells in shade."""

from sunhitch import build
from sunhitch.types.panel import CellLayout, Panel, PanelElectrical
from sunhitch.types.quick.shades import QuickShadedPower, ShadedPowerQuestion
from sunhitch.types.shade import ShadedIvAnswer, ShadedIvRequest, Sun
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.pv.presets import preset_layout
from sunhitch_service.engine.shade.calculation import shaded_iv

from .question import Question, assumed, cited, warned

_MOST_PANELS = 60


def shaded_power(asked: ShadedPowerQuestion) -> QuickShadedPower:
    """Power in shade by the whole shaded-array calculation."""
    notes = Assumptions()
    in_series = _whole("/panels_in_series", asked.panels_in_series, 1, "One panel.", notes)
    in_parallel = _whole("/strings_in_parallel", asked.strings_in_parallel, 1, "One string.", notes)
    shaded = _whole("/shaded_panels", asked.shaded_panels, 1, "One panel is shaded.", notes)
    kind = _panel(asked, notes)
    grid = _light(asked, kind, notes)
    faults = Faults()
    faults.add_if(
        shaded > in_series * in_parallel,
        "/shaded_panels",
        f"There are only {in_series * in_parallel} panels.",
    )
    faults.add_if(
        in_series * in_parallel > _MOST_PANELS,
        "/strings_in_parallel",
        f"{in_series * in_parallel} panels, above the {_MOST_PANELS} that one answer covers.",
    )
    faults.raise_any()
    light = {_name(index, in_series): grid for index in range(shaded)}
    panels, wiring = build.array(kind, in_series, in_parallel, light)
    answer = shaded_iv(ShadedIvRequest(panels=panels, wiring=wiring, sun=_sun(asked, notes)))
    notes.merge([one for one in answer.assumptions if _once(one.field)])
    return _told(answer, notes)


def _whole(pointer: str, given: int | None, default: int, why: str, notes: Assumptions) -> int:
    return int(notes.choose(pointer, given, default, why))


def _name(index: int, in_series: int) -> str:
    """Name of a panel of `build.array`: the shade fills one string before the next."""
    return f"{index // in_series + 1}-{index % in_series + 1}"


def _once(pointer: str) -> bool:
    """Whether an assumption is the first panel's or the array's: all panels are equal."""
    return not pointer.startswith("/panels/") or pointer.startswith("/panels/0/")


def _panel(asked: ShadedPowerQuestion, notes: Assumptions) -> Panel:
    plate = PanelElectrical(
        p_mp_w=asked.p_mp_w,
        v_mp_v=asked.v_mp_v,
        i_mp_a=asked.i_mp_a,
        v_oc_v=asked.v_oc_v,
        i_sc_a=asked.i_sc_a,
        cells_in_series=asked.cells_in_series,
    )
    if asked.construction is None:
        why = "The usual flexible panel. It decides what shade costs; see the data sheet."
        notes.note("/construction", "full-cell-2-diodes", why)
    return Panel(electrical=plate, construction=asked.construction or "full-cell-2-diodes")


def _sun(asked: ShadedPowerQuestion, notes: Assumptions) -> Sun:
    return Sun(
        irradiance_w_m2=notes.choose(
            "/irradiance_w_m2", asked.irradiance_w_m2, 1000.0, "Full sun."
        ),
        cell_temperature_c=notes.choose(
            "/cell_c", asked.cell_c, 25.0, "As on the nameplate; hot cells give less."
        ),
    )


def _light(asked: ShadedPowerQuestion, kind: Panel, notes: Assumptions) -> list[list[float]]:
    """Light on every cell of a shaded panel, [path][position].

    The shaded cells are dealt out evenly to the first bypass groups; within a group they fill one
    path before the next.
    """
    why = "About what a dense shadow in open country leaves."
    share = notes.choose("/light_fraction", asked.light_fraction, 0.15, f"{why} Judgement.")
    name = kind.construction or "full-cell-2-diodes"
    layout = preset_layout(name, asked.cells_in_series)
    groups = _whole(
        "/shaded_groups", asked.shaded_groups, 1, "The shade lies on one bypass group.", notes
    )
    _refuse_too_much_shade(asked.shaded_cells, groups, layout)
    grid = [[1.0] * layout.positions_in_series for _ in range(layout.paths_in_parallel)]
    for index in range(asked.shaded_cells):
        group = layout.bypass[index % groups]
        path, place = divmod(index // groups, group.last - group.first + 1)
        grid[path][group.first + place] = share
    return grid


def _refuse_too_much_shade(shaded: int, groups: int, layout: CellLayout) -> None:
    faults = Faults()
    there_are = len(layout.bypass)
    faults.add_if(groups > there_are, "/shaded_groups", f"The panel has only {there_are}.")
    smallest = min(one.last - one.first + 1 for one in layout.bypass[:groups])
    most = smallest * layout.paths_in_parallel * min(groups, there_are)
    faults.add_if(
        shaded > most,
        "/shaded_cells",
        f"{groups} bypass groups hold {most} cells; spread them over more with shaded_groups.",
    )
    faults.raise_any()


def _told(answer: ShadedIvAnswer, notes: Assumptions) -> QuickShadedPower:
    best, full = answer.maximum_power_point, answer.loss_split.unshaded_w
    return QuickShadedPower(
        power_w=max(0.0, best.power_w),
        unshaded_w=full,
        lost_fraction=min(1.0, max(0.0, 1.0 - best.power_w / full)),
        tracker_w=max(0.0, answer.tracker.found.power_w),
        voltage_v=max(0.0, best.voltage_v),
        current_a=max(0.0, best.current_a),
        conducting_diodes=sum(panel.conducting_diodes for panel in answer.panels),
        hottest_cell_w=max(panel.hottest_cell_dissipation_w for panel in answer.panels),
        verdict=answer.verdict,
        remedy=" ".join(dict.fromkeys(one.remedy for one in answer.checks if one.remedy)),
        assumed=assumed(notes.listed()),
        basis=cited(*(one.basis for one in answer.checks)),
        caution=warned(answer.cautions),
    )


SHADES = (
    Question(
        "shaded-power",
        "What is left in the shade?",
        "Power of equal panels with some cells of some of them in shade, solved cell by cell with "
        "their bypass diodes, and what a simple tracker finds of it.",
        ShadedPowerQuestion,
        QuickShadedPower,
        shaded_power,
        estimate_s=0.02,
    ),
)
"""Questions about shade."""
