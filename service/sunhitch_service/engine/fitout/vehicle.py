"""What the build does to the vehicle: mass, axles, height of the centre of gravity."""

from sunhitch.types.fitout import AxleLoad, VehicleBalance
from sunhitch.types.roof import Support, SupportLoad
from sunhitch_service.engine.mount.setup import middle_m
from sunhitch_service.engine.roof.balance import support_loads

from .build import Build
from .job import Job

_ONE_AXLE_M = 0.1
"""Supports no farther apart than this along the vehicle are one axle."""


def vehicle_balance(build: Build) -> VehicleBalance:
    """Mass that the build adds, where it weighs, and how far the centre of gravity moves.

    Panels with spacer sheets and rails are counted at the place of each panel; feet, cables and
    what stands inside are not.

    Parameters
    ----------
    build : Build
        The checked build.
    """
    job, vehicle = build.job, build.job.request.vehicle
    masses = {place.panel: job.mass_kg(place.panel) for place in build.roof.placements}
    added = sum(masses.values())
    centre = (
        sum(masses[p.panel] * (p.x_m + p.along_x_m / 2) for p in build.roof.placements) / added,
        sum(masses[p.panel] * (p.y_m + p.along_y_m / 2) for p in build.roof.placements) / added,
    )
    height = sum(mass * _height_m(job, panel) for panel, mass in masses.items()) / added
    loads = support_loads(added, centre, vehicle.supports)
    lifted = None
    if vehicle.mass_kg is not None and vehicle.centre_height_m is not None:
        whole = vehicle.mass_kg + added
        lifted = (vehicle.mass_kg * vehicle.centre_height_m + added * height) / whole
    return VehicleBalance(
        added_mass_kg=added,
        added_height_m=height,
        supports=loads,
        axles=_axles(vehicle.supports, loads, added),
        mass_kg=None if vehicle.mass_kg is None else vehicle.mass_kg + added,
        centre_height_m=lifted,
        centre_rise_m=(
            lifted - vehicle.centre_height_m
            if lifted is not None and vehicle.centre_height_m is not None
            else None
        ),
    )


def _height_m(job: Job, panel: str) -> float:
    """Middle of a panel above the road [m]."""
    kind, body = job.type_of(panel), job.body_of(panel)
    return job.request.vehicle.roof_height_m + middle_m(kind.mounting, body, kind.spacer)


def _axles(supports: list[Support], loads: list[SupportLoad], mass_kg: float) -> list[AxleLoad]:
    """Supports side by side are one axle, or the hitch; from the front."""
    axles: list[tuple[float, list[SupportLoad]]] = []
    for support, load in sorted(zip(supports, loads, strict=True), key=lambda one: one[0].x_m):
        if axles and support.x_m - axles[-1][0] <= _ONE_AXLE_M:
            axles[-1][1].append(load)
        else:
            axles.append((support.x_m, [load]))
    return [
        AxleLoad(
            x_m=x_m,
            supports=[load.name for load in borne],
            mass_kg=sum(load.mass_kg for load in borne),
            share_fraction=sum(load.mass_kg for load in borne) / mass_kg,
        )
        for x_m, borne in axles
    ]
