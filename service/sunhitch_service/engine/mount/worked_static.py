"""Checks that no load case knows, on paper: movement by heat, trapped air, loads on the roof."""

from sunhitch.types.mount import BondedSheet, ClampToe, Rails

from .adhesive import bond_strength, surface_fraction
from .air import GRAVITY
from .figures import figure
from .modes import ModeResult
from .paper import Paper
from .setup import Setup
from .static_checks import bond_shift, hot_push
from .thermal import movement, states


def static_formulas(paper: Paper, setup: Setup, result: ModeResult) -> tuple[str, str]:
    """Formulas of demand and capacity, their lines written; empty where only figures are told."""
    if result.code == "bond-movement":
        return _bond_movement(paper, setup, result.case == "thermal-daily"), ""
    if result.code == "play-movement":
        _moves(paper, setup, daily=False)
        clearance = figure("sheet_default", "clip_clearance_m")
        paper.given(e=setup.panel.slack, c=clearance)
        return "s" if setup.panel.flexible else "max(g, s)", "e/2 + c"
    if result.code in ("roof-rating", "roof-rating-parked", "rack-rating"):
        return _mass(paper, setup, snow=result.code == "roof-rating-parked"), ""
    mounting = setup.request.mounting
    if result.code == "clamp-tightening" and isinstance(mounting, Rails) and mounting.clamp_toe:
        paper.given(C=mounting.clamp_preload_n)
        return bent_toe(paper, mounting.clamp_toe, "C"), ""
    if result.code == "trapped-air" and isinstance(mounting, BondedSheet) and not mounting.vented:
        surface = surface_fraction(setup.request.surface, setup.request.spacer)
        hot = setup.conditions.parked_c
        borne = bond_strength(mounting.adhesive, "hours", hot, surface)
        paper.given(
            p_o=setup.conditions.outside_pa,
            T_h=hot,
            T_0=setup.application_c,
            f_b=mounting.bonded_fraction,
            S_h=borne,
        )
        air = "p_o*max(0, T_h - T_0)/(T_0 + 273.15)"
        return f"{air}*max(1 - f_b, 0.1)/max(f_b, 0.1)", "S_h"
    return "", ""


def bent_toe(paper: Paper, toe: ClampToe, force: str) -> str:
    """Formula of a clamp's toe bent by a force."""
    paper.given(a_t=toe.reach_m, w_t=toe.width_m, t_t=toe.thickness_m)
    return f"6*{force}*a_t/(w_t*t_t^2)"


def _mass(paper: Paper, setup: Setup, snow: bool) -> str:
    """Formula of what lies on the roof [kg], its lines written."""
    vehicle, mounting = setup.request.vehicle, setup.request.mounting
    paper.given(
        m=setup.mass,
        m_r=mounting.rails_mass_kg if isinstance(mounting, Rails) else 0.0,
        m_o=vehicle.other_roof_mass_kg or 0.0,
    )
    if not snow:
        return "m + m_r + m_o"
    paper.given(
        p_g=setup.conditions.snow_pa,
        A_o=vehicle.other_panels_area_m2 or 0.0,
        l_p=setup.sides[0],
        b_p=setup.sides[1],
    )
    shape, cold, heated, least = (
        figure("limit", name)
        for name in ("snow_shape", "snow_thermal", "snow_thermal_heated", "snow_least_pa")
    )
    paper.work(
        A="l_p*b_p",
        p_s=f"max({shape}*{cold}*p_g, min(p_g, {least}))",
        p_h=f"max({shape}*{heated}*p_g, min(p_g, {least}))",
    )
    return f"m + m_r + m_o + (p_s - p_h)*(A + A_o)/{GRAVITY}"


def _moves(paper: Paper, setup: Setup, daily: bool) -> None:
    """Lines g and s: growth and shrinkage of the panel against the roof."""
    distance = movement(setup).distance
    paper.given(r=distance)
    every = sorted(states(setup, daily), key=lambda state: state.moved(distance))
    for s, state, sign in (("g", every[-1], ""), ("s", every[0], "-")):
        symbols = (f"T_p{s}", f"T_r{s}", f"T_0{s}", f"a_p{s}", f"a_r{s}")
        paper.given(**dict(zip(symbols, state, strict=True)))
        moved = f"r*(a_p{s}*(T_p{s} - T_0{s}) - a_r{s}*(T_r{s} - T_0{s}))"
        paper.work(**{s: f"max(0, {sign}{moved})"})


def _bond_movement(paper: Paper, setup: Setup, daily: bool) -> str:
    _moves(paper, setup, daily)
    paper.given(t_b=setup.bond_m)
    moved = movement(setup)
    free = moved.daily if daily else moved.seasonal
    if setup.feet is None:
        shift = bond_shift(setup, moved.distance, free)
        paper.given(f_x=shift / max(*free, 1e-30))
        return "f_x*max(g, s)/t_b"
    paper.given(e=setup.panel.slack)
    growth = "max(0, g - e/2)"
    if setup.panel.flexible:
        push, soft = hot_push(setup, setup.feet, free[0], moved.distance)
        paper.given(F_g=push, C_b=soft)
        growth = f"min({growth}, F_g*C_b)"
    return f"max({growth}, max(0, s - e/2))/t_b"
