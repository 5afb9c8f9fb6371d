"""What fits on the roof and where, for people with a tape measure."""

from sunhitch.report.amounts import both, figure, percent
from sunhitch.report.layout import Page
from sunhitch.types.roof import (
    FootPlate,
    LaidPanel,
    LayoutProof,
    RoofLayoutAnswer,
    RoofLayoutRequest,
    RoofPlan,
    RoofPoint,
    WithoutObstacle,
)

from .operation import Operation

_HOW = {
    "everything-placed": "all wanted panels are placed",
    "dual-bound": "a bound that is checked by arithmetic",
    "complete-search": "the solver's complete search",
    "open": "the limit on the search came first",
    "not-searched": "the layout was given",
}


_ROUTINGS = {
    "around": "beside everything",
    "beneath-panels": "beneath panels",
    "across-obstacles": "across obstacles: not possible",
}
"""What a cable meets on its way, in plain words."""


def present(page: Page, answer: RoofLayoutAnswer) -> list[str]:
    """How many, where each is, its feet, its cable, and what is in the way."""
    return [
        page.heading("What fits"),
        *page.bullets([told_proof(answer.plan.proof), *_sums(answer.plan)]),
        *_panels(page, answer.plan.panels),
        *page.section(
            "Feet, middles from front edge and left edge",
            [
                f"{panel.name}: {'; '.join(map(_at, panel.feet))}"
                for panel in answer.plan.panels
                if panel.feet
            ],
        ),
        *page.section(
            "Room left around each panel",
            [_room(panel) for panel in answer.plan.panels if panel.nearest],
        ),
        *page.section(
            "Weight on wheels and hitch",
            [f"{load.name}: {both(load.mass_kg, 'kg')}" for load in answer.support_loads],
        ),
        *page.section(
            "If one thing on the roof were elsewhere",
            [
                f"Without {one.obstacle}: {one.panels_placed} panels, {figure(one.power_w)} W "
                f"({figure(one.gain_w)} W more{_unproven(one)})"
                for one in answer.without_obstacle
            ],
        ),
    ]


def told_proof(proof: LayoutProof) -> str:
    """How many panels, and how sure it is that no layout has more power."""
    proven = "proven to be the most" if proof.proven else "not proven to be the most"
    if proof.how == "everything-placed":
        proven = "as many as are wanted"
    return (
        f"{proof.panels_placed} panels, {figure(proof.power_w)} W, {proven} "
        f"({_HOW.get(proof.how, proof.how)}). No layout holds more than {proof.panels_at_most} "
        f"panels or {figure(proof.power_at_most_w)} W."
    )


def _sums(plan: RoofPlan) -> list[str]:
    centre = f", centre at {_at(plan.mass_centre)}" if plan.mass_centre else ""
    return [
        f"{both(plan.total_mass_kg, 'kg')} of panels{centre}.",
        f"Panels cover {percent(plan.area_use_fraction)} of the roof: "
        f"{figure(plan.panel_area_m2)} of {figure(plan.roof_area_m2)} m². Inside the margins and "
        f"outside clearances there are {figure(plan.free_area_m2)} m².",
        _entry(plan),
    ]


def _entry(plan: RoofPlan) -> str:
    if plan.cable_entry is None:
        return "No cable, and no entry."
    meeting = "the cables meet there"
    if plan.branch_point:
        trunk = both(plan.trunk_m, "m")
        meeting = f"the cables meet at {_at(plan.branch_point)}, {trunk} before it"
    return f"Cable entry at {_at(plan.cable_entry)}; {meeting}."


def _at(point: RoofPoint | LaidPanel | FootPlate) -> str:
    """A point to the millimetre, as it is marked out."""
    return f"{point.x_m:.3f}, {point.y_m:.3f} m"


def _panels(page: Page, panels: list[LaidPanel]) -> list[str]:
    return page.columns(
        "Panels, from front edge and left edge",
        panels,
        {
            "Panel": lambda panel: panel.name,
            "Front left corner": _at,
            "Along x × y": lambda panel: f"{figure(panel.size_x_m)} × {figure(panel.size_y_m)} m",
            "Plugs": lambda panel: panel.plugs_towards,
            "Cable to entry": lambda panel: both(panel.cable.to_entry_m, "m"),
            "Cable passes": lambda panel: _ROUTINGS.get(panel.cable.routing, panel.cable.routing),
        },
    )


def _room(panel: LaidPanel) -> str:
    near = (f"{one.name} {both(one.distance_m, 'm')}" for one in panel.nearest)
    return f"{panel.name}: {'; '.join(near)}"


def _unproven(one: WithoutObstacle) -> str:
    if one.proven:
        return ""
    return f"; not proven, up to {figure(one.gain_at_most_w)} W might fit"


ROOF_LAYOUT = Operation(
    "roof-layout",
    RoofLayoutRequest,
    RoofLayoutAnswer,
    "The most panel that fits a roof",
    "From the roof's outline, obstacles, seams, strips and panels to places, feet and cables: the "
    "most power or the wanted number, with a bound that no layout can pass, what was avoided and "
    "by how much, cable lengths, balance, and what moving one obstacle would gain.",
    present,
    has_tables=True,
)
