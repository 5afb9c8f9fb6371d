"""Circuit-simulator netlists of the same arrays that the engine solves, and what they give.

The simulator's own diode is the forward part, a resistor the shunt, a behavioural source the
avalanche term alone; the array voltage is swept from open circuit down, which converges where
a sweep up from zero does not.
"""

import re
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

KELVIN = 298.15
K_OVER_Q = 8.617333262e-5


@dataclass(frozen=True)
class Simulated:
    """Sweep of a whole array: voltages rising, currents, and bypass diode currents."""

    v: np.ndarray
    i: np.ndarray
    diodes: dict[tuple[str, int], np.ndarray]


def netlist(
    request: dict[str, Any], steps: int, top_v: float, output: Path, tolerances: str
) -> str:
    """Circuit of a `shaded-iv` request at 1000 W/m² and 25 °C."""
    lines = ["array", f".options gmin=1e-12 itl1=1000 itl2=500 {tolerances}"]
    lines.append(".temp 25\n.options tnom=25")
    saved: list[str] = []
    for panel in request["panels"]:
        lines += _panel(panel, saved)
    panels = [panel["name"] for panel in request["panels"]]
    lines += _wiring(request["wiring"], panels)
    lines.append("Vload out 0 0")
    lines.append(f".dc Vload {top_v:.12g} {-0.5 * top_v / steps:.12g} {-top_v / steps:.12g}")
    probes = " ".join(["i(Vload)", *(f"i({name})" for name in saved)])
    lines += [".control", "set wr_singlescale", "set numdgt=12", "run"]
    lines += [f"wrdata {output} {probes}", "quit", ".endc", ".end"]
    return "\n".join(lines) + "\n"


def _panel(panel: dict[str, Any], saved: list[str]) -> list[str]:
    name, cells = panel["name"], panel["panel"]["cells"]
    lines = _models(name, panel["panel"])
    paths, positions = cells["paths_in_parallel"], cells["positions_in_series"]
    light = panel.get("irradiance_fraction", 1.0)
    if not isinstance(light, list):
        light = [[light] * positions] * paths
    full = panel["panel"]["cell_model"]["photocurrent_a"]
    for number, group in enumerate(cells["bypass"]):
        top, bottom = f"{name}_g{number}", f"{name}_g{number + 1}"
        for path in range(paths):
            for position in range(group["first"], group["last"] + 1):
                plus = top if position == group["first"] else f"{name}_p{path}_{position}"
                last = position == group["last"]
                minus = bottom if last else f"{name}_p{path}_{position + 1}"
                cell = f"{name}_{path}_{position}"
                lines += _cell(cell, name, plus, minus, full * light[path][position], panel)
        if group["has_diode"]:
            probe = f"Vd_{name}_{number}"
            saved.append(probe)
            lines.append(f"{probe} {bottom} {probe}_a 0")
            lines.append(f"Db_{name}_{number} {probe}_a {top} bypass_{name}")
    return lines


def _models(name: str, panel: dict[str, Any]) -> list[str]:
    cell = panel["cell_model"]
    lines = [
        f".model cell_{name} D(IS={cell['saturation_current_a']:.15g} "
        f"N={cell['ideality_factor']:.15g})"
    ]
    diode = panel.get("bypass_diode")
    if diode:
        lines.append(_diode_model(f"bypass_{name}", diode))
    return lines


def _diode_model(name: str, diode: dict[str, float]) -> str:
    return (
        f".model {name} D(IS={diode['saturation_current_a']:.15g} "
        f"N={diode['ideality_factor']:.15g} RS={diode['series_resistance_ohm']:.15g})"
    )


def _cell(
    cell: str, panel_name: str, plus: str, minus: str, current: float, panel: dict[str, Any]
) -> list[str]:
    model = panel["panel"]["cell_model"]
    inner, shunt = f"{cell}_j", model["shunt_resistance_ohm"]
    across = f"V({inner},{minus})"
    vbr, a, m = (
        model["breakdown_voltage_v"],
        model["breakdown_factor"],
        model["breakdown_exponent"],
    )
    return [
        f"I_{cell} {minus} {inner} {current:.15g}",
        f"D_{cell} {inner} {minus} cell_{panel_name}",
        f"R_{cell} {inner} {minus} {shunt:.15g}",
        f"B_{cell} {inner} {minus} I={across}/{shunt:.15g}*{a:.15g}"
        f"*pow(max(1-{across}/({vbr:.15g}),1e-6),-{m:.15g})",
        f"Rs_{cell} {inner} {plus} {max(model['series_resistance_ohm'], 1e-9):.15g}",
    ]


def _wiring(wiring: dict[str, Any], panels: list[str]) -> list[str]:
    """Merge every panel's two terminals with its neighbours' by zero-volt sources."""
    lines: list[str] = []
    blocking = wiring.get("blocking_diode")
    if blocking:
        lines.append(_diode_model("blocking", blocking))
    resistance = wiring.get("string_resistance_ohm", 0.0)
    for number, names in enumerate(wiring["strings"]):
        at = f"s{number}"
        if blocking:
            lines.append(f"Dk_{number} {at} {at}_d blocking")
        else:
            lines.append(f"Vk_{number} {at} {at}_d 0")
        lines.append(f"Rk_{number} {at}_d out {max(resistance, 1e-9):.15g}")
        for name in names:
            lines.append(f"Vj_{name} {name}_g0 {at} 0")
            at = f"{name}_end"
        lines.append(f"Ve_{number} {at} 0 0")
    return lines


def simulate(request: dict[str, Any], steps: int, top_v: float) -> Simulated:
    """Run the simulator and read its sweep."""
    for tolerances in ("reltol=1e-5 abstol=1e-11 vntol=1e-8", "", "reltol=1e-4 srcsteps=300"):
        found = _run(request, steps, top_v, tolerances)
        if found is not None:
            return found
    raise RuntimeError("the simulator does not converge on this circuit")


def _run(request: dict[str, Any], steps: int, top_v: float, tolerances: str) -> Simulated | None:
    counts = {p["name"]: len(p["panel"]["cells"]["bypass"]) for p in request["panels"]}
    with tempfile.TemporaryDirectory() as folder:
        output, circuit = Path(folder) / "sweep.data", Path(folder) / "array.cir"
        text = netlist(request, steps, top_v, output, tolerances)
        for name, groups in counts.items():
            text = re.sub(rf"\b{name}_g{groups}\b", f"{name}_end", text)
        circuit.write_text(text)
        subprocess.run(
            ["ngspice", "-b", str(circuit)], capture_output=True, check=False, timeout=300
        )
        if not output.exists():
            return None
        data = np.loadtxt(output)
    if len(data) < steps:
        return None
    probes = re.findall(r"i\(Vd_(\S+)_(\d+)\)", text)
    diodes = {
        (name, int(number)): data[::-1, 2 + column] for column, (name, number) in enumerate(probes)
    }
    return Simulated(data[::-1, 0], data[::-1, 1], diodes)
