"""Figures that stand on paper by their symbols: measures of a mounting, and what it bears."""

import numpy as np

from sunhitch.types.mount import AdhesiveFeet, BondedSheet, ClampToe, FastenedFeet, Rails, Timber

from .fasteners import (
    COUNTED_PA,
    COUNTED_SKIN_MM,
    fastener_strength,
    head_m,
    panel_washer,
    shank_mm,
    skin_strength,
)
from .feet import overhang
from .figures import figure
from .pull_tests import tilt_lever_m
from .rails import clamp_friction, section
from .setup import Setup

Figures = dict[str, float]
MILLI = 1e-3


def measures(setup: Setup, part: int) -> Figures:
    """Of what holds the panel, and of one of its feet."""
    mounting = setup.request.mounting
    if isinstance(mounting, BondedSheet):
        return {"f_b": mounting.bonded_fraction, "o": mounting.flap_m}
    found = {"h_s": mounting.standoff_m, "o": overhang(setup.points, setup.sides)}
    if isinstance(mounting, Rails):
        clamps = {
            "C": mounting.clamp_preload_n,
            "mu": clamp_friction(mounting),
            "k_c": figure("limit", "clamp_factor"),
            "W_r": section(mounting.section)[1],
        }
        return found | clamps | (_toe(mounting.clamp_toe) if mounting.clamp_toe else {})
    found |= _thread(mounting) | {"e_s": mounting.stud_offset_m}
    if isinstance(mounting, FastenedFeet):
        return found | _fasteners(mounting, float(setup.fasteners[part]))
    thin = mounting.base_thickness_m < figure("limit", "thin_base_m")
    return found | {
        "l": setup.pads[part, 0],
        "b": setup.pads[part, 1],
        "p_b": setup.bonded_share,
        "h_f": mounting.standoff_m - mounting.foot_thickness_m,
        "k_p": figure("limit", "thin_base_factor") if thin else 1.0,
    }


def _toe(toe: ClampToe) -> Figures:
    """A toe on another panel instead of a heel presses as hard as the first."""
    heel = toe.reach_m if toe.heel_m is None else toe.heel_m
    return {"a_t": toe.reach_m, "a_h": heel, "w_t": toe.width_m, "t_t": toe.thickness_m}


def _thread(mounting: AdhesiveFeet | FastenedFeet) -> Figures:
    of = mounting.property_class
    return {
        "A_s": figure("thread", mounting.thread, "stress_area_mm2") * MILLI**2,
        "R_m": figure("property_class", of, "ultimate_pa"),
        "R_p": figure("property_class", of, "proof_pa"),
        "a_v": figure("property_class", of, "thread_shear"),
        "k_u": figure("limit", "shear_of_ultimate"),
        "k_t": figure("limit", "proof_factor"),
        "k_m": figure("limit", "bending_factor"),
        "k_s": figure("limit", "sheet_factor"),
    }


def _fasteners(mounting: FastenedFeet, count: float) -> Figures:
    pull, push = fastener_strength(mounting)
    bracket = mounting.bracket
    found = {
        "b_f": mounting.base_width_m,
        "j": float(tilt_lever_m(mounting, np.array(count))),
        "n_f": count,
        "n_0": mounting.fasteners_per_foot,
        "T_d": pull,
        "V_d": push,
    }
    return found | ({"w_b": bracket.width_m, "t_p": bracket.thickness_m} if bracket else {})


def in_wood(mounting: FastenedFeet, wood: Timber, lasts: str) -> Figures:
    """Of a screw in wood, and of what lasts as the table of durations says."""
    return {
        "d_m": shank_mm(mounting),
        "l_m": wood.thread_m / MILLI,
        "rho_w": wood.density_kg_m3,
        "k_mod": figure("timber", lasts, "k_mod"),
        "k_w": figure("limit", "wood_factor"),
        "C_D": figure("timber", lasts, "c_d"),
        "R_s": figure("property_class", mounting.property_class, "ultimate_pa") / 1e6,
    }


def sheet_metal(setup: Setup, code: str) -> Figures:
    """Of the sheet that a mode of failure is about: the panel's laminate, or the roof's skin."""
    mounting, panel, skin = setup.request.mounting, setup.panel, setup.request.skin
    if not isinstance(mounting, AdhesiveFeet | FastenedFeet):
        return {}
    thick, strength = panel.thickness, panel.strength
    washer, shank = panel_washer(mounting), figure("thread", mounting.thread, "diameter_mm")
    if skin and code.startswith("skin-") and isinstance(mounting, FastenedFeet):
        strength = skin_strength(skin.material, skin.ultimate_strength_pa) or 0.0
        thick = skin.thickness_m
        washer, shank = head_m(mounting), shank_mm(mounting)
    counted = min(thick, COUNTED_SKIN_MM * MILLI)
    return {
        "f_u": min(strength, COUNTED_PA),
        "t_s": counted if code.endswith("pull-over") else thick,
        "t_c": counted,
        "d_w": washer,
        "d_b": shank * MILLI,
    }
