"""Mount checks of every panel, each at its own place."""

import dataclasses
from functools import partial

import msgspec

from sunhitch.texts import statement
from sunhitch.types.fitout import PanelMount
from sunhitch.types.mount import (
    MountCheckAnswer,
    MountCheckRequest,
    MountVehicle,
    TravelConditions,
    VehicleRoof,
)
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.changes import moves
from sunhitch_service.engine.reuse import reusable
from sunhitch_service.engine.roof.geometry import front_before, front_left
from sunhitch_service.engine.roof.panels import Laid
from sunhitch_service.engine.roof.placement import check_place, fits
from sunhitch_service.engine.roof.site import RoofSite
from sunhitch_service.engine.roof.surroundings import crown_radius_m
from sunhitch_service.engine.rules.titles import rule_title_of, title_of

from .job import Job
from .pointers import Translate, faults_of, moved

_mount_check = reusable(partial(mount_check, in_full=False))


def check_mounts(
    job: Job, laid: list[Laid], site: RoofSite, assumptions: Assumptions
) -> dict[str, MountCheckAnswer]:
    """Run the mount check for every panel.

    Parameters
    ----------
    job : Job
        The resolved request.
    laid : list of Laid
        Panels at their places.
    site : RoofSite
        The roof that they lie on: no panel is told to move to where another thing is.
    assumptions : Assumptions
        Takes what is chosen for the caller.

    Returns
    -------
    dict of MountCheckAnswer
        By panel, in the request's order.
    """
    answers: dict[str, MountCheckAnswer] = {}
    for panel, request in zip(laid, mount_requests(job, laid).values(), strict=True):
        translate = _pointers(job, panel)
        with faults_of(translate):
            answer = _mount_check(request)
        assumptions.merge(answer.assumptions, translate)
        answers[panel.name] = _with_room(answer, request, panel, laid, site)
    return answers


def _with_room(
    answer: MountCheckAnswer,
    request: MountCheckRequest,
    panel: Laid,
    laid: list[Laid],
    site: RoofSite,
) -> MountCheckAnswer:
    """The answer without moves to places that the roof does not have."""
    told = {one.change for one in answer.improvements}
    if not told:
        return answer
    others = [other for other in laid if other is not panel]
    taken: set[str] = set()
    for text, changed in moves(request):
        x_m = panel.x_m + changed.position.x_m - request.position.x_m
        y_m = panel.y_m + changed.position.y_m - request.position.y_m
        there = dataclasses.replace(panel, x_m=x_m, y_m=y_m)
        if text in told and not fits(check_place(site, there, others)):
            taken.add(text)
    left = [one for one in answer.improvements if one.change not in taken]
    return msgspec.structs.replace(answer, improvements=left)


def mount_requests(job: Job, laid: list[Laid]) -> dict[str, MountCheckRequest]:
    """What is asked of every panel's mount, by panel."""
    total = sum(job.mass_kg(panel.name) for panel in laid)
    return {panel.name: _request(job, panel, total) for panel in laid}


def _request(job: Job, panel: Laid, total_mass_kg: float) -> MountCheckRequest:
    kind = job.type_of(panel.name)
    return MountCheckRequest(
        panel=panel.kind.body,
        position=_behind_the_front(job, panel),
        mounting=kind.mounting,
        vehicle=_vehicle(job, panel, total_mass_kg),
        surface=job.request.surface,
        skin=job.request.skin,
        travel=_travel(job),
        wind=kind.wind,
        sheet=kind.sheet,
        spacer=kind.spacer,
    )


def _behind_the_front(job: Job, panel: Laid) -> PanelPosition:
    """The place from the roof's own edges: zones of wind begin there, however it is pointed."""
    outline, position = job.request.roof.outline, panel.shade_position
    _, left_m = front_left(outline)
    return msgspec.structs.replace(
        position,
        x_m=position.x_m - front_before(outline, panel.box),
        y_m=position.y_m - left_m,
    )


def _vehicle(job: Job, panel: Laid, total_mass_kg: float) -> MountVehicle:
    """The vehicle with all other panels and rails, and with the bow that the roof's crown makes."""
    from sunhitch_service.engine.roof.geometry import outline_polygon

    given = job.request.vehicle
    outline = job.request.roof.outline
    _, y1, x2, y2 = outline_polygon(outline).bounds
    shared = {name: getattr(given, name) for name in VehicleRoof.__struct_fields__}
    crown_m, known_m = job.request.roof.crown_height_m, given.roof_radius_m
    if crown_m > 0.0:
        radius_m = crown_radius_m(crown_m, float(y2 - y1))
        shared["roof_radius_m"] = radius_m if known_m is None else min(known_m, radius_m)
    return MountVehicle(
        **shared,
        roof_length_m=float(x2 - front_before(outline, panel.box)),
        roof_width_m=float(y2 - y1),
        other_roof_mass_kg=given.other_roof_mass_kg + total_mass_kg - job.mass_kg(panel.name),
        other_panels_area_m2=sum(
            job.body_of(other).length_m * job.body_of(other).width_m
            for other in job.placed
            if other != panel.name
        ),
    )


def _travel(job: Job) -> TravelConditions:
    """Conditions with the site's temperatures where the caller gave none of its own."""
    travel, site = job.request.travel, job.request.site
    return msgspec.structs.replace(
        travel,
        lowest_air_c=site.lowest_ambient_c if travel.lowest_air_c is None else travel.lowest_air_c,
        highest_air_c=(
            site.highest_ambient_c if travel.highest_air_c is None else travel.highest_air_c
        ),
    )


def _pointers(job: Job, panel: Laid) -> Translate:
    """Where the fit-out request sets what the mount check asks for."""
    kind = [entry.name for entry in job.request.panel_types].index(panel.kind.name)
    place = "/layout"
    if job.placed_by_caller:
        place = f"/placements/{[p.name for p in job.request.placements].index(panel.name)}"
    own = f"/panel_types/{kind}"
    return moved(
        {
            "/panel": f"{own}/panel/body",
            "/mounting": f"{own}/mounting",
            "/wind": f"{own}/wind",
            "/sheet": f"{own}/sheet",
            "/spacer": f"{own}/spacer",
            "/position": place,
        }
    )


def panel_mount(panel: str, answer: MountCheckAnswer) -> PanelMount:
    """One panel's line of the answer."""
    governing = answer.governing
    checks = {check.code: check for check in answer.checks}
    decides = checks.get(governing.code)
    limit = answer.speed_limit
    return PanelMount(
        panel=panel,
        verdict=answer.verdict,
        governing_code=governing.code,
        governing_title=title_of(decides) if decides else governing.mode,
        utilisation_fraction=governing.utilisation_fraction,
        expected=governing.expected,
        pass_speed_m_s=limit.pass_speed_m_s,
        left_out=[
            statement("lowered", title=rule_title_of(checks[code])) for code in limit.left_out
        ],
        fail_speed_m_s=limit.fail_speed_m_s,
        foot_lost_reserve_fraction=answer.foot_lost.reserve_fraction,
        cure=answer.cure,
        nut_torque_n_m=answer.nut_torque.torque_n_m if answer.nut_torque else None,
        improvements=answer.improvements,
    )
