"""The request with its names resolved, so that every part looks things up in one way."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

import msgspec

from sunhitch.grouping import grouped
from sunhitch.types.array import Arrangement, DrawnArray
from sunhitch.types.fitout import FitOutPanelType, FitOutRequest, FitOutVehicle
from sunhitch.types.mount import AdhesiveFeet, FastenedFeet, Mounting, Rails
from sunhitch.types.panel import PanelBody
from sunhitch.types.roof import FootPattern, FootSpot, PlacedPanel, RoofPanelType
from sunhitch.types.system import Controller
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import Faults, listed
from sunhitch_service.engine.mount.setup import own_pads
from sunhitch_service.engine.pv.presets import resolve_panel
from sunhitch_service.engine.roof.contradictions import number_faults, support_faults
from sunhitch_service.engine.sky import unix_seconds
from sunhitch_service.engine.tables import table

from .bank import refuse_bank
from .lost import first_name
from .part_states import PartStates


class WiredType(NamedTuple):
    """Panels that are the same to the wiring, though some may be held otherwise."""

    name: str
    kind: FitOutPanelType
    panels: list[str]


@dataclass(frozen=True)
class Job:
    """A fit-out request that has passed `resolve`.

    Parameters
    ----------
    request : FitOutRequest
        The request, every panel placed once `place_panels` has laid them out.
    placed_by_caller : bool
        Whether the places are the caller's own.
    given : FitOutRequest
        As sent.
    """

    request: FitOutRequest
    placed_by_caller: bool
    given: FitOutRequest

    @cached_property
    def types(self) -> dict[str, FitOutPanelType]:
        """Panel types by name."""
        return {entry.name: entry for entry in self.request.panel_types}

    @cached_property
    def states(self) -> PartStates:
        """How far its parts are."""
        return PartStates(self.request.parts)

    def asking(self, **changes: Any) -> "Job":  # noqa: ANN401
        """The same with other fields of its request."""
        return replace(self, request=msgspec.structs.replace(self.request, **changes))

    @cached_property
    def placed(self) -> dict[str, PlacedPanel]:
        """Placed panels by name."""
        return {entry.name: entry for entry in self.request.placements}

    @cached_property
    def roof_types(self) -> list[RoofPanelType]:
        """Panel types as the roof sees them, with the plates of their mounting."""
        return [
            RoofPanelType(
                name=entry.name,
                body=_body(entry),
                p_mp_w=entry.panel.electrical.p_mp_w,
                feet=_plates(entry.mounting),
                lead_length_m=entry.lead_length_m,
                panels_wanted=entry.panels_wanted,
                orientation=entry.orientation,
            )
            for entry in self.request.panel_types
        ]

    @cached_property
    def beta_voc(self) -> dict[str, float]:
        """Change of Voc per kelvin by panel type [1/K], as given or as the engine assumes it."""
        return {
            entry.name: resolve_panel(entry.panel, Assumptions(), "").coefficients.beta_voc
            for entry in self.request.panel_types
        }

    def type_of(self, panel: str) -> FitOutPanelType:
        """Type of a placed panel."""
        return self.types[self.placed[panel].panel_type]

    def body_of(self, panel: str) -> PanelBody:
        """Body of a placed panel."""
        return _body(self.type_of(panel))

    @cached_property
    def wired_types(self) -> list[WiredType]:
        """Types of the placed panels as the wiring knows them."""
        alike = grouped(
            (msgspec.json.encode([first_name(kind.name), kind.panel, kind.lead_length_m]), kind)
            for kind in self.request.panel_types
            if self.names_of(kind.name)
        )
        return [
            WiredType(
                kinds[0].name if len(kinds) == 1 else first_name(kinds[0].name),
                kinds[0],
                [panel for kind in kinds for panel in self.names_of(kind.name)],
            )
            for kinds in alike.values()
        ]

    def names_of(self, panel_type: str) -> list[str]:
        """Placed panels of one type, in the order in which they were given."""
        return [p.name for p in self.request.placements if p.panel_type == panel_type]

    def mass_kg(self, panel: str) -> float:
        """A placed panel with its spacer sheet, rails and clamps [kg]."""
        kind = self.type_of(panel)
        rails = kind.mounting.rails_mass_kg if isinstance(kind.mounting, Rails) else 0.0
        return self.body_of(panel).mass_kg + rails + (kind.spacer.mass_kg if kind.spacer else 0.0)

    def without(self, unused: list[str]) -> "Job":
        """The same with some panels left off the roof, the others where they are."""
        kept = [place for place in self.request.placements if place.name not in unused]
        used = {place.panel_type for place in kept}
        kinds = [entry for entry in self.request.panel_types if entry.name in used]
        return self.asking(placements=kept, panel_types=kinds)

    def controller(self, name: str) -> Controller:
        """Controller by name."""
        return next(c for c in self.request.controllers if c.name == name)


def drawn_as(arrangement: Arrangement) -> list[DrawnArray]:
    """A wiring as a caller would draw it."""
    return [
        DrawnArray(controller=array.controller, strings=[s.panels for s in array.strings])
        for array in arrangement.arrays
    ]


def resolve(request: FitOutRequest) -> Job:
    """Check that the parts of a request fit together.

    Parameters
    ----------
    request : FitOutRequest
        As decoded.

    Returns
    -------
    Job
        The same, ready for look-ups.

    Raises
    ------
    ContradictionError
        With every name that is used twice or not at all, every panel without a body, and numbers
        that the places contradict.
    """
    faults = Faults()
    faults.unique(listed("/light", (state.name for state in request.light)))
    refuse_bank(request, faults)
    faults.unique(listed("/panel_types", (entry.name for entry in request.panel_types)))
    for index, entry in enumerate(request.panel_types):
        faults.add_if(
            entry.panel.body is None,
            f"/panel_types/{index}/panel/body",
            "fit-out-needs-body",
        )
    if request.placements:
        _numbers(request, faults)
    _work(request, faults)
    _vehicle(request.vehicle, faults)
    faults.raise_any()
    return Job(request, placed_by_caller=bool(request.placements), given=request)


def _vehicle(vehicle: FitOutVehicle, faults: Faults) -> None:
    """Supports that carry nothing, and a mass without its height."""
    support_faults(vehicle.supports, faults, "/vehicle/supports")
    faults.add_if(
        (vehicle.mass_kg is None) != (vehicle.centre_height_m is None),
        "/vehicle/mass_kg" if vehicle.mass_kg is None else "/vehicle/centre_height_m",
        "mass-with-its-height",
    )


def _work(request: FitOutRequest, faults: Faults) -> None:
    """Moments that are none, steps that there are not, prices and names given twice."""
    work = request.work
    if work.bonded_at is not None:
        try:
            unix_seconds(work.bonded_at)
        except ValueError:
            faults.add("/work/bonded_at", "no-such-moment")
    steps = {row["step"] for row in table("fitout", "work_times").rows}
    for index, own in enumerate(work.times):
        faults.add_if(
            own.step not in steps,
            f"/work/times/{index}/step",
            "no-such-step",
            steps=", ".join(sorted(steps)),
        )
    for path, keys in (
        ("/work/times", [own.step for own in work.times]),
        ("/work/prices", [one.key for one in work.prices]),
        ("/part_names", [one.key for one in request.part_names]),
    ):
        field = "step" if path == "/work/times" else "key"
        for index, key in enumerate(keys):
            faults.add_if(key in keys[:index], f"{path}/{index}/{field}", "given-twice")


def _numbers(request: FitOutRequest, faults: Faults) -> None:
    """Places that leave a type out, or differ from how many are wanted."""
    for index, entry in enumerate(request.panel_types):
        faults.add_if(
            sum(placement.panel_type == entry.name for placement in request.placements) == 0,
            f"/panel_types/{index}/name",
            "type-without-placement",
            name=entry.name,
        )
    kinds = ((entry.name, entry.panels_wanted) for entry in request.panel_types)
    number_faults(kinds, request.placements, faults)


def _plates(mounting: Mounting) -> FootPattern | None:
    """Foot plates on the roof; none where a rack or the sheet itself carries the load."""
    if isinstance(mounting, AdhesiveFeet):
        length, width = own_pads(mounting).max(axis=0, initial=0.01).tolist()
    elif isinstance(mounting, FastenedFeet):
        length = width = mounting.base_width_m
    else:
        return None
    points = [FootSpot(along_length_m=f.x_m, along_width_m=f.y_m) for f in mounting.feet]
    return FootPattern(plate_length_m=length, plate_width_m=width, points=points)


def _body(entry: FitOutPanelType) -> PanelBody:
    if entry.panel.body is None:
        raise LookupError(entry.name)
    return entry.panel.body
