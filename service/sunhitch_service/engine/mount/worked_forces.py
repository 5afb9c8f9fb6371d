"""Forces of one foot on paper: air, pull and push in one load case, as the checks count them."""

from dataclasses import dataclass

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.mount import Tilt, TravelConditions
from sunhitch_service.engine.arrays import Floats

from .air import GRAVITY
from .between_feet import held_stiffness, lifted
from .cases import in_panel
from .evaluate import Evaluation
from .feet import Feet
from .figures import figure
from .forces import ROUNDING, FeetForces
from .paper import Paper
from .raised import raised_loads
from .thermal import movement
from .wind import DIRECTIONS, turn
from .worked_figures import Figures

SHARES = ("k K x_c d_x y_c d_y I_xx I_yy I_xy s_x1 s_y1 s_1", "s_2 s_x2 s_y2")
"""Symbols of the foot's shares, by hand under a stiff plate, and under a thin one."""


@dataclass(frozen=True, slots=True)
class AtFoot:
    """One foot in one load case and layout of the feet, and the paper to write on."""

    paper: Paper
    found: Evaluation
    feet: Feet
    forces: FeetForces
    case: int
    layout: int
    foot: int

    def prepare(self) -> None:
        """Let the paper know the foot's figures, and how it is pulled and pushed."""
        setup, cases, points = self.found.setup, self.found.cases, self.found.setup.points
        up, along, across = self.feet.lift[1, self.layout, self.foot]
        firm = self.feet.stiffness * (np.arange(len(points)) != self.layout - 1)
        centre = firm @ points / firm.sum()
        arms = points - centre
        self.paper.formulas |= {"F": self.pull, "V": self.shear, "sigma": self.edge}
        self.paper.figures |= {
            "k": firm[self.foot],
            "K": firm.sum(),
            "x_c": centre[0],
            "d_x": arms[self.foot, 0],
            "y_c": centre[1],
            "d_y": arms[self.foot, 1],
            "I_xx": firm @ arms[:, 0] ** 2,
            "I_yy": firm @ arms[:, 1] ** 2,
            "I_xy": firm @ (arms[:, 0] * arms[:, 1]),
            "s_2": up,
            "s_x2": along,
            "s_y2": across,
            "h": setup.height,
            "m": setup.mass,
            "f_w": setup.counted_weight / setup.weight if setup.weight else 0.0,
            "N_d": max(cases.down[self.case], setup.weight),
        }

    def pull(self) -> str:
        """Formula of the pull on the foot away from the roof, its lines written."""
        parts = [*self._suction(), *self._tilt(), *self._masses()]
        total = " + ".join(parts).replace("+ -", "- ") or "0"
        return f"max(0, {total})"

    def _raised(self, tilt: Tilt, flat_n: float) -> list[str]:
        """Wind on a panel that is raised; nothing where it pulls harder on a flat one."""
        setup, paper = self.found.setup, self.paper
        loads = raised_loads(setup, tilt)
        pulls = self.feet.lift[:, self.layout, self.foot] @ loads.T
        if self.found.cases.q[0, self.case] * pulls.max() < flat_n:
            return []
        plate, state = np.unravel_index(int(pulls.argmax()), pulls.shape)
        paper.figures |= dict(zip(("U_t", "X_t", "Y_t"), loads[state], strict=True))
        paper.write(f"q {SHARES[plate]}")
        end = plate + 1
        paper.work("W", f"q*(U_t*s_{end} + X_t*s_x{end} + Y_t*s_y{end})")
        return ["W"]

    def _suction(self) -> list[str]:
        setup, cases, paper = self.found.setup, self.found.cases, self.paper
        lift = self.feet.lift[:, self.layout, self.foot]
        fields = setup.fields
        pulls = np.array(
            [
                pressure * np.maximum(lift @ field[0], 0.0)
                for pressure, field in zip(cases.suction[0, self.case], fields, strict=True)
            ]
        )
        way, plate = np.unravel_index(int(pulls.argmax()), pulls.shape)
        if setup.request.tilt is not None and cases.terms[self.case].name == "raised":
            raised = self._raised(setup.request.tilt, float(pulls.max()))
            if raised:
                return raised
        if pulls[way, plate] <= 0.0:
            return []
        paper.write("q")
        hours = way == len(DIRECTIONS)
        zones = setup.suctions["front" if hours else DIRECTIONS[way]].shares.items()
        for i, (zone, (share, gust, mean)) in enumerate(zones, 1):
            paper.note(f"a_{i}", share, "1", statement("share-in-zone", zone=zone))
            paper.note(
                f"c_{i}", mean if hours else gust, "1", statement("suction-in-zone", zone=zone)
            )
        paper.write("A")
        parts = " + ".join(f"a_{i}*c_{i}" for i in range(1, len(zones) + 1))
        paper.work("U", f"A*({parts})")
        for axis, letter in enumerate("xy", 1):
            arm = fields[way][0, axis] / fields[way][0, 0]
            paper.note(f"{letter}_s", arm, "m", statement("centre-of-suction"))
        paper.write(SHARES[plate])
        counted = self._sideways() if not hours and DIRECTIONS[way] in ("left", "right") else ""
        end = plate + 1
        paper.work("W", f"q*{counted}U*(s_{end} + x_s*s_x{end} + y_s*s_y{end})")
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
        paper.write(f"{SHARES[plate]} h")
        end = plate + 1
        paper.work("T", f"h*(P_x{option}*abs(s_x{end}) + P_y{option}*abs(s_y{end}))")
        return ["T"]

    def _masses(self) -> list[str]:
        cases, paper = self.found.cases, self.paper
        shares = self.feet.lift[:, self.layout, self.foot, 0]
        most, least = int(shares.argmax()), int(shares.argmin())
        parts: list[str] = []
        if cases.up[self.case] > 0.0:
            paper.write(f"{SHARES[most]} N_u")
            paper.work("B", f"N_u*max(0, s_{most + 1})")
            parts.append("B")
        if shares[least] < -ROUNDING:
            paper.write(f"{SHARES[least]} N_d")
            paper.work("O", f"-N_d*s_{least + 1}")
            parts.append("O")
        elif cases.relief[self.case] > 0.0:
            paper.write(f"{SHARES[least]} m f_w")
            paper.work("R", f"f_w*m*{GRAVITY}*max(0, s_{least + 1})")
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
                paper.write("q")
                share = self._sideways() if i else ""
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

    def _aside(self) -> tuple[Floats, Floats]:
        """Push on the foot along the panel's length and width, in the alternatives [N]."""
        here = 0, self.case, slice(None), self.layout, self.foot
        return self.forces.aside[0][here], self.forces.aside[1][here]

    def shear(self) -> str:
        """Formula of the foot's push along the roof, its lines written."""
        option = int(np.hypot(*self._aside()).argmax())
        self.sides(option)
        return f"sqrt(V_x{option}^2 + V_y{option}^2)"

    def edge(self) -> str:
        """Formula of the tension at the edge of the foot's bond, its lines written."""
        paper, (length, width), (along, across) = (
            self.paper,
            self.found.setup.pads[self.foot],
            self._aside(),
        )
        option = int((along / length + across / width).argmax())
        paper.write("F")
        self.sides(option)
        paper.write("A_b h_s e_s")
        short = length <= width
        paper.work("M_x", f"V_x{option}*h_s" + (" + F*e_s" if short else ""))
        paper.work("M_y", f"V_y{option}*h_s" + ("" if short else " + F*e_s"))
        return "k_p*(F + 6*(M_x/l + M_y/b))/A_b"

    def _sideways(self) -> str:
        """Line z: share of the pressure that counts for the sides; empty where all of it does."""
        term = self.found.cases.terms[self.case]
        if not term.by_speed or (term.crosswind == 0.0 and self.found.cases.q[0, self.case] == 0.0):
            return ""
        self.paper.write("z")
        return "z*"

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
        paper.figures |= {"g": max(moved.grown), "r": moved.distance}
        paper.write("g r D")
        paper.note(f"E_{end}", stiff, "N/m", statement("stiffness-with-feet"))
        return f"min(pi^2*D/L_{end}^2, E_{end}*max(0, g/r - e_{end}/L_{end}))"


def air(found: Evaluation, case: int) -> tuple[Figures, str]:
    """Figures of the air, and the formula of its dynamic pressure; none where nothing moves."""
    term, setup = found.cases.terms[case], found.setup
    if term.by_speed:
        gusts = {"g_a": term.headwind, "g_s": term.crosswind}
        figures = {"rho": term.density, "v": setup.conditions.road_speed, **gusts}
        return figures, "rho/2*((v + g_a)^2 + g_s^2)"
    if term.name == "raised":
        return {"rho": setup.conditions.density, "v_t": term.parked_speed}, "rho/2*v_t^2"
    if term.parked_pa == 0.0:
        return {"q": 0.0}, ""
    travel = setup.request.travel or TravelConditions()
    figures = {
        "v_s": term.parked_speed,
        "K_z": figure("exposure", travel.storm_exposure, "velocity_coefficient"),
        "K_zt": travel.topographic_factor,
        "K_d": figure("wind_default", "directionality"),
    }
    return figures, "0.613*K_z*K_zt*K_d*v_s^2"
