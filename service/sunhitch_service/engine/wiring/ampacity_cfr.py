"""Allowable amperage of US 33 CFR 183.425 for American wire gauges."""

from functools import cache

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import Insulation, Run
from sunhitch_service.engine.tables import number, table

from .ampacity import TableValue
from .ampacity_nec import next_standard_a
from .correction import last_key, roof_addition_c, step
from .ladders import Size

_COLUMN: dict[str, int] = {
    "60c": 60,
    "75c": 75,
    "90c": 90,
    "105c": 105,
    "125c": 125,
    "pvc-70": 60,
    "xlpe-90": 90,
    "en-50618": 90,
}
_COLUMNS = (60, 75, 80, 90, 105, 125)


@cache
def _values(column: int) -> dict[str, float | None]:
    return {
        row["awg"]: number(row, f"copper_{column}c_a")
        for row in table("wiring", "cfr_183_425").rows
    }


class CfrAmpacities:
    """Table 5 for stranded copper, with the factors of engine spaces up to 50 °C.

    Parameters
    ----------
    insulation : str
        Insulation of the request.
    """

    def __init__(self, insulation: Insulation) -> None:
        self._column = _COLUMN[insulation]

    @property
    def limit_c(self) -> float:
        """Conductor temperature that the insulation bears [°C]."""
        return float(self._column)

    def table_value(self, size: Size, run: Run) -> TableValue:  # noqa: ARG002
        """Table 5; it does not distinguish how a conductor lies."""
        value = _values(self._column)[size.key]
        label = f"33 CFR 183.425 Table 5, {self._column} °C column"
        return TableValue(label, value or 0.0, float(self._column), 30.0)

    def temperature_c(self, run: Run, air_c: float) -> float:
        """Air; on a roof with the addition of NFPA 70, as the law has none [°C]."""
        if run.where != "on-roof":
            return air_c
        return air_c + roof_addition_c("nec-2023", run.height_above_roof_m or 0.0)

    def ambient_factor(self, run: Run, temperature_c: float) -> float | None:  # noqa: ARG002
        """1 up to 30 °C, the engine-space factor up to 50 °C, None above."""
        return step("cfr_183_425_engine_space", "to_c", f"factor_{self._column}c", temperature_c)

    def hottest_c(self, run: Run) -> float:  # noqa: ARG002
        """Engine spaces: 50 °C."""
        return last_key("cfr_183_425_engine_space", "to_c", f"factor_{self._column}c")

    def bundling_factor(self, run: Run) -> float | None:
        """Factor of boat wiring; asked for at 50 V and more, applied at every voltage."""
        count = run.current_carrying_conductors
        return step("marine_bundling", "to_conductors", "factor", count)

    def terminal_limit_a(
        self,
        size: Size,
        runs: list[Run],  # noqa: ARG002
        terminal_c: float,
        air_c: float,  # noqa: ARG002
    ) -> float | None:
        """Table 5 in the column of the terminals, uncorrected [A]."""
        return _values(max(c for c in _COLUMNS if c <= terminal_c))[size.key]

    def small_limit_a(self, size: Size) -> float | None:  # noqa: ARG002
        """No such limit."""
        return None

    def largest_device_a(self, size: Size, ampacity_a: float, below_50_v: bool) -> float:  # noqa: ARG002
        """150 % of the corrected amperage below 50 V, else the next standard rating [A].

        The law takes 150 % of the table value; the corrected one is never larger.
        """
        if below_50_v:
            return 1.5 * ampacity_a
        return min(next_standard_a(ampacity_a), 1.5 * ampacity_a)

    def sources(self, runs: list[Run]) -> list[Basis]:
        """Table 5, its note 1, bundles, and the roof where one is on the way."""
        names = ["cfr_183_425", "cfr_183_425_engine_space", "marine_bundling"]
        names += ["nec_rooftop"] if any(run.where == "on-roof" for run in runs) else []
        return [table("wiring", name).basis for name in names]
