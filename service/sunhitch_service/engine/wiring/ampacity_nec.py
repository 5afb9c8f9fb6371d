"""Ampacity tables of NFPA 70 for American wire gauges."""

from bisect import bisect_left
from functools import cache

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import Insulation, Material, Run
from sunhitch_service.engine.tables import number, table

from .ampacity import TableValue
from .correction import heat_balance_factor, last_key, roof_addition_c, step
from .ladders import Size

TABLE_AIR_C = 30.0
_COLUMN: dict[str, int] = {
    "60c": 60,
    "75c": 75,
    "90c": 90,
    "105c": 90,
    "125c": 90,
    "pvc-70": 60,
    "xlpe-90": 90,
    "en-50618": 90,
}
_RATED_C: dict[str, float] = {"105c": 105.0, "125c": 125.0}


@cache
def _values(name: str, column: str) -> dict[str, float | None]:
    return {row["awg"]: number(row, column) for row in table("wiring", name).rows}


@cache
def standard_ratings() -> tuple[float, ...]:
    """Standard ratings of fuses [A], rising."""
    return tuple(float(row["rating_a"]) for row in table("wiring", "nec_standard_ratings").rows)


def next_standard_a(ampacity_a: float) -> float:
    """Standard rating at or next above an ampacity [A]; the ampacity itself beyond the list.

    References
    ----------
    NFPA 70, 240.4(B) and 240.6(A), up to 800 A.
    """
    if ampacity_a <= 0.0:
        return 0.0
    ratings = standard_ratings()
    index = bisect_left(ratings, ampacity_a - 1e-9)
    return ratings[index] if index < len(ratings) else ampacity_a


def in_free_air(run: Run) -> bool:
    """Whether single conductors on this run lose their heat to free air."""
    return run.where == "free-air" or (run.where == "on-roof" and not run.in_raceway)


@cache
def _table_value(free_air: bool, material: str, column: int, gauge: str) -> TableValue:
    name = "310.17" if free_air else "310.16"
    value = _values(f"nec_{name.replace('.', '_')}", f"{material}_{column}c_a")[gauge]
    label = f"NEC Table {name}, {column} °C column"
    return TableValue(label, value or 0.0, float(column), TABLE_AIR_C)


class NecAmpacities:
    """Tables 310.16 and 310.17 with their corrections.

    Insulation for 105 and 125 °C starts at the 90 °C column, which is below what it could carry,
    and is corrected for its own temperature.

    Parameters
    ----------
    rules : str
        Edition, for example ``nec-2023``.
    insulation : str
        Insulation of the request.
    material : str
        Metal.
    low_voltage : bool
        Whether the limits for low-voltage circuits of park trailers apply as well.
    """

    def __init__(
        self, rules: str, insulation: Insulation, material: Material, low_voltage: bool
    ) -> None:
        self._rules = rules
        self._material = material
        self._column = _COLUMN[insulation]
        self._rated_c = _RATED_C.get(insulation, float(self._column))
        self._low_voltage = low_voltage

    @property
    def limit_c(self) -> float:
        """Conductor temperature that the insulation bears [°C]."""
        return self._rated_c

    def table_value(self, size: Size, run: Run) -> TableValue:
        """Table 310.17 in free air, 310.16 elsewhere."""
        return _table_value(in_free_air(run), self._material, self._column, size.key)

    def temperature_c(self, run: Run, air_c: float) -> float:
        """Air, with the edition's addition close to a roof [°C]."""
        if run.where != "on-roof":
            return air_c
        return air_c + roof_addition_c(self._rules, run.height_above_roof_m or 0.0)

    def ambient_factor(self, run: Run, temperature_c: float) -> float | None:  # noqa: ARG002
        """Table of factors; its equation for 105 and 125 °C insulation."""
        if self._rated_c > self._column:
            if temperature_c >= self._rated_c:
                return None
            return heat_balance_factor(temperature_c, self._rated_c, TABLE_AIR_C, self._rated_c)
        return step("nec_ambient", "to_c", f"factor_{self._column}c", temperature_c)

    def hottest_c(self, run: Run) -> float:  # noqa: ARG002
        """Last row of the table of factors [°C]."""
        if self._rated_c > self._column:
            return self._rated_c
        return last_key("nec_ambient", "to_c", f"factor_{self._column}c")

    def bundling_factor(self, run: Run) -> float | None:
        """Adjustment for more than three current-carrying conductors."""
        count = run.current_carrying_conductors
        return step("nec_bundling", "to_conductors", "factor", count)

    def terminal_limit_a(
        self,
        size: Size,
        runs: list[Run],  # noqa: ARG002
        terminal_c: float,
        air_c: float,  # noqa: ARG002
    ) -> float | None:
        """Table 310.16 in the column of the terminals, uncorrected [A]."""
        column = 60 if terminal_c < 75.0 else 75 if terminal_c < 90.0 else 90
        return _values("nec_310_16", f"{self._material}_{column}c_a")[size.key]

    def small_limit_a(self, size: Size) -> float | None:
        """240.4(D), and the lower value for low-voltage circuits where that applies [A]."""
        return _small_limit_a(self._material, self._low_voltage, size.key)

    def largest_device_a(self, size: Size, ampacity_a: float, below_50_v: bool) -> float:  # noqa: ARG002
        """Next standard rating at or above the ampacity, within the small-conductor limit [A]."""
        limit = self.small_limit_a(size)
        allowed = next_standard_a(ampacity_a)
        return allowed if limit is None else min(allowed, limit)

    def sources(self, runs: list[Run]) -> list[Basis]:
        """Ampacity tables of these runs, then the factors."""
        names = {"nec_310_17" if in_free_air(run) else "nec_310_16" for run in runs}
        factors = ["nec_ambient", "nec_bundling"]
        factors += ["nec_rooftop"] if any(run.where == "on-roof" for run in runs) else []
        return [table("wiring", name).basis for name in [*sorted(names), *factors]]


@cache
def _small_limit_a(material: str, low_voltage: bool, gauge: str) -> float | None:
    limit = _small(f"{material}_a").get(gauge)
    if low_voltage and material == "copper" and limit is not None:
        return min(limit, _small("copper_low_voltage_a")[gauge] or limit)
    return limit


@cache
def _small(column: str) -> dict[str, float | None]:
    return {row["awg"]: number(row, column) for row in table("wiring", "nec_small_conductors").rows}
