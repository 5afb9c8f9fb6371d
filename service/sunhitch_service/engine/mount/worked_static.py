"""Checks that no load case knows, on paper: movement by heat, trapped air, loads on the roof."""

from sunhitch.types.mount import BondedSheet, Rails

from .adhesive import bond_strength
from .air import GRAVITY
from .figures import figure, row
from .modes import ModeResult
from .paper import Paper
from .setup import Setup
from .static_checks import bond_shift, hot_push
from .thermal import movement, states
from .worked_figures import Figures, measures


def static_formulas(paper: Paper, setup: Setup, result: ModeResult) -> tuple[str, str]:
    """Formulas of demand and capacity, their lines written; empty where only figures are told."""
    mounting, daily = setup.request.mounting, result.case == "thermal-daily"
    formulas = row("formula", result.code)
    paper.figures |= measures(setup, 0) | _moves(setup, daily) | _loads(setup)
    if isinstance(mounting, BondedSheet):
        paper.figures |= _trapped(setup, mounting)
    if result.code == "bond-movement":
        return _bond_movement(paper, setup, daily), ""
    if result.code == "play-movement":
        demand = "s" if setup.panel.flexible else formulas["demand"]
        paper.worked(demand)
        paper.write("e c")
        return demand, formulas["capacity"]
    for formula in filter(None, (formulas["demand"], formulas["capacity"])):
        paper.worked(formula)
    return formulas["demand"], formulas["capacity"]


def _trapped(setup: Setup, mounting: BondedSheet) -> Figures:
    hot = setup.conditions.parked_c
    return {
        "p_o": setup.conditions.outside_pa,
        "T_h": hot,
        "T_0": setup.application_c,
        "S_h": bond_strength(mounting.adhesive, "hours", hot, setup.surface_share),
    }


def _loads(setup: Setup) -> Figures:
    """What lies on the roof."""
    vehicle, mounting = setup.request.vehicle, setup.request.mounting
    return {
        "m": setup.mass,
        "m_r": mounting.rails_mass_kg if isinstance(mounting, Rails) else 0.0,
        "m_o": vehicle.other_roof_mass_kg or 0.0,
        "p_g": setup.conditions.snow_pa,
        "c_f": figure("limit", "snow_shape"),
        "C_t": figure("limit", "snow_thermal"),
        "C_h": figure("limit", "snow_thermal_heated"),
        "p_l": figure("limit", "snow_least_pa"),
        "g_n": GRAVITY,
        "A_o": vehicle.other_panels_area_m2 or 0.0,
        "l_p": setup.sides[0],
        "b_p": setup.sides[1],
    }


def _moves(setup: Setup, daily: bool) -> Figures:
    """States of heat in which the panel grows and shrinks most against the roof."""
    distance = movement(setup).distance
    every = sorted(states(setup, daily), key=lambda state: state.moved(distance))
    found = {
        "r": distance,
        "t_b": setup.bond_m,
        "e": setup.panel.slack,
        "c": figure("sheet_default", "clip_clearance_m"),
    }
    for s, state in (("g", every[-1]), ("s", every[0])):
        symbols = (f"T_p{s}", f"T_r{s}", f"T_0{s}", f"a_p{s}", f"a_r{s}")
        found |= dict(zip(symbols, state, strict=True))
    return found


def _bond_movement(paper: Paper, setup: Setup, daily: bool) -> str:
    moved = movement(setup)
    free = moved.daily if daily else moved.seasonal
    paper.write("g s t_b")
    if setup.feet is None:
        paper.figures["f_x"] = bond_shift(setup, moved.distance, free) / max(*free, 1e-30)
        return "f_x*max(g, s)/t_b"
    growth = "max(0, g - e/2)"
    if setup.panel.flexible:
        push, soft = hot_push(setup, setup.feet, free[0], moved.distance)
        paper.figures |= {"F_g": push, "C_b": soft}
        growth = f"min({growth}, F_g*C_b)"
    return f"max({growth}, max(0, s - e/2))/t_b"
