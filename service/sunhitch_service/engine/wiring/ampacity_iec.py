"""Ampacity tables of IEC 60364-5-52 and EN 50618 for square millimetres."""

from functools import cache

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import Insulation, Material, Run
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import number, table

from .ampacity import TableValue
from .correction import heat_balance_factor, last_key, step
from .ladders import Size

BEHIND_PANELS_C = 70.0
"""Air to design for behind or beside panels on a roof."""
_KIND: dict[str, str] = {
    "75c": "pvc",
    "pvc-70": "pvc",
    "90c": "xlpe",
    "xlpe-90": "xlpe",
    "105c": "xlpe",
    "125c": "xlpe",
    "en-50618": "xlpe",
}
_CONDUCTOR_C = {"pvc": 70.0, "xlpe": 90.0}


@cache
def _values(name: str, column: str) -> dict[str, float | None]:
    return {row["area_mm2"]: number(row, column) for row in table("wiring", name).rows}


def covers(insulation: Insulation) -> bool:
    """Whether the tables know an insulation; 60 °C insulation has none."""
    return insulation in _KIND


@cache
def _photovoltaic_value(free_air: bool, area: str) -> TableValue:
    column = "single_free_air" if free_air else "two_touching"
    value = _values("en_50618", f"copper_{column}_a").get(area)
    return TableValue(f"EN 50618 Table A.3, {column.replace('_', ' ')}", value or 0.0, 120.0, 60.0)


@cache
def _table_value(method: str, material: str, kind: str, area: str) -> TableValue:
    """Value of a method; free air starts at 25 mm², below it the surface's value holds."""
    value = _values("iec_60364_5_52", f"{material}_{method}_{kind}_a").get(area)
    if value is None and method == "free_air":
        return _table_value("surface", material, kind, area)
    label = f"IEC 60364-5-52, {method.replace('_', ' ')}, {kind.upper()}"
    return TableValue(label, value or 0.0, _CONDUCTOR_C[kind], 30.0)


class IecAmpacities:
    """IEC 60364-5-52 for two loaded conductors; EN 50618 for PV cable in air.

    Parameters
    ----------
    insulation : str
        Insulation of the request; one that `covers` admits.
    material : str
        Metal.
    """

    def __init__(self, insulation: Insulation, material: Material) -> None:
        self._kind = _KIND[insulation]
        self._material = material
        self._photovoltaic = insulation == "en-50618"

    def _by_en_50618(self, run: Run) -> bool:
        in_air = run.where in {"free-air", "bundled", "on-roof"} and not run.in_raceway
        return self._photovoltaic and in_air

    @property
    def limit_c(self) -> float:
        """Conductor temperature that the insulation bears [°C]."""
        return 120.0 if self._photovoltaic else _CONDUCTOR_C[self._kind]

    def table_value(self, size: Size, run: Run) -> TableValue:
        """EN 50618 for PV cable in air; else the method that fits the run."""
        if self._by_en_50618(run):
            return _photovoltaic_value(run.where == "free-air", size.key)
        raceway = run.where == "raceway" or run.in_raceway
        method = "raceway" if raceway else "free_air" if run.where == "free-air" else "surface"
        return _table_value(method, self._material, self._kind, size.key)

    def temperature_c(self, run: Run, air_c: float) -> float:
        """Air, at least 70 °C on a roof with panels."""
        return max(air_c, BEHIND_PANELS_C) if run.where == "on-roof" else air_c

    def ambient_factor(self, run: Run, temperature_c: float) -> float | None:
        """Table of factors for the table that the run is read in."""
        return step(*self._ambient(run), temperature_c)

    def hottest_c(self, run: Run) -> float:
        """Last row of the table of factors [°C]."""
        return last_key(*self._ambient(run))

    def _ambient(self, run: Run) -> tuple[str, str, str]:
        if self._by_en_50618(run):
            return "en_50618_ambient", "to_c", "factor_120c"
        return "iec_ambient", "to_c", f"factor_{_CONDUCTOR_C[self._kind]:.0f}c"

    def bundling_factor(self, run: Run) -> float | None:
        """Grouping of two-conductor circuits; an odd conductor counts as a circuit."""
        circuits = (run.current_carrying_conductors + 1) // 2
        return step("iec_grouping", "to_circuits", "factor", circuits)

    def terminal_limit_a(
        self, size: Size, runs: list[Run], terminal_c: float, air_c: float
    ) -> float | None:
        """Current that heats the conductor to the terminals' rating in the air of the way [A].

        None where the terminals bear what the insulation bears. Terminals are taken to sit in the
        air of the way, not on the roof.
        """
        limits: list[float] = []
        for run in runs:
            table_value = self.table_value(size, run)
            if terminal_c < table_value.conductor_c:
                factor = heat_balance_factor(
                    air_c, terminal_c, table_value.air_c, table_value.conductor_c
                )
                limits.append(table_value.base_a * factor)
        return min(limits, default=None)

    def small_limit_a(self, size: Size) -> float | None:  # noqa: ARG002
        """No such limit."""
        return None

    def largest_device_a(self, size: Size, ampacity_a: float, below_50_v: bool) -> float:  # noqa: ARG002
        """The ampacity itself: the rating may not exceed it [A]."""
        return ampacity_a

    def sources(self, runs: list[Run]) -> list[Basis]:
        """Tables of these runs, then the factors."""
        photovoltaic = [self._by_en_50618(run) for run in runs]
        names = ["en_50618", "en_50618_ambient"] if any(photovoltaic) else []
        names += [] if all(photovoltaic) else ["iec_60364_5_52", "iec_ambient"]
        found = [table("wiring", name).basis for name in [*names, "iec_grouping"]]
        if any(run.where == "on-roof" for run in runs):
            found.append(basis("iec-60364-7-712", "70 °C behind panels"))
        return found
