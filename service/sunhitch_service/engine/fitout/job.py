"""The request with its names resolved, so that every part looks things up in one way."""

from dataclasses import dataclass
from functools import cached_property

from sunhitch.types.fitout import FitOutPanelType, FitOutRequest
from sunhitch.types.mount import AdhesiveFeet, FastenedFeet, Mounting
from sunhitch.types.panel import PanelBody
from sunhitch.types.roof import FootPattern, FootSpot, PlacedPanel, RoofPanelType
from sunhitch.types.system import Controller
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.roof.contradictions import (
    panel_type_faults,
    placed_faults,
    roof_faults,
    unique,
)
from sunhitch_service.engine.shade.presets import resolve_panel


@dataclass(frozen=True)
class Job:
    """A fit-out request that has passed `resolve`.

    Parameters
    ----------
    request : FitOutRequest
        As sent.
    """

    request: FitOutRequest

    @cached_property
    def types(self) -> dict[str, FitOutPanelType]:
        """Panel types by name."""
        return {entry.name: entry for entry in self.request.panel_types}

    @cached_property
    def placed(self) -> dict[str, PlacedPanel]:
        """Placed panels by name."""
        return {entry.name: entry for entry in self.request.placements}

    @cached_property
    def roof_types(self) -> list[RoofPanelType]:
        """Panel types as the roof sees them, with the plates of their mounting."""
        return [_roof_type(entry) for entry in self.request.panel_types]

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

    def names_of(self, panel_type: str) -> list[str]:
        """Placed panels of one type, in the order in which they were given."""
        return [p.name for p in self.request.placements if p.panel_type == panel_type]

    def controller(self, name: str) -> Controller:
        """Controller by name."""
        return next(c for c in self.request.controllers if c.name == name)


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
        With every name that is used twice or not at all, every panel without a body, and every
        contradiction of the roof.
    """
    faults = Faults()
    unique([state.name for state in request.light], faults, "/light", "name")
    unique([c.name for c in request.controllers], faults, "/controllers", "name")
    used = {placement.panel_type for placement in request.placements}
    for index, entry in enumerate(request.panel_types):
        at = f"/panel_types/{index}"
        faults.add_if(
            entry.name not in used,
            f"{at}/name",
            f"No panel of type '{entry.name}' is placed; place one or leave the type out.",
        )
        faults.add_if(
            entry.panel.body is None,
            f"{at}/panel/body",
            "A fit-out needs the panel's length, width, thickness and mass: give `body`.",
        )
    faults.raise_any()
    job = Job(request)
    roof_faults(request.roof, faults)
    faults.raise_any()
    panel_type_faults(job.roof_types, request.roof, faults)
    placed_faults(request.placements, job.roof_types, faults)
    faults.raise_any()
    return job


def _roof_type(entry: FitOutPanelType) -> RoofPanelType:
    return RoofPanelType(
        name=entry.name,
        body=_body(entry),
        p_mp_w=entry.panel.electrical.p_mp_w,
        feet=_plates(entry.mounting),
        lead_length_m=entry.lead_length_m,
    )


def _plates(mounting: Mounting) -> FootPattern | None:
    """Foot plates on the roof; none where a rack or the sheet itself carries the load."""
    if isinstance(mounting, AdhesiveFeet):
        length, width = mounting.pad_length_m, mounting.pad_width_m
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
