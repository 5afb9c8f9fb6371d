"""From judged layouts to the contract's answer."""

import numpy as np

from sunhitch.types.array import ArrangedString, Arrangement, ControllerArray, StatePower
from sunhitch_service.engine.rules.strings import StringFuse

from .describe import name_of, reasons
from .design import ArrayDesign
from .evaluate import SUN, Evaluator
from .figures import ArrayFigures, StringFigures
from .judge import Judged
from .rules_energy import Loaded
from .rules_fuse import fuse_of
from .sensitivity import sensitivities


def arrangement(
    design: ArrayDesign,
    elsewhere: ArrayDesign,
    evaluator: Evaluator,
    ordered: list[Judged],
    rank: int,
) -> Arrangement:
    """One line of the answer.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    elsewhere : ArrayDesign
        The same where it gets 10 K colder.
    evaluator : Evaluator
        Knows what the panels could give one by one.
    ordered : list of Judged
        Best first.
    rank : int
        Its place, counted from 0.

    Returns
    -------
    Arrangement
        With strings, power, harness, reasons and what would change it.
    """
    one = ordered[rank]
    states = _states(design, evaluator, one)
    return Arrangement(
        rank=rank + 1,
        name=name_of(design, one.layout),
        verdict=one.verdict,
        arrays=[
            _array(design, loaded, fuses)
            for loaded, fuses in zip(one.loaded, one.fuses, strict=True)
        ],
        leftover=[design.members[m].name for m in one.layout.leftover],
        weighted_power_w=one.weighted_w,
        sun=states[0],
        shade=states[1:],
        mismatch_fraction=sum(own.available_w * own.lost_to_sharing for own in one.loaded)
        / sum(own.available_w for own in one.loaded),
        margin_fraction=one.margin,
        harness=one.parts,
        reasons=reasons(design, ordered, rank),
        sensitivity=[
            change
            for wired, loaded in zip(one.layout.arrays, one.loaded, strict=True)
            for change in sensitivities(design, elsewhere, wired, loaded)
        ],
        checks=one.checks,
    )


def _array(design: ArrayDesign, loaded: Loaded, fuses: tuple[StringFuse, ...]) -> ControllerArray:
    array = loaded.figures
    return ControllerArray(
        controller=array.controller.given.name,
        strings=[
            _string(string, fuse, [design.members[m].name for m in string.members])
            for string, fuse in zip(array.strings, fuses, strict=True)
        ],
        i_sc_a=array.i_sc_a,
        p_mp_w=array.p_mp_w,
        output_current_a=float(loaded.power.charging_w[SUN]) / design.working_voltage_v,
        hot_power_w=loaded.power.hot_w,
        removable=_removable(design, array),
    )


def _removable(design: ArrayDesign, array: ArrayFigures) -> ArrangedString | None:
    if array.removable is None:
        return None
    name, plugged = array.controller.given.name, design.request.removable
    own = next(each for each in plugged if each.controller == name)
    fuse = fuse_of(design, array, array.removable)
    return _string(array.removable, fuse, [own.name] * own.in_series)


def _string(string: StringFigures, fuse: StringFuse, panels: list[str]) -> ArrangedString:
    return ArrangedString(
        panels=panels,
        cold_voc_coefficient_v=string.cold_coefficient_v,
        cold_voc_table_v=string.cold_table_v,
        hot_vmp_v=string.hot_vmp_v,
        i_sc_a=string.i_sc_a,
        i_mp_a=string.i_mp_a,
        p_mp_w=string.p_mp_w,
        reverse_current_a=fuse.reverse_a,
        fuse_a=fuse.rating_a,
    )


def _states(design: ArrayDesign, evaluator: Evaluator, one: Judged) -> list[StatePower]:
    """Every state of light but the hot one."""
    members = [m for wired in one.layout.arrays for string in wired.strings for m in string]
    available = evaluator.available_w(members)
    possible = np.sum([loaded.power.unlimited_w for loaded in one.loaded], axis=0)
    taken = np.sum(
        [own.power.charging_w / own.figures.controller.efficiency for own in one.loaded], axis=0
    )
    return [
        StatePower(
            name=light.name,
            weight_fraction=light.weight,
            available_w=float(available[n]),
            panel_power_w=float(taken[n]),
            charging_power_w=float(one.charging_w[n]),
            clipped_w=max(0.0, float(possible[n] - taken[n])),
        )
        for n, light in enumerate(design.lights[:-1])
    ]
