"""Forces of one foot on paper: air, pull and push in one load case, as the checks count them."""

from dataclasses import dataclass

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.mount import Tilt

from .air import GRAVITY
from .between_feet import held_stiffness, lifted
from .cases import in_panel
from .evaluate import Evaluation
from .feet import Feet
from .figures import figure
from .forces import ROUNDING
from .paper import Paper
from .raised import raised_loads
from .thermal import movement
from .wind import DIRECTIONS, turn

PLATES = ("1", "2")
"""Symbols of shares under a stiff plate end in 1, of those under a thin one in 2."""


@dataclass(frozen=True, slots=True)
class AtFoot:
    """One foot in one load case and layout of the feet, and the paper to write on."""

    paper: Paper
    found: Evaluation
    feet: Feet
    case: int
    layout: int
    foot: int

    def shares(self, plate: int) -> None:
        """Share of the foot in uplift and moments, by hand under a stiff plate."""
        paper, points = self.paper, self.found.setup.points
        if f"s_{PLATES[plate]}" in paper:
            return
        if plate:
            up, along, across = self.feet.lift[1, self.layout, self.foot]
            paper.given(s_2=up, s_x2=along, s_y2=across)
            return
        firm = self.feet.stiffness * (np.arange(len(points)) != self.layout - 1)
        centre = firm @ points / firm.sum()
        arms = points - centre
        paper.given(
            k=firm[self.foot],
            K=firm.sum(),
            x_c=centre[0],
            d_x=arms[self.foot, 0],
            y_c=centre[1],
            d_y=arms[self.foot, 1],
            I_xx=firm @ arms[:, 0] ** 2,
            I_yy=firm @ arms[:, 1] ** 2,
            I_xy=firm @ (arms[:, 0] * arms[:, 1]),
        )
        paper.work(
            s_x1="k*(I_yy*d_x - I_xy*d_y)/(I_xx*I_yy - I_xy^2)",
            s_y1="k*(I_xx*d_y - I_xy*d_x)/(I_xx*I_yy - I_xy^2)",
            s_1="k/K - x_c*s_x1 - y_c*s_y1",
        )

    def pull(self) -> None:
        """Line F: pull on the foot away from the roof."""
        parts = [*self._suction(), *self._tilt(), *self._masses()]
        total = " + ".join(parts).replace("+ -", "- ") or "0"
        self.paper.work(F=f"max(0, {total})")

    def _raised(self, tilt: Tilt) -> list[str]:
        """Wind on a panel that is raised."""
        setup, paper = self.found.setup, self.paper
        loads = raised_loads(setup, tilt)
        pulls = self.feet.lift[:, self.layout, self.foot] @ loads.T
        plate, state = np.unravel_index(int(pulls.argmax()), pulls.shape)
        air(paper, self.found, self.case)
        self.shares(int(plate))
        paper.given(**dict(zip(("U_t", "X_t", "Y_t"), loads[state], strict=True)))
        end = PLATES[plate]
        paper.work(W=f"q*(U_t*s_{end} + X_t*s_x{end} + Y_t*s_y{end})")
        return ["W"]

    def _suction(self) -> list[str]:
        setup, cases, paper = self.found.setup, self.found.cases, self.paper
        if setup.request.tilt is not None and cases.terms[self.case].name == "raised":
            return self._raised(setup.request.tilt)
        lift = self.feet.lift[:, self.layout, self.foot]
        fields = setup.fields
        pulls = np.array(
            [
                pressure * np.maximum(lift @ field[0], 0.0)
                for pressure, field in zip(cases.suction[0, self.case], fields, strict=True)
            ]
        )
        way, plate = np.unravel_index(int(pulls.argmax()), pulls.shape)
        if pulls[way, plate] <= 0.0:
            return []
        air(paper, self.found, self.case)
        hours = way == len(DIRECTIONS)
        zones = setup.suctions["front" if hours else DIRECTIONS[way]].shares.items()
        for i, (zone, (share, gust, mean)) in enumerate(zones, 1):
            paper.note(f"a_{i}", share, "1", statement("share-in-zone", zone=zone))
            paper.note(
                f"c_{i}", mean if hours else gust, "1", statement("suction-in-zone", zone=zone)
            )
        panel_area(paper, self.found)
        parts = " + ".join(f"a_{i}*c_{i}" for i in range(1, len(zones) + 1))
        paper.work(U=f"A*({parts})")
        for axis, letter in enumerate("xy", 1):
            arm = fields[way][0, axis] / fields[way][0, 0]
            paper.note(f"{letter}_s", arm, "m", statement("centre-of-suction"))
        self.shares(int(plate))
        aside = not hours and DIRECTIONS[way] in SIDES
        counted = sideways(paper, self.found, self.case) if aside else ""
        end = PLATES[plate]
        formula = f"q*{counted}U*(s_{end} + x_s*s_x{end} + y_s*s_y{end})"
        paper.work(W=formula)
        return ["W"]

    def _tilt(self) -> list[str]:
        setup, cases, paper = self.found.setup, self.found.cases, self.paper
        pushes = in_panel(setup, cases.pushes[0, self.case])
        levers = np.abs(self.feet.lift[:, self.layout, self.foot, 1:])
        tilts = setup.height * pushes @ levers.T
        option, plate = np.unravel_index(int(tilts.argmax()), tilts.shape)
        if tilts[option, plate] <= 0.0:
            return []
        self.pushes(int(option))
        self.shares(int(plate))
        end = PLATES[plate]
        paper.given(h=setup.height)
        formula = f"h*(P_x{option}*abs(s_x{end}) + P_y{option}*abs(s_y{end}))"
        paper.work(T=formula)
        return ["T"]

    def _masses(self) -> list[str]:
        setup, cases, paper = self.found.setup, self.found.cases, self.paper
        shares = self.feet.lift[:, self.layout, self.foot, 0]
        most, least = int(shares.argmax()), int(shares.argmin())
        parts: list[str] = []
        if cases.up[self.case] > 0.0:
            self.shares(most)
            paper.given(N_u=cases.up[self.case])
            paper.work(B=f"N_u*max(0, s_{PLATES[most]})")
            parts.append("B")
        if shares[least] < -ROUNDING:
            self.shares(least)
            paper.given(N_d=max(cases.down[self.case], setup.weight))
            paper.work(O=f"-N_d*s_{PLATES[least]}")
            parts.append("O")
        elif cases.relief[self.case] > 0.0:
            self.shares(least)
            paper.given(m=setup.mass)
            share = setup.counted_weight / setup.weight if setup.weight else 0.0
            paper.given(f_w=share)
            formula = f"f_w*m*{GRAVITY}*max(0, s_{PLATES[least]})"
            paper.work(R=formula)
            parts.append("-R")
        return parts

    def pushes(self, option: int) -> None:
        """Lines P_x and P_y: pushes along the panel's length and width, in one alternative."""
        setup, cases, paper = self.found.setup, self.found.cases, self.paper
        term, turned = cases.terms[self.case], np.abs(turn(setup.request.position))
        given = zip("rs", term.drag_area[option], term.push[option], strict=True)
        acting: dict[str, int] = {}
        for i, (letter, drag, mass) in enumerate(given):
            way = statement("to-the-rear") if letter == "r" else statement("sideways")
            parts: list[str] = []
            if mass > 0.0:
                paper.note(
                    f"G_{letter}{option}", mass, "N", statement("inertia-or-weight", direction=way)
                )
                parts.append(f"G_{letter}{option}")
            if drag > 0.0 and cases.q[0, self.case] > 0.0:
                air(paper, self.found, self.case)
                share = sideways(paper, self.found, self.case) if i else ""
                paper.note(
                    f"D_{letter}{option}", drag, "m²", statement("area-of-drag", direction=way)
                )
                parts.append(f"q*{share}D_{letter}{option}")
            if parts:
                paper.derive(
                    f"P_{letter}{option}",
                    " + ".join(parts),
                    "N",
                    statement("push-towards", direction=way),
                )
                acting[letter] = i
        for column, letter in enumerate("xy"):
            turns: list[str] = []
            for of, row in acting.items():
                if turned[row, column] > 0.0:
                    turns.append(f"P_{of}{option}")
                    if turned[row, column] < 1.0:
                        name = f"u_{of}{letter}"
                        paper.note(name, turned[row, column], "1", statement("turn-of-panel"))
                        turns[-1] += f"*{name}"
            name = "length" if letter == "x" else "width"
            formula = " + ".join(turns) or "0"
            paper.derive(f"P_{letter}{option}", formula, "N", statement("push-along", side=name))

    def sides(self, option: int) -> None:
        """Lines V_x and V_y: the foot's push along the panel's length and width."""
        self.pushes(option)
        shares = np.abs(self.feet.push[self.layout, self.foot])
        for axis, letter in enumerate("xy"):
            parts: list[str] = []
            for other, against in enumerate("xy"):
                if shares[axis, other] > ROUNDING:
                    name = f"b_{letter}{against}"
                    self.paper.note(name, shares[axis, other], "1", statement("share-in-push"))
                    parts.append(f"{name}*P_{against}{option}")
            formula = " + ".join([*parts, *self._sheet(axis)]) or "0"
            self.paper.derive(
                f"V_{letter}{option}", formula, "N", statement("push-of-foot", axis=letter)
            )

    def shear(self, option: int) -> None:
        """Line V: the foot's push along the roof."""
        self.sides(option)
        formula = f"sqrt(V_x{option}^2 + V_y{option}^2)"
        self.paper.work(V=formula)

    def _sheet(self, axis: int) -> list[str]:
        """What a flexible sheet draws or pushes the foot by along one side."""
        setup, cases, paper = self.found.setup, self.found.cases, self.paper
        if not setup.panel.flexible:
            return []
        letter = "xy"[axis]
        pulls: list[str] = []
        grows = cases.terms[self.case].name == "growth"
        depth, in_plane, slack = lifted(setup, cases, self.feet)
        for side, strip in zip("ba", self.feet.strip_of[self.layout, axis, self.foot], strict=True):
            span, end = float(self.feet.strips[strip, 0]), f"{letter}{side}"
            if span == 0.0:
                continue
            code = "sheet-before-foot" if side == "b" else "sheet-after-foot"
            where = statement(code, axis=letter)
            paper.note(f"L_{end}", span, "m", statement("span-there", place=where))
            paper.note(f"e_{end}", float(slack[strip]), "m", statement("slack-there", place=where))
            if grows:
                stiff = float(held_stiffness(setup, self.feet)[strip])
                formula = self._grown(end, stiff)
            else:
                stiff = float(np.broadcast_to(in_plane, depth.shape)[0, self.case, strip])
                paper.note(
                    f"f_{end}",
                    float(depth[0, self.case, strip]),
                    "m",
                    statement("sag-there", place=where),
                )
                paper.note(f"E_{end}", stiff, "N/m", statement("stiffness-there", place=where))
                formula = f"E_{end}*max(0, 8/3*(f_{end}/L_{end})^2 - e_{end}/L_{end})"
            paper.derive(f"n_{end}", formula, "N/m", statement("force-there", place=where))
            pulls.append(f"n_{end}")
        if not pulls:
            return []
        paper.note(
            f"w_{letter}",
            self.feet.width[self.layout, axis, self.foot],
            "m",
            statement("its-width"),
        )
        return [f"w_{letter}*abs({' - '.join(pulls)})"]

    def _grown(self, end: str, stiff: float) -> str:
        moved, paper = movement(self.found.setup), self.paper
        paper.given(g=max(moved.grown), r=moved.distance, D=self.found.setup.panel.bending)
        paper.note(f"E_{end}", stiff, "N/m", statement("stiffness-with-feet"))
        return f"min(pi^2*D/L_{end}^2, E_{end}*max(0, g/r - e_{end}/L_{end}))"


SIDES = ("left", "right")


def air(paper: Paper, found: Evaluation, case: int) -> None:
    """Line q: dynamic pressure."""
    term, setup = found.cases.terms[case], found.setup
    if term.by_speed:
        paper.given(
            rho=term.density, v=setup.conditions.road_speed, g_a=term.headwind, g_s=term.crosswind
        )
        paper.work(q="rho/2*((v + g_a)^2 + g_s^2)")
    elif term.name == "raised":
        paper.given(rho=setup.conditions.density, v_t=term.parked_speed)
        paper.work(q="rho/2*v_t^2")
    elif term.parked_pa > 0.0:
        travel = setup.request.travel
        exposure = travel.storm_exposure if travel else "c"
        hill = travel.topographic_factor if travel else 1.0
        paper.given(
            v_s=term.parked_speed,
            K_z=figure("exposure", exposure, "velocity_coefficient"),
            K_zt=hill,
            K_d=figure("wind_default", "directionality"),
        )
        paper.work(q="0.613*K_z*K_zt*K_d*v_s^2")
    else:
        paper.given(q=0.0)


def sideways(paper: Paper, found: Evaluation, case: int) -> str:
    """Line z: share of the pressure that counts for the sides; empty where all of it does."""
    term = found.cases.terms[case]
    if not term.by_speed or (term.crosswind == 0.0 and found.cases.q[0, case] == 0.0):
        return ""
    formula = "(min(v + g_a, g_s)^2 + g_s^2)/((v + g_a)^2 + g_s^2)"
    paper.work(z=formula)
    return "z*"


def panel_area(paper: Paper, found: Evaluation) -> None:
    """Line A: area of the panel."""
    paper.given(l_p=found.setup.sides[0], b_p=found.setup.sides[1])
    paper.work(A="l_p*b_p")
