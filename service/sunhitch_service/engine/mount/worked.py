"""Governing figures worked on one sheet of paper, so that anyone can redo them."""

import math

import numpy as np

from sunhitch.texts import Text, statement
from sunhitch.types.mount import Adhesive, FastenedFeet, Rails, Timber, Working
from sunhitch_service.engine.arrays import Floats
from sunhitch_service.engine.rules.table import unit_of

from .adhesive import base_strength, heat_fraction, peel_strength
from .between_feet import lifted
from .evaluate import Evaluation
from .fasteners import shank_mm
from .feet import Feet, overhang
from .figures import figure, row
from .foot_modes import LoadedFeet, pulled_supports, pushed_supports
from .forces import FeetForces
from .modes import ModeResult
from .panel_modes import snow_on_edge
from .paper import Paper
from .rail_loads import own_lift, own_pushes
from .rails import RailBeam, side_pushes
from .setup import adhesive_of
from .timber import EN_LEAST_MM, NDS_MOST_MM, OVEN_DRY, PSI_IN_MPA, duration_key
from .worked_figures import Figures, in_wood, measures, sheet_metal
from .worked_forces import AtFoot, air
from .worked_static import static_formulas


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
        paper.write("use")
    else:
        paper.note("use", 0.0, "1", statement("nothing-borne"))
    return Working(
        code=result.check_code, subject=result.subject, lost=result.lost, lines=paper.lines
    )


class _Worked:
    """Formulas of one mode of failure in one load case, layout and part."""

    def __init__(self, found: Evaluation, place: tuple[int, int, int, int], paper: Paper) -> None:
        self.found, self.setup, self.paper = found, found.setup, paper
        number, self.case, self.layout, self.part = place
        self.mode, self.code = found.modes[number], found.modes[number].code
        self.term, feet, forces = found.cases.terms[self.case], self.setup.feet, found.forces
        figures, pressure = air(found, self.case)
        paper.formulas["q"] = lambda: pressure
        paper.figures |= figures | measures(self.setup, self.part) | self._acting()
        paper.figures |= sheet_metal(self.setup, self.code)
        if feet and forces:
            AtFoot(paper, found, feet, forces, self.case, self.layout, self.part).prepare()
        mounting = self.setup.request.mounting
        if isinstance(mounting, FastenedFeet) and mounting.wood:
            self._prepare_screw(mounting, mounting.wood)

    def _acting(self) -> Figures:
        """What acts on the panel as a whole, and its own measures."""
        setup, cases, case = self.setup, self.found.cases, self.case
        q = float(cases.q[0, case])
        most = cases.edge if self.code.startswith("edge-") else cases.peak
        peak, local = (of[0, case] / q if q > 0.0 else 0.0 for of in (most, cases.local))
        return {
            "l_p": setup.sides[0],
            "b_p": setup.sides[1],
            "t": setup.panel.depth,
            "D": setup.panel.bending,
            "c_n": peak,
            "c_t": local,
            "N_u": cases.up[case],
            "N_m": cases.up[case] + cases.down[case],
            "R_w": cases.relief[case],
            "P": np.linalg.norm(cases.pushes[0, case], axis=-1).max(),
            "o_d": figure("limit", "debonded_strip_m"),
            "f_l": self.found.relief[case],
        }

    def demand(self) -> str:
        """Formula of what acts, its lines written."""
        if self.code == "rail-support-sideways":
            return self._pushed_support()
        if self.code == "rail-support-combined":
            self.paper.figures |= self._both_ways()
        elif self.code.startswith("rail-"):
            return self._rail(self.code.removeprefix("rail-"))
        formula = row("formula", self.code)["demand"]
        if self.code == "edge-strain" and self.term.name == "snow":
            beyond = overhang(self.setup.points, self.setup.sides)
            on_edge = snow_on_edge(self.setup, self.found.cases, beyond)
            self.paper.figures["p_e"] = on_edge[self.case]
            formula = "p_e*o^2*t/(4*D)"
        if self.code == "edge-peel" and not self.layout:
            formula = f"{row('formula', 'sheet-bond-tension')['demand']}*o"
        if feet := self.setup.feet:
            self.paper.figures["L_m"] = feet.longest_m
        if feet and self.code == "span-strain":
            self.paper.figures |= self._most_bent(feet)
        self.paper.worked(formula)
        return formula

    def _most_bent(self, feet: Feet) -> Figures:
        """Span and sag of the strip that is bent most."""
        depth = lifted(self.setup, self.found.cases, feet)[0][0, self.case]
        span, lost = feet.strips[:, 0], feet.strips[:, 4]
        bent = np.where((span > 0) & (lost == 0.0), depth / np.maximum(span, 1e-9) ** 2, 0.0)
        return {"L": span[bent.argmax()], "f": depth[bent.argmax()]}

    def _clamped(self) -> tuple[FeetForces, RailBeam, Rails]:
        """Forces, the rail, and the mounting of rails."""
        mounting = self.setup.request.mounting
        if self.found.forces is None or not isinstance(mounting, Rails):
            raise TypeError("a mode of failure of rails without rails")
        return self.found.forces, self.setup.rails[self.part], mounting

    def _both_ways(self) -> Figures:
        """Shares of both ratings of the support that they use up most."""
        forces, _, mounting = self._clamped()
        at = LoadedFeet(self.setup, self.found.cases, forces)
        pull, push = (
            of(at, mounting)[self.part][0, self.case, self.layout]
            for of in (pulled_supports, pushed_supports)
        )
        by_pull = pull / (mounting.support_rating_n or math.inf)
        by_push = push / (mounting.support_side_rating_n or math.inf)
        most = int((by_pull + by_push).argmax())
        return {"u_p": by_pull[most], "u_s": by_push[most]}

    def _pushed_support(self) -> str:
        forces, rail, mounting = self._clamped()
        ways = forces.aside if mounting.run == "along-length" else forces.aside[::-1]
        along, across = (way[0, self.case, :, self.layout][:, rail.clamps] for way in ways)
        every = own_pushes(self.setup, self.found.cases, mounting)
        own_along, own_across = (push[0, self.case, :, rail.number - 1] for push in every)
        pushed = side_pushes(rail, along, across, (own_along, own_across))
        option, support = np.unravel_index(int(pushed.argmax()), pushed.shape)
        names = [statement("clamp-number", number=clamp + 1) for clamp in rail.clamps]
        titles = [statement("push-of", what=name) for name in names]
        shares = np.abs(rail.beam.reaction)[support], "1", statement("influence-reaction")
        levered = self._levered("Q", across[option], titles, *shares)
        self.paper.figures |= {
            "Q_r": along[option].sum(),
            "Q_a": own_along[option],
            "Q_o": own_across[option],
            "n_s": len(rail.beam.reaction),
        }
        return f"sqrt(({levered} + Q_o/n_s)^2 + ((Q_r + Q_a)/n_s)^2)"

    def _rail(self, mode: str) -> str:
        """Sum of the clamps' loads, each times its influence, where that is worst."""
        forces, rail, mounting = self._clamped()
        effect = {"bending": "moment", "support": "reaction"}.get(mode, mode)
        loads = forces.uplift[0, self.case, self.layout, rail.clamps]
        if effect != "reaction":
            loads = np.maximum(loads, forces.pressed[self.case, self.layout, rail.clamps])
        shares = getattr(rail.beam, effect)
        signed = [shares] if effect == "reaction" else [shares, -shares]
        rows = [row for one in signed for row in np.maximum(one, 0.0)]
        best = max(rows, key=lambda row: float(row @ loads))
        unit = {"moment": "m", "deflection": "m/N", "reaction": "1"}[effect]
        titles = [statement("load-of-clamp", number=clamp + 1) for clamp in rail.clamps]
        influence = statement("influence-of", effect=effect)
        levered = self._levered("F", loads, titles, best, unit, influence)
        lift = own_lift(self.setup, self.found.cases, mounting)[self.case]
        if effect == "reaction" and lift > 0.0:
            self.paper.figures |= {"N_r": lift, "n_s": len(rail.beam.reaction)}
            return f"{levered} + N_r/n_s"
        return f"({levered})/W_r" if effect == "moment" else levered

    def _levered(
        self,
        letter: str,
        loads: Floats,
        titles: list[Text],
        shares: Floats,
        unit: str,
        influence: Text,
    ) -> str:
        """Formula of loads, each times its influence, their lines written."""
        for i, (load, title, share) in enumerate(zip(loads, titles, shares, strict=True), 1):
            self.paper.note(f"{letter}_{i}", load, "N", title)
            self.paper.note(f"i_{i}", share, unit, influence)
        return " + ".join(f"{letter}_{i}*i_{i}" for i in range(1, len(loads) + 1))

    def capacity(self) -> str:
        """Formula of what is borne; empty where only its figure is told."""
        formula, adhesive = row("formula", self.code)["capacity"], adhesive_of(self.setup.request)
        if adhesive:
            formula = self._bond(adhesive) if "bond-" in self.code else formula
            surface = self.setup.surface_share
            self.paper.figures["p"] = peel_strength(adhesive, self.term.bond_c, surface)
        relief = float(self.found.relief[self.case])
        if not formula or not self.layout or self.mode.given or relief == 1.0:
            return formula
        self.paper.worked(f"{formula}*f_l")
        return f"f_l*{formula}"

    def _bond(self, adhesive: Adhesive) -> str:
        tested, lasts = self.setup.tested, self.term.duration
        self.paper.figures |= {
            "T_b": self.term.bond_c,
            "f_T": heat_fraction(adhesive.kind, self.term.bond_c, lasts),
            "S_t": tested or 0.0,
            "S": base_strength(adhesive, lasts),
            "S_g": base_strength(adhesive, "gust"),
            "f_s": self.setup.surface_share,
            "f_o": figure("adhesive", adhesive.kind, "wet_out_fraction"),
        }
        self.paper.write("T_b f_T" if tested is None else "T_b f_T S_t")
        if tested is not None and lasts in ("gust", "movement"):
            return "S_t*f_T"
        formula = "S*f_T*f_s*f_o"
        self.paper.worked(formula)
        if self.setup.feet is None:
            return f"{formula}*f_b"
        return formula if tested is None else f"{formula}*min(1, S_t/(S_g*f_s*f_o))"

    def _prepare_screw(self, mounting: FastenedFeet, wood: Timber) -> None:
        """Figures of a screw in wood, and formulas of what it bears."""
        lasts, core = duration_key(self.term.duration), figure("limit", "wood_core")
        self.paper.figures |= in_wood(mounting, wood, lasts)
        wide = shank_mm(mounting)
        known = {"R_en": wide >= EN_LEAST_MM, "R_nds": wide <= NDS_MOST_MM}
        borne = ", ".join(symbol for symbol, counts in known.items() if counts)
        self.paper.formulas |= {
            "d_e": lambda: f"1.1*{core:g}*d_m",
            "G_w": lambda: f"{OVEN_DRY}*rho_w/1000",
            "R_nds": lambda: f"C_D*2850*{PSI_IN_MPA}*G_w^2*d_m*l_m",
            "R_T": lambda: f"min({borne})" if all(known.values()) else borne,
            "R_V": lambda: row("formula", "wood-lateral")["capacity"],
        }
