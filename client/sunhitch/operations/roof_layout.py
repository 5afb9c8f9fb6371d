"""What fits on the roof and where, for people with a tape measure."""

from sunhitch.report.amounts import both, figure, percent
from sunhitch.report.layout import Page
from sunhitch.types.roof import (
    LaidPanel,
    LayoutProof,
    RoofLayoutAnswer,
    RoofLayoutRequest,
    RoofPlan,
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


_WAYS = {
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
        *page.section("Feet, middles from front edge and left edge", _feet(answer.plan.panels)),
        *page.section("Room left around each panel", _room(answer.plan.panels)),
        *page.section("Weight on wheels and hitch", _weights(answer)),
        *page.section("If one thing on the roof were elsewhere", _without(answer)),
    ]


def told_proof(proof: LayoutProof) -> str:
    """How many panels, and how sure it is that no layout has more power."""
    proven = "proven to be the most" if proof.proven else "not proven to be the most"
    if proof.how == "everything-placed":
        proven = "as many as are wanted"
    clock = " The clock ended the search; it may end otherwise." if proof.stopped_by_clock else ""
    return (
        f"{proof.panels_placed} panels, {figure(proof.power_w)} W, {proven} "
        f"({_HOW[proof.how]}). No layout holds more than {proof.panels_at_most} panels or "
        f"{figure(proof.power_at_most_w)} W.{clock}"
    )


def _sums(plan: RoofPlan) -> list[str]:
    return [
        f"{both(plan.total_mass_kg, 'kg')} of panels, centre at "
        f"{_at(plan.mass_centre.x_m, plan.mass_centre.y_m)}.",
        f"Panels cover {percent(plan.area_use_fraction)} of the roof: "
        f"{figure(plan.panel_area_m2)} of {figure(plan.roof_area_m2)} m². Inside the margins and "
        f"outside clearances there are {figure(plan.free_area_m2)} m².",
        f"Cable entry at {_at(plan.cable_entry.x_m, plan.cable_entry.y_m)}; {_meeting(plan)}.",
    ]


def _meeting(plan: RoofPlan) -> str:
    if plan.trunk_m == 0.0:
        return "the cables meet there"
    where = _at(plan.branch_point.x_m, plan.branch_point.y_m)
    return f"the cables meet at {where}, {both(plan.trunk_m, 'm')} before it"


def _at(x_m: float, y_m: float) -> str:
    """A point to the millimetre, as it is marked out."""
    return f"{x_m:.3f}, {y_m:.3f} m"


def _panels(page: Page, panels: list[LaidPanel]) -> list[str]:
    if not panels:
        return []
    rows = [
        (
            panel.name,
            _at(panel.x_m, panel.y_m),
            f"{figure(panel.size_x_m)} × {figure(panel.size_y_m)} m",
            panel.plugs_towards,
            both(panel.cable.to_entry_m, "m"),
            _WAYS[panel.cable.way],
        )
        for panel in panels
    ]
    head = ("Panel", "Front left corner", "Along x × y", "Plugs", "Cable to entry", "Cable passes")
    return ["", page.heading("Panels, from front edge and left edge"), *page.table(head, rows)]


def _feet(panels: list[LaidPanel]) -> list[str]:
    return [
        f"{panel.name}: {'; '.join(_at(foot.x_m, foot.y_m) for foot in panel.feet)}"
        for panel in panels
        if panel.feet
    ]


def _room(panels: list[LaidPanel]) -> list[str]:
    return [
        f"{panel.name}: "
        + "; ".join(f"{near.name} {both(near.distance_m, 'm')}" for near in panel.nearest)
        for panel in panels
        if panel.nearest
    ]


def _weights(answer: RoofLayoutAnswer) -> list[str]:
    return [f"{load.name}: {both(load.mass_kg, 'kg')}" for load in answer.support_loads]


def _without(answer: RoofLayoutAnswer) -> list[str]:
    return [
        f"Without {one.obstacle}: {one.panels_placed} panels, {figure(one.power_w)} W "
        f"({figure(one.gain_w)} W more{_unproven(one)})"
        for one in answer.without_obstacle
    ]


def _unproven(one: WithoutObstacle) -> str:
    if one.proven:
        return ""
    clock = ", and the clock ended the search" if one.stopped_by_clock else ""
    return f"; not proven, up to {figure(one.gain_at_most_w)} W might fit{clock}"


ROOF_LAYOUT = Operation(
    "roof-layout",
    RoofLayoutRequest,
    RoofLayoutAnswer,
    "The most panel that fits a roof",
    "From the roof's outline, obstacles, seams, strips and panels to places, feet and cables: the "
    "most power or the wanted number, with a bound that no layout can pass, what was avoided and "
    "by how much, cable lengths, balance, and what moving one obstacle would gain.",
    present,
)
