"""For each check that fails, the changes that may mend it."""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial

from msgspec.structs import replace

from sunhitch import units
from sunhitch.texts import together
from sunhitch.texts.templates import Parameter
from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutAnswer, FitOutPanelType, FitOutRequest, WorkPart
from sunhitch.types.mount import (
    AdhesiveFeet,
    BondedSheet,
    FastenedFeet,
    MountCheckRequest,
)
from sunhitch.types.system import Controller
from sunhitch_service.engine.fitout.part_states import kind_of
from sunhitch_service.engine.rules.families import edition_of
from sunhitch_service.engine.rules.titles import title_of
from sunhitch_service.engine.wiring.correction import roof_clearance_m

from .changes import Change
from .mounting import other_mountings, remounted
from .part_states import Parts
from .placing import as_arranged, elsewhere, moved, pushed, without_panel
from .sizes import AREAS_MM2, CURRENTS_A, controllers_beyond, next_of

_SLOWEST_KM_H = 60
"""Nobody drives slower for the sake of a panel. Common practice, no source."""
_OTHER_WIRINGS, _PANELS_TRIED = 3, 3
_ELSEWHERE = 2
"""Added to the rank of a move to quite another place."""
_OTHER_KIND = 2
"""Added to the rank of a change from one kind of mounting to another."""


@dataclass(frozen=True, slots=True)
class Failing:
    """A check that fails, in the job that it belongs to."""

    job: FitOutRequest
    answer: FitOutAnswer
    parts: Parts
    check: Check

    def change(
        self,
        code: str,
        apply: Callable[[FitOutRequest], FitOutRequest],
        added_rank: int = 0,
        owned: bool = False,
        **parameters: Parameter,
    ) -> Change:
        """A change that is to mend this check."""
        return Change(code, parameters, apply, added_rank, owned, title_of(self.check))

    @property
    def panel(self) -> str:
        """Panel that it is about; empty where it is about none."""
        opening = (self.check.subject or "").partition(": ")[0]
        return opening if opening in {place.name for place in self.job.placements} else ""

    @property
    def kind(self) -> FitOutPanelType | None:
        """Type of that panel."""
        own = (place for place in self.job.placements if place.name == self.panel)
        return next((kind_of(self.job, place) for place in own), None)


Repair = Callable[[Failing], Iterator[Change]]


def repairs_of(checks: Iterable[Failing]) -> list[Change]:
    """Changes that may mend failing checks; what helps a panel's hold is sought once a panel."""
    found: list[Change] = []
    sought: set[tuple[Repair, str]] = set()
    for failing in checks:
        code = failing.check.code
        for repair in next(
            (own for codes, own in _BY_CODE if code.startswith(codes)), _ON_THE_ROOF
        ):
            once = repair, failing.panel
            if repair not in _ON_THE_ROOF or once not in sought:
                sought.add(once)
                found += repair(failing)
    return found


def _untrodden(failing: Failing) -> Iterator[Change]:
    if not failing.parts.is_wanted("/travel/stepped_on"):
        yield failing.change(
            "not-stepped-on",
            lambda job: replace(job, travel=replace(job.travel, stepped_on=False)),
        )


def _reglued(job: FitOutRequest, panel_type: str, **values: float) -> FitOutRequest:
    def one(kind: FitOutPanelType) -> FitOutPanelType:
        held = kind.mounting
        if kind.name != panel_type or not isinstance(held, AdhesiveFeet | BondedSheet):
            return kind
        return replace(kind, mounting=replace(held, adhesive=replace(held.adhesive, **values)))

    return replace(job, panel_types=[one(kind) for kind in job.panel_types])


def _rested(failing: Failing) -> Iterator[Change]:
    kind, needed = failing.kind, failing.check.demand
    if kind is None or needed is None or not isinstance(kind.mounting, AdhesiveFeet | BondedSheet):
        return
    hours = float(math.ceil(needed))
    apply = partial(_reglued, panel_type=kind.name, hours_before_driving=hours)
    yield failing.change("longer-rest", apply, panel_type=kind.name, hours=hours)


def _warmed(failing: Failing) -> Iterator[Change]:
    kind, least_c = failing.kind, failing.check.parameters["least_c"]
    fixed = failing.parts.states.fixed_panels(failing.job)
    if kind is None or not isinstance(least_c, float):
        return
    if any(p.name in fixed for p in failing.job.placements if p.panel_type == kind.name):
        return  # what is bonded stays as it was bonded
    apply = partial(_reglued, panel_type=kind.name, application_c=least_c)
    yield failing.change("warmer-bonding", apply, panel_type=kind.name, application_c=least_c)


def _locked_out(failing: Failing) -> Iterator[Change]:
    if failing.parts.may_change("battery", "/battery"):
        yield failing.change(
            "cold-lock-out",
            lambda job: replace(job, battery=replace(job.battery, cold_charging="lock-out")),
        )


_CONNECTORS: dict[str, tuple[str, str, WorkPart, str, tuple[float, ...]]] = {
    "connector-current": ("larger-plugs", "plug_current_a", "plug", "rating_a", CURRENTS_A),
    "branch-connector-current": (
        "larger-branches",
        "branch_current_a",
        "branch-connector",
        "rating_a",
        CURRENTS_A,
    ),
    "connector-conductor": (
        "larger-sleeves",
        "largest_conductor_mm2",
        "plug",
        "area_mm2",
        AREAS_MM2,
    ),
}
"""Change, field of the connectors, part, what is told and its sizes by the code that fails."""


def _larger_connectors(failing: Failing) -> Iterator[Change]:
    code, field, part, told, ladder = _CONNECTORS[failing.check.code]
    parts, needed = failing.parts, failing.check.demand
    if needed is None or not parts.may_change(part, f"/connectors/{field}"):
        return
    value = next_of(needed, ladder)

    def apply(job: FitOutRequest) -> FitOutRequest:
        return replace(job, connectors=replace(job.connectors, **{field: value}))

    yield failing.change(code, apply, 0, parts.is_owned(part), **{told: value})


def _clipped(failing: Failing) -> Iterator[Change]:
    """Cables on clips, out of what the sun adds to the air close to a roof, if a rule says so."""
    if f"{failing.check.code}.clips" not in failing.check.remedies:
        return
    if not failing.parts.is_wanted("/cables/height_above_roof_m"):
        height_m = roof_clearance_m(edition_of(failing.job.rules))
        yield failing.change(
            "cables-clipped",
            lambda job: replace(job, cables=replace(job.cables, height_above_roof_m=height_m)),
            clearance_mm=1000.0 * height_m,
        )


def _larger_controller(failing: Failing) -> Iterator[Change]:
    best = failing.answer.configurations[0]
    wired_w = sum(array.p_mp_w for array in best.arrays)
    # All panels on the roof, some of which may have found no wiring.
    placed = (kind_of(failing.job, place) for place in failing.job.placements)
    more = sum(kind.panel.electrical.p_mp_w for kind in placed) / wired_w
    subject = failing.check.subject or ""
    for array in best.arrays:
        name = array.controller
        if name not in subject and len(best.arrays) > 1:
            continue
        if failing.parts.is_fixed("controller", name):
            continue
        given = next(one for one in failing.job.controllers if one.name == name)
        for new in controllers_beyond(given, array, more, failing.job.battery):
            yield failing.change(
                "larger-controller",
                partial(_with_controller, new=new),
                owned=failing.parts.is_owned("controller", name),
                controller=name,
                input_v=new.max_input_voltage_v,
                short_circuit_a=new.max_input_short_circuit_a or array.i_sc_a,
                output_a=new.max_output_current_a,
            )


def _with_controller(job: FitOutRequest, new: Controller) -> FitOutRequest:
    controllers = [new if one.name == new.name else one for one in job.controllers]
    return replace(job, controllers=controllers)


def _rewired(failing: Failing) -> Iterator[Change]:
    parts = failing.parts
    if not parts.may_change("cable", "/drawn"):
        return
    if failing.job.drawn:
        yield failing.change(
            "other-wiring",
            lambda job: replace(job, drawn=[]),
            owned=parts.is_owned("cable"),
            wiring="the schedule says",
        )
    others = [one for one in failing.answer.configurations[1:] if one.verdict != "fail"]
    for other in others[:_OTHER_WIRINGS]:
        yield failing.change(
            "other-wiring",
            partial(as_arranged, arrangement=other),
            owned=parts.is_owned("cable"),
            wiring=other.name,
        )


def _remounted(failing: Failing) -> Iterator[Change]:
    """What helps the mounting, computed by its own checks."""
    kind, panel = failing.kind, failing.panel
    if kind is None:
        return
    parts = failing.parts
    place = next(one for one in failing.job.placements if one.name == panel)
    for texts, asked in other_mountings(failing.job, panel):
        if not parts.states.keeps_fixed(failing.job, place, asked.mounting):
            continue
        # What only moves the panel is told by its new place.
        same = (asked.mounting, asked.wind, asked.spacer) == (
            kind.mounting,
            kind.wind,
            kind.spacer,
        )
        only_moved = same and asked.surface == failing.job.surface
        yield failing.change(
            "panel-moved" if only_moved else "other-mounting",
            partial(_held_otherwise, parts=parts, panel=panel, asked=asked),
            _OTHER_KIND if type(asked.mounting) is not type(kind.mounting) else 0,
            parts.is_owned("foot", kind.name) and not _keeps_feet(kind, asked),
            panel_type=kind.name,
            change=together("semicolon", texts),
        )


def _keeps_feet(kind: FitOutPanelType, asked: MountCheckRequest) -> bool:
    """Whether the same feet, and perhaps more of them, hold it."""
    old, new = kind.mounting, asked.mounting
    if isinstance(old, AdhesiveFeet | FastenedFeet) and isinstance(new, type(old)):
        return replace(new, feet=old.feet) == old and len(new.feet) >= len(old.feet)
    return new == old


def _held_otherwise(
    job: FitOutRequest, parts: Parts, panel: str, asked: MountCheckRequest
) -> FitOutRequest:
    staying = [
        p.name for p in job.placements if not parts.states.keeps_fixed(job, p, asked.mounting)
    ]
    fixed = panel in parts.states.fixed_panels(job)
    return remounted(job, panel, asked, staying, movable=not fixed)


def _slower(failing: Failing) -> Iterator[Change]:
    speeds = [
        mount.fail_speed_m_s
        for mount in failing.answer.mounts
        if mount.verdict == "fail" or mount.panel == failing.panel
    ]
    if failing.parts.is_wanted("/travel/road_speed_m_s"):
        return
    known = [speed for speed in speeds if speed is not None]
    if not known or len(known) < len(speeds):
        return
    km_h = math.floor(units.to_km_per_h(min(known)))
    if km_h < _SLOWEST_KM_H:
        return
    speed = km_h / units.to_km_per_h(1.0)
    yield failing.change(
        "less-speed",
        lambda job: replace(job, travel=replace(job.travel, road_speed_m_s=speed)),
        speed_km_h=km_h,
        speed_mph=math.floor(units.to_mph(speed)),
    )


def _set_aside(failing: Failing) -> Iterator[Change]:
    check, panel = failing.check, failing.panel
    fixed = failing.parts.states.fixed_panels(failing.job)
    if not panel or panel in fixed or check.demand is None or check.capacity is None:
        return
    for places in pushed(failing.job, panel, check.demand - check.capacity, fixed):
        yield failing.change(
            "panel-moved", partial(moved, places=places), len(places) - 1, to=str(places)
        )
    yield failing.change("panel-moved", partial(elsewhere, panel=panel), _ELSEWHERE, panel=panel)


def _one_less(failing: Failing) -> Iterator[Change]:
    fixed = failing.parts.states.fixed_panels(failing.job)
    free = [place.name for place in failing.job.placements if place.name not in fixed]
    if len(failing.job.placements) < 2 or failing.parts.asked.add_panels:
        return
    own = [failing.panel] if failing.panel in free else []
    for name in dict.fromkeys([*own, *reversed(free)][:_PANELS_TRIED]):
        owned = failing.parts.is_owned("panel", name)
        yield failing.change(
            "panel-less", partial(without_panel, name=name), owned=owned, panel=name
        )


_ON_THE_ROOF: tuple[Repair, ...] = (_remounted, _slower, _one_less)
_BY_CODE: tuple[tuple[tuple[str, ...], tuple[Repair, ...]], ...] = (
    (("panel-step",), (_untrodden, *_ON_THE_ROOF)),
    (("cure-time",), (_rested,)),
    (("application-temperature",), (_warmed,)),
    (("battery-frost", "battery-cold"), (_locked_out,)),
    (
        ("connector-", "branch-connector-"),
        (_larger_connectors, _rewired, _one_less),
    ),
    (
        ("cold-voc", "controller-", "hot-v", "pwm-loss", "battery-charge-rate"),
        (_rewired, _larger_controller, _one_less),
    ),
    (("cable-length",), ()),
    (("ambient-in-table",), (_clipped,)),
    (("ampacity-",), (_clipped, _rewired, _larger_controller, _one_less)),
    (("gland-at-hand", "cable-entry"), (_rewired,)),
    (
        (
            "string-",
            "overcurrent-protection",
            "device-",
            "terminal-temperature",
            "small-conductor",
            "voltage-drop",
            "smallest-size",
            "equivalent-area",
            "conductor-",
            "system-voltage",
            "touch-voltage",
            "panels-wired",
            "parallel-",
            "series-",
            "reverse-voltage",
            "mismatch-loss",
        ),
        (_rewired, _larger_controller, _one_less),
    ),
    (
        (
            "panel-edge",
            "panel-obstacle",
            "panel-free",
            "panel-gap",
            "foot-edge",
            "foot-obstacle",
            "foot-line",
            "foot-plates",
            "cable-route",
        ),
        (_set_aside, _one_less),
    ),
    (("roof-rating", "rack-rating", "crown-under-frame", "panels-placed"), (_one_less,)),
)
"""By what a code begins with, the first that fits; all others are about how a panel is held."""
