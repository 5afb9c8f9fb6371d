"""Governing figures worked on one sheet of paper, so that anyone can redo them."""

from collections.abc import Callable
from typing import TypeVar

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.mount import (
    Adhesive,
    AdhesiveFeet,
    BondedSheet,
    FastenedFeet,
    Rails,
    Working,
)
from sunhitch_service.engine.rules.table import unit_of

from .adhesive import (
    base_strength,
    heat_fraction,
    peel_strength,
    surface_fraction,
)
from .between_feet import lifted
from .evaluate import Evaluation
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
from .forces import FeetForces
from .modes import ModeResult
from .paper import Paper
from .rails import clamp_friction, section
from .timber import EN_LEAST_MM, NDS_MOST_MM, OVEN_DRY, PSI_IN_MPA, duration_key
from .worked_forces import AtFoot, air, panel_area
from .worked_static import bent_toe, static_formulas

M = TypeVar("M", AdhesiveFeet, FastenedFeet, Rails)
T = TypeVar("T")
MILLI = 1e-3


def working(found: Evaluation, result: ModeResult) -> Working:
    """One result on paper: what acts, what is borne, and the use that is made of it.

    Parameters
    ----------
    found : Evaluation
        At the road speed asked for.
    result : ModeResult
        Of this evaluation, or of a check that no load case knows: its figures stand as given.
    """
    paper, unit = Paper(), unit_of(result.code)
    if result.place:
        worked = _Worked(found, result.place, paper)
        formulas = worked.demand(), worked.capacity()
    else:
        formulas = static_formulas(paper, found.setup, result)
    figures = (result.demand, result.capacity)
    names = (("demand", statement("what-acts")), ("capacity", statement("what-is-borne")))
    for (symbol, name), formula, value in zip(names, formulas, figures, strict=True):
        if formula:
            paper.derive(symbol, formula, unit, name)
        else:
            paper.note(symbol, value, unit, name)
    if result.capacity > 0.0:
        paper.work(use="demand/capacity")
    else:
        paper.note("use", 0.0, "1", statement("nothing-borne"))
    return Working(
        code=result.check_code, subject=result.subject, lost=result.lost, lines=paper.lines
    )


def _there(value: T | None) -> T:
    """What a mode of failure has, or it would not be."""
    if value is None:
        raise TypeError("a mode of failure without what fails")
    return value


class _Worked:
    """Formulas of one mode of failure in one load case, layout and part."""

    def __init__(self, found: Evaluation, place: tuple[int, int, int, int], paper: Paper) -> None:
        self.found, self.setup, self.paper = found, found.setup, paper
        number, self.case, self.layout, self.part = place
        self.mode, self.code = found.modes[number], found.modes[number].code
        self.term = found.cases.terms[self.case]
        self.at = None
        if self.setup.feet is not None and self.mode.parts == self.setup.supports:
            here = (self.case, self.layout, self.part)
            self.at = AtFoot(paper, found, self.setup.feet, *here)

    def demand(self) -> str:
        """Formula of what acts, its lines written; empty where only its figure is told."""
        given = {
            "bond-tension": self._mean_tension,
            "bond-shear": self._mean_shear,
            "bond-edge": self._edge,
            "bond-combined": self._combined,
            "stud-tension": self._pull,
            "stud-shear": self._shear,
            "stud-bending": self._stud_moment,
            "sheet-pull-over": self._pull,
            "sheet-bearing": self._shear,
            "fastener-tension": self._tension,
            "fastener-shear": self._each_shear,
            "fastener-combined": self._fasteners_combined,
            "bracket-bending": self._bracket,
            "skin-pull-over": self._tension,
            "skin-pull-out": self._tension,
            "skin-bearing": self._each_shear,
            "tested-pull": self._tested,
            "clamp-uplift": self._pull,
            "clamp-slip": self._shear,
            "clamp-toe": self._toe,
            "clamp-bolt": self._clamp_bolt,
            "rail-support-sideways": self._pushed_support,
            "wood-withdrawal": lambda: self._in_wood(self._tension()),
            "wood-lateral": lambda: self._in_wood(self._each_shear()),
            "wood-combined": self._wood_combined,
            "rail-bending": lambda: self._rail("moment"),
            "rail-deflection": lambda: self._rail("deflection"),
            "rail-support": lambda: self._rail("reaction"),
            "panel-pressure": self._panel_pressure,
            "panel-pressure-assumed": self._panel_pressure,
            "span-strain": self._span_strain,
            "edge-strain": self._edge_strain,
            "edge-divergence": self._edge_divergence,
            "span-divergence": self._span_divergence,
            "sheet-bond-tension": self._suction_on_sheet,
            "sheet-bond-shear": self._push_on_sheet,
            "sheet-bond-combined": lambda: f"{self._suction_on_sheet()} + {self._push_on_sheet()}",
            "edge-peel": self._peel,
        }
        found: dict[str, Callable[[], str]] = dict(given)
        return found[self.code]()

    def _foot(self) -> AtFoot:
        return _there(self.at)

    def _forces(self) -> FeetForces:
        return _there(self.found.forces)

    def _of(self, kind: type[M]) -> M:
        mounting = self.setup.request.mounting
        return _there(mounting if isinstance(mounting, kind) else None)

    def _pull(self) -> str:
        self._foot().pull()
        return "F"

    def _shear(self) -> str:
        forces, at = self._forces(), self._foot()
        along, across = (part[0, self.case, :, self.layout, self.part] for part in forces.aside)
        at.shear(int(np.hypot(along, across).argmax()))
        return "V"

    def _pad(self) -> str:
        """Lines of the pad; the formula of its bonded area."""
        self.paper.given(
            l=self.setup.pads[self.part, 0],
            b=self.setup.pads[self.part, 1],
            p_b=self.setup.bonded_share,
        )
        self.paper.work(A_b="l*b*p_b")
        return "A_b"

    def _mean_tension(self) -> str:
        return f"{self._pull()}/{self._pad()}"

    def _mean_shear(self) -> str:
        return f"{self._shear()}/{self._pad()}"

    def _edge(self) -> str:
        mounting, paper, forces = self._of(AdhesiveFeet), self.paper, self._forces()
        at, pads = self._foot(), self.setup.pads[self.part]
        along, across = (part[0, self.case, :, self.layout, self.part] for part in forces.aside)
        option = int((along / pads[0] + across / pads[1]).argmax())
        at.pull()
        at.sides(option)
        self._pad()
        paper.given(h_s=mounting.standoff_m, e_s=mounting.stud_offset_m)
        short = pads[0] <= pads[1]
        paper.work(
            M_x=f"V_x{option}*h_s" + (" + F*e_s" if short else ""),
            M_y=f"V_y{option}*h_s" + ("" if short else " + F*e_s"),
        )
        thin = mounting.base_thickness_m < figure("limit", "thin_base_m")
        paper.given(k_p=figure("limit", "thin_base_factor") if thin else 1.0)
        paper.work(sigma="k_p*(F + 6*(M_x/l + M_y/b))/A_b")
        return "sigma"

    def _combined(self) -> str:
        return f"{self._edge()} + {self._shear()}/A_b"

    def _stud_moment(self) -> str:
        mounting = self._of(AdhesiveFeet)
        self.paper.given(h_f=mounting.standoff_m - mounting.foot_thickness_m)
        return f"{self._shear()}*h_f"

    def _pried(self) -> str:
        """Line N_f: pull on all fasteners of the foot."""
        mounting, paper = self._of(FastenedFeet), self.paper
        self._pull()
        self._shear()
        several = self.setup.fasteners[self.part] > 1
        arm = min(mounting.base_width_m, mounting.spacing_m) if several else mounting.base_width_m
        paper.given(
            e_s=mounting.stud_offset_m, b_f=mounting.base_width_m, h_s=mounting.standoff_m, j=arm
        )
        formula = "F*(1 + 2*e_s/b_f) + 2*V*h_s/j"
        paper.work(N_f=formula)
        paper.given(n_f=self.setup.fasteners[self.part])
        return "N_f"

    def _tension(self) -> str:
        return f"{self._pried()}/n_f"

    def _each_shear(self) -> str:
        self.paper.given(n_f=self.setup.fasteners[self.part])
        return f"{self._shear()}/n_f"

    def _fasteners_combined(self) -> str:
        pull, push = fastener_strength(self._of(FastenedFeet))
        formula = f"{self._tension()}/T_d + V/(n_f*V_d)"
        self.paper.given(T_d=pull, V_d=push)
        return formula

    def _tested(self) -> str:
        every = f"{self._pried()} + V"
        self.paper.given(n_0=self._of(FastenedFeet).fasteners_per_foot)
        return f"({every})*n_0/n_f"

    def _bracket(self) -> str:
        bracket = _there(self._of(FastenedFeet).bracket)
        self._pried()
        self.paper.given(w_b=bracket.width_m, t_p=bracket.thickness_m)
        return "6*(F*e_s + V*h_s)/(w_b*t_p^2)"

    def _in_wood(self, each: str) -> str:
        self.paper.work(k_n="n_f^-0.1")
        return f"({each})/k_n"

    def _wood_combined(self) -> str:
        for symbol, each, name in (
            ("u_T", self._tension(), statement("use-by-pull")),
            ("u_V", self._each_shear(), statement("use-by-push")),
        ):
            demand = self._in_wood(each)
            borne = self._screw("wood-withdrawal" if symbol == "u_T" else "wood-lateral")
            self.paper.derive(symbol, f"{demand}/({borne})", "1", name)
        return "sqrt(u_T^2 + u_V^2)"

    def _toe(self) -> str:
        return bent_toe(self.paper, _there(self._of(Rails).clamp_toe), self._pull())

    def _clamp_bolt(self) -> str:
        toe, pull = _there(self._of(Rails).clamp_toe), self._pull()
        if toe.heel_m is None:
            return f"2*{pull}"
        self.paper.given(a_t=toe.reach_m, a_h=toe.heel_m)
        return f"{pull}*(1 + a_t/a_h)"

    def _pushed_support(self) -> str:
        forces, rail, mounting = self._forces(), self.setup.rails[self.part], self._of(Rails)
        ways = forces.aside if mounting.run == "along-length" else forces.aside[::-1]
        along, across = (way[0, self.case, :, self.layout][:, rail.clamps] for way in ways)
        shares = np.abs(rail.beam.reaction)
        pushed = np.hypot(across @ shares.T, along.sum(axis=-1, keepdims=True) / len(shares))
        option, support = np.unravel_index(int(pushed.argmax()), pushed.shape)
        parts: list[str] = []
        for number, clamp in enumerate(rail.clamps, 1):
            name = statement("clamp-number", number=clamp + 1)
            self.paper.note(
                f"Q_{number}", across[option, number - 1], "N", statement("push-of", what=name)
            )
            share = shares[support, number - 1]
            self.paper.note(f"i_{number}", share, "1", statement("influence-reaction"))
            parts.append(f"Q_{number}*i_{number}")
        total = along[option].sum()
        self.paper.given(Q_r=total, n_s=len(shares))
        return f"sqrt(({' + '.join(parts)})^2 + (Q_r/n_s)^2)"

    def _rail(self, effect: str) -> str:
        """Sum of the clamps' loads, each times its influence, where that is worst."""
        mounting, forces = self._of(Rails), self._forces()
        rail = self.setup.rails[self.part]
        loads = forces.uplift[0, self.case, self.layout, rail.clamps]
        if effect != "reaction":
            loads = np.maximum(loads, forces.pressed[self.case, self.layout, rail.clamps])
        shares = getattr(rail.beam, effect)
        signed = [shares] if effect == "reaction" else [shares, -shares]
        rows = [row for one in signed for row in np.maximum(one, 0.0)]
        best = max(rows, key=lambda row: float(row @ loads))
        parts: list[str] = []
        unit = {"moment": "m", "deflection": "m/N", "reaction": "1"}[effect]
        for number, clamp in enumerate(rail.clamps, 1):
            self.paper.note(
                f"F_{number}", loads[number - 1], "N", statement("load-of-clamp", number=clamp + 1)
            )
            self.paper.note(
                f"i_{number}", best[number - 1], unit, statement("influence-of", effect=effect)
            )
            parts.append(f"F_{number}*i_{number}")
        if effect != "moment":
            return " + ".join(parts)
        self.paper.given(W_r=section(mounting.section)[1])
        return f"({' + '.join(parts)})/W_r"

    def _pressure(self, name: str, values: np.ndarray) -> str:
        """Lines of the air and of a coefficient; the formula of its pressure."""
        air(self.paper, self.found, self.case)
        q = float(self.found.cases.q[0, self.case])
        value = float(values[0, self.case]) / q if q > 0.0 else 0.0
        self.paper.note("c_n", value, "1", name)
        return "q*c_n"

    def _panel_pressure(self) -> str:
        cases = self.found.cases
        suction = self._pressure(statement("suction-worst-third"), cases.local)
        panel_area(self.paper, self.found)
        self.paper.given(N_m=cases.up[self.case] + cases.down[self.case])
        return f"{suction} + N_m/A"

    def _thick(self) -> None:
        panel = self.setup.panel
        self.paper.given(t=panel.depth, D=panel.bending)

    def _span_strain(self) -> str:
        feet = _there(self.setup.feet)
        depth = lifted(self.setup, self.found.cases, feet)[0][0, self.case]
        span, lost = feet.strips[:, 0], feet.strips[:, 4]
        bent = np.where((span > 0) & (lost == 0.0), depth / np.maximum(span, 1e-9) ** 2, 0.0)
        strip = int(bent.argmax())
        self._thick()
        self.paper.given(L=span[strip], f=depth[strip])
        return "4.8*f*t/L^2"

    def _beyond(self) -> None:
        mounting = self.setup.request.mounting
        if isinstance(mounting, BondedSheet):
            wide = mounting.flap_m
        else:
            wide = overhang(self.setup.points, self.setup.sides)
        self.paper.given(o=wide)

    def _edge_strain(self) -> str:
        self._thick()
        self._beyond()
        pressure = self._pressure(statement("largest-suction"), self.found.cases.peak)
        return f"{pressure}*o^2*t/(4*D)"

    def _edge_divergence(self) -> str:
        self._thick()
        self._beyond()
        air(self.paper, self.found, self.case)
        return "2*q*o^3/D"

    def _span_divergence(self) -> str:
        self._thick()
        air(self.paper, self.found, self.case)
        self.paper.given(L_m=_there(self.setup.feet).longest_m)
        return "2*q*L_m^3/(pi^3*D)"

    def _suction_on_sheet(self, relieved: bool = True) -> str:
        cases = self.found.cases
        suction = self._pressure(statement("largest-suction"), cases.peak)
        panel_area(self.paper, self.found)
        self.paper.given(N_u=cases.up[self.case])
        if not relieved:
            return f"({suction} + N_u/A)"
        self.paper.given(R_w=cases.relief[self.case])
        return f"max(0, {suction} + N_u/A - R_w/A)"

    def _push_on_sheet(self) -> str:
        panel_area(self.paper, self.found)
        push = float(np.linalg.norm(self.found.cases.pushes[0, self.case], axis=-1).max())
        self.paper.given(P=push)
        return "P/A"

    def _peel(self) -> str:
        self._beyond()
        if not self.layout:
            return f"{self._suction_on_sheet()}*o"
        self.paper.given(o_d=figure("limit", "debonded_strip_m"))
        return f"{self._suction_on_sheet(relieved=False)}*(o + o_d)"

    def capacity(self) -> str:
        """Formula of what is borne; empty where only its figure is told."""
        formula = self._strength()
        relief = float(self.found.relief[self.case])
        if not formula or not self.layout or self.mode.given or relief == 1.0:
            return formula
        self.paper.given(f_l=relief)
        return f"f_l*{formula}"

    def _strength(self) -> str:
        mounting, code = self.setup.request.mounting, self.code
        if isinstance(mounting, BondedSheet):
            if code == "edge-peel":
                return self._peeled(mounting.adhesive)
            return self._bond(mounting.adhesive, True) if "bond-" in code else ""
        if isinstance(mounting, Rails):
            return self._slip(mounting) if code == "clamp-slip" else ""
        if code in ("wood-withdrawal", "wood-lateral"):
            return self._screw(code)
        if isinstance(mounting, AdhesiveFeet) and code.startswith("bond-"):
            return self._bond(mounting.adhesive, False)
        of = {"stud": self._stud, "sheet": self._laminate, "skin": self._skin}
        worked = of.get(code.split("-")[0])
        return worked(mounting) if worked else ""

    def _peeled(self, adhesive: Adhesive) -> str:
        surface = surface_fraction(self.setup.request.surface, self.setup.request.spacer)
        peel = peel_strength(adhesive, self.term.bond_c, surface)
        self.paper.given(p=peel)
        return "p"

    def _bond(self, adhesive: Adhesive, whole: bool) -> str:
        paper, request, tested = self.paper, self.setup.request, self.setup.tested
        gust = self.term.duration in ("gust", "movement")
        heat = heat_fraction(adhesive.kind, self.term.bond_c, self.term.duration)
        paper.given(T_b=self.term.bond_c, f_T=heat)
        if tested is not None:
            paper.given(S_t=tested)
        if tested is not None and gust:
            return "S_t*f_T"
        surface = surface_fraction(request.surface, request.spacer if whole else None)
        wet = figure("adhesive", adhesive.kind, "wet_out_fraction")
        paper.given(S=base_strength(adhesive, self.term.duration), f_s=surface, f_o=wet)
        formula = "S*f_T*f_s*f_o"
        if whole and isinstance(request.mounting, BondedSheet):
            paper.given(f_b=request.mounting.bonded_fraction)
            return f"{formula}*f_b"
        if tested is None:
            return formula
        paper.given(S_g=base_strength(adhesive, "gust"))
        return f"{formula}*min(1, S_t/(S_g*f_s*f_o))"

    def _stud(self, mounting: AdhesiveFeet | FastenedFeet) -> str:
        paper, of = self.paper, mounting.property_class
        area = figure("thread", mounting.thread, "stress_area_mm2") * MILLI**2
        paper.given(A_s=area)
        if self.code == "stud-shear":
            through = figure("property_class", of, "thread_shear")
            least = figure("limit", "shear_of_ultimate")
            paper.given(
                R_m=figure("property_class", of, "ultimate_pa"),
                a_v=through,
                k_s=figure("limit", "sheet_factor"),
            )
            return f"min({least}, a_v/k_s)*A_s*R_m"
        paper.given(R_p=figure("property_class", of, "proof_pa"))
        if self.code == "stud-tension":
            paper.given(k_t=figure("limit", "proof_factor"))
            return "A_s*R_p/k_t"
        paper.given(k_m=figure("limit", "bending_factor"))
        paper.work(d_s="sqrt(4*A_s/pi)")
        return "pi*d_s^3/32*R_p/k_m"

    def _laminate(self, mounting: AdhesiveFeet | FastenedFeet) -> str:
        panel = self.setup.panel
        wide = panel_washer(mounting)
        shank = figure("thread", mounting.thread, "diameter_mm") * MILLI
        return self._sheet_metal(panel.thickness, panel.strength, wide, shank)

    def _skin(self, mounting: AdhesiveFeet | FastenedFeet) -> str:
        skin = _there(self.setup.request.skin)
        if self.code == "skin-pull-out" or isinstance(mounting, AdhesiveFeet):
            return ""
        strength = _there(skin_strength(skin.material, skin.ultimate_strength_pa))
        wide, shank = head_m(mounting), shank_mm(mounting) * MILLI
        return self._sheet_metal(skin.thickness_m, strength, wide, shank)

    def _sheet_metal(self, thick: float, strength: float, washer: float, shank: float) -> str:
        paper = self.paper
        counted = min(strength, COUNTED_PA)
        paper.given(f_u=counted, k_s=figure("limit", "sheet_factor"))
        if self.code.endswith("pull-over"):
            counted = min(thick, COUNTED_SKIN_MM * MILLI)
            paper.given(t_s=counted, d_w=washer)
            return "min(6.1*0.001*t_s*f_u*sqrt(d_w/0.022), 0.5*d_w*t_s*f_u)/k_s"
        paper.given(t_s=thick, d_b=shank)
        return "min(2.5*f_u*sqrt(t_s^3*d_b), 1.5*f_u*t_s*d_b)/k_s"

    def _screw(self, code: str) -> str:
        """What one screw in wood bears by its pull, or by its push."""
        mounting, paper = self._of(FastenedFeet), self.paper
        wood, diameter = _there(mounting.wood), shank_mm(mounting)
        lasts = duration_key(self.term.duration)
        paper.given(
            d_m=diameter,
            l_m=wood.thread_m / MILLI,
            rho_w=wood.density_kg_m3,
            k_mod=figure("timber", lasts, "k_mod"),
            k_w=figure("limit", "wood_factor"),
        )
        if code == "wood-lateral":
            ultimate = figure("property_class", mounting.property_class, "ultimate_pa")
            paper.given(R_s=ultimate / 1e6)
            core = figure("limit", "wood_core")
            paper.work(d_e=f"1.1*{core:g}*d_m", f_h="0.082*rho_w*d_e^-0.3", M_s="0.3*R_s*d_e^2.6")
            return "k_mod/k_w*min(0.4*f_h*l_m*d_e, 1.15*sqrt(2*M_s*f_h*d_e))"
        known: list[str] = []
        if diameter >= EN_LEAST_MM:
            strength = "0.52*d_m^0.5*l_m^0.9*rho_w^0.8*min(d_m/8, 1)"
            paper.work(R_en=f"k_mod/k_w*{strength}")
            known.append("R_en")
        if diameter <= NDS_MOST_MM:
            paper.given(C_D=figure("timber", lasts, "c_d"))
            paper.work(G_w=f"{OVEN_DRY}*rho_w/1000", R_nds=f"C_D*2850*{PSI_IN_MPA}*G_w^2*d_m*l_m")
            known.append("R_nds")
        return f"min({', '.join(known)})" if len(known) > 1 else known[0]

    def _slip(self, mounting: Rails) -> str:
        self._pull()
        self.paper.given(
            mu=clamp_friction(mounting),
            C=mounting.clamp_preload_n,
            k_c=figure("limit", "clamp_factor"),
        )
        return "mu*max(0, C - F)/k_c"
