"""What a conductor may carry on each run, by the tables of its rule set."""

from bisect import bisect_left
from functools import cache

import msgspec

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import Insulation, Material, Run, RunAmpacity, Where, WiringRules
from sunhitch_service.engine.rules.families import Family
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import number, table

from .correction import heat_balance_factor, last_key, roof_addition_c, step
from .ladders import Size, by_size

BEHIND_PANELS_C = 70.0
"""Air that IEC rules design for behind or beside panels on a roof."""
BELOW_THE_TABLE = Size("less than 18", "awg", 0.0)
"""What no gauge is small enough for."""
_TABLE_AIR_C = 30.0
_NEC_COLUMNS_C, _CFR_COLUMNS_C = (60, 75, 90), (60, 75, 80, 90, 105, 125)


class AmpacityRules(msgspec.Struct, frozen=True):
    """A rule set for one insulation and metal.

    Parameters
    ----------
    family, edition : str
        Rule family, and the edition of NFPA 70 whose addition on roofs counts.
    insulation, material : str
        Of the conductor.
    low_voltage : bool
        Whether the limits for low-voltage circuits of park trailers apply as well.
    """

    family: Family
    edition: WiringRules
    insulation: Insulation
    material: Material
    low_voltage: bool

    @property
    def column_c(self) -> int:
        """Conductor temperature of the columns that the insulation is read in [°C]."""
        return int(_insulation_c(self.insulation, self.family, "column") or 0.0)

    @property
    def rated_c(self) -> float:
        """Conductor temperature that the insulation bears, as the rules count it [°C]."""
        return _insulation_c(self.insulation, self.family, "rated") or 0.0


@cache
def _insulation_c(insulation: Insulation, family: Family, name: str) -> float | None:
    return number(
        table("wiring", "insulations").row("insulation", insulation), f"{family}_{name}_c"
    )


def covered_by_iec(insulation: Insulation) -> bool:
    """Whether the IEC tables know an insulation; 60 °C insulation has none."""
    return _insulation_c(insulation, "iec", "column") is not None


class Column(msgspec.Struct, frozen=True):
    """A column of ampacities and the tables that correct it.

    Parameters
    ----------
    table, column : str
        Where the ampacities stand.
    title : str
        Table and column in words.
    conductor_c, air_c : float
        Conductor and air temperature behind it [°C].
    ambient, grouping : str
        Tables of factors for the air and for conductors together.
    otherwise : str
        Column for sizes that this one does not hold.
    """

    table: str
    column: str
    title: str
    conductor_c: float
    air_c: float
    ambient: str
    grouping: str
    otherwise: str = ""

    def read(self, size: Size) -> tuple[str, float]:
        """Column in words and table value of a size [A]; 0 where there is none."""
        value = by_size(self.table, self.column).get(size.key)
        if value is None and self.otherwise:
            surface = by_size(self.table, self.otherwise).get(size.key)
            return self.title.replace("free air", "surface"), surface or 0.0
        return self.title, value or 0.0


def _nec_column(of: AmpacityRules, where: Where, in_raceway: bool) -> Column:
    """Table 310.17 in free air, 310.16 elsewhere.

    Insulation for 105 and 125 °C starts at the 90 °C column, which is below what it could carry,
    and is corrected for its own temperature.
    """
    free = where == "free-air" or (where == "on-roof" and not in_raceway)
    name, column_c = "310.17" if free else "310.16", of.column_c
    return Column(
        f"nec_{name.replace('.', '_')}",
        f"{of.material}_{column_c}c_a",
        f"NEC Table {name}, {column_c} °C column",
        column_c,
        _TABLE_AIR_C,
        "nec_ambient",
        "nec_bundling",
    )


def _cfr_column(of: AmpacityRules, where: Where, in_raceway: bool) -> Column:  # noqa: ARG001
    """Table 5 for stranded copper; it does not distinguish how a conductor lies."""
    return Column(
        "cfr_183_425",
        f"copper_{of.column_c}c_a",
        f"33 CFR 183.425 Table 5, {of.column_c} °C column",
        of.column_c,
        _TABLE_AIR_C,
        "cfr_183_425_engine_space",
        "marine_bundling",
    )


def _iec_column(of: AmpacityRules, where: Where, in_raceway: bool) -> Column:
    """EN 50618 for PV cable in air; else the method that fits the run.

    Free air starts at 25 mm²; below it the value on a surface holds.
    """
    raceway, free = where == "raceway" or in_raceway, where == "free-air"
    if of.insulation == "en-50618" and not raceway and where != "insulated-wall":
        column = "single_free_air" if free else "two_touching"
        title = f"EN 50618 Table A.3, {column.replace('_', ' ')}"
        name, ambient = "en_50618", "en_50618_ambient"
        return Column(name, f"copper_{column}_a", title, of.rated_c, 60.0, ambient, "iec_grouping")
    method = "raceway" if raceway else "free_air" if free else "surface"
    kind = "pvc" if of.column_c == 70 else "xlpe"
    return Column(
        "iec_60364_5_52",
        f"{of.material}_{method}_{kind}_a",
        f"IEC 60364-5-52, {method.replace('_', ' ')}, {kind.upper()}",
        of.column_c,
        _TABLE_AIR_C,
        "iec_ambient",
        "iec_grouping",
        f"{of.material}_surface_{kind}_a",
    )


@cache
def _column(of: AmpacityRules, where: Where, in_raceway: bool) -> Column:
    """The column that a run is read in."""
    if of.family == "nec":
        return _nec_column(of, where, in_raceway)
    return (_iec_column if of.family == "iec" else _cfr_column)(of, where, in_raceway)


class RunTables(msgspec.Struct, frozen=True):
    """The column that a run is read in, and what the run does to every size alike.

    Parameters
    ----------
    run : Run
        How it lies.
    column : Column
        Ampacities.
    temperature_c, hottest_c : float
        Air around it, and the hottest that the table covers [°C].
    ambient, bundling, enclosure : float
        Factors; 0 beyond a table.
    product : float
        All three together.
    """

    run: Run
    column: Column
    temperature_c: float
    hottest_c: float
    ambient: float
    bundling: float
    enclosure: float
    product: float

    def ampacity(self, read: Size, by_area: bool = False) -> RunAmpacity:
        """Ampacity of a size, or of the gauge that is read in its place, step by step."""
        title, base_a = self.column.read(read)
        return RunAmpacity(
            run=self.run.where,
            in_raceway=self.run.in_raceway,
            table=f"{title}, at {read.label}" if by_area else title,
            base_a=base_a,
            temperature_c=self.temperature_c,
            ambient_factor=self.ambient,
            bundling_factor=self.bundling,
            enclosure_factor=self.enclosure,
            corrected_a=base_a * self.product,
        )


def run_tables(of: AmpacityRules, run: Run, air_c: float) -> RunTables:
    """Column and factors of a run.

    Parameters
    ----------
    of : AmpacityRules
        Rule set, insulation and metal.
    run : Run
        Where it lies.
    air_c : float
        Air of the whole way [°C]; the run's own counts where it is given.

    Returns
    -------
    RunTables
        A factor beyond its table is 0.
    """
    column, loaded = _column(of, run.where, run.in_raceway), run.current_carrying_conductors
    hot_c = _air_around_c(of, run, air_c if run.ambient_c is None else run.ambient_c)
    ambient, hottest_c = _ambient(of, column, hot_c)
    # IEC groups circuits of two conductors; an odd one counts as a circuit.
    together = (
        ("to_circuits", (loaded + 1) // 2) if of.family == "iec" else ("to_conductors", loaded)
    )
    bundling = step(column.grouping, together[0], "factor", together[1]) or 0.0
    enclosure = enclosure_factor(run)
    return RunTables(
        run=run,
        column=column,
        temperature_c=hot_c,
        hottest_c=hottest_c,
        ambient=ambient,
        bundling=bundling,
        enclosure=enclosure,
        product=ambient * bundling * enclosure,
    )


def _air_around_c(of: AmpacityRules, run: Run, air_c: float) -> float:
    """Air; on a roof at least 70 °C (IEC), or with the addition of NFPA 70 [°C]."""
    if run.where != "on-roof":
        return air_c
    if of.family == "iec":
        return max(air_c, BEHIND_PANELS_C)
    return air_c + roof_addition_c(of.edition, run.height_above_roof_m or 0.0)


def _ambient(of: AmpacityRules, column: Column, hot_c: float) -> tuple[float, float]:
    """Factor for the air, and the hottest air that has one; beyond the columns the equation."""
    if of.family == "nec" and of.rated_c > column.conductor_c:
        return heat_balance_factor(hot_c, of.rated_c, column.air_c, of.rated_c), of.rated_c
    factors = column.ambient, "to_c", f"factor_{column.conductor_c:.0f}c"
    return step(*factors, hot_c) or 0.0, last_key(*factors)


def enclosure_factor(run: Run) -> float:
    """Factor for thermal insulation around a run: by its length where given, else the harshest."""
    if run.where != "insulated-wall":
        return 1.0
    length_m = 100.0 if run.length_m is None else run.length_m
    return step("thermal_insulation", "to_length_m", "factor", length_m) or 0.0


def terminal_limit_a(
    of: AmpacityRules, read: Size, runs: list[RunTables], terminal_c: float, air_c: float
) -> float | None:
    """Most that terminals of a rating allow [A]; None where they bear what the insulation bears.

    NFPA 70 and 33 CFR read the column of the terminals, uncorrected. Under IEC it is the current
    that heats the conductor to the terminals' rating in the air of the way, not on the roof.
    """
    if of.family == "iec":
        return min(
            (
                own.read(read)[1]
                * heat_balance_factor(air_c, terminal_c, own.air_c, own.conductor_c)
                for own in (run.column for run in runs)
                if terminal_c < own.conductor_c
            ),
            default=None,
        )
    limit_a = _terminal_values(of.family, of.material, terminal_c).get(read.key)
    # Cooler columns of NFPA 70 leave out the thinnest gauges; the limit of their devices counts.
    return small_limit_a(of, read) if limit_a is None else limit_a


@cache
def _terminal_values(
    family: Family, material: Material, terminal_c: float
) -> dict[str, float | None]:
    columns = _NEC_COLUMNS_C if family == "nec" else _CFR_COLUMNS_C
    column = max(each for each in columns if each <= terminal_c)
    return by_size("nec_310_16" if family == "nec" else "cfr_183_425", f"{material}_{column}c_a")


def small_limit_a(of: AmpacityRules, read: Size) -> float | None:
    """Largest device on a small conductor [A]: 240.4(D), and less in low-voltage circuits."""
    name = "nec_small_conductors"
    limit = by_size(name, f"{of.material}_a").get(read.key) if of.family == "nec" else None
    if limit is None or not of.low_voltage or of.material != "copper":
        return limit
    return min(limit, by_size(name, "copper_low_voltage_a")[read.key] or limit)


def largest_device_a(of: AmpacityRules, read: Size, ampacity_a: float, below_50_v: bool) -> float:
    """Largest device that protects a conductor of an ampacity [A].

    NFPA 70: the next standard rating, within the limit for small conductors. IEC: the ampacity
    itself. 33 CFR: 150 % below 50 V, else the next standard rating within that; the law takes
    150 % of the table value, and the corrected one is never larger.
    """
    if of.family == "iec":
        return ampacity_a
    if of.family == "us-33-cfr-183":
        return (
            1.5 * ampacity_a if below_50_v else min(next_standard_a(ampacity_a), 1.5 * ampacity_a)
        )
    allowed, small = next_standard_a(ampacity_a), small_limit_a(of, read)
    return allowed if small is None else min(allowed, small)


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


def sources(of: AmpacityRules, runs: list[RunTables]) -> list[Basis]:
    """Tables that are read: ampacities, air, company, roof, thermal insulation."""
    columns = [each.column for each in runs]
    names = [*sorted({c.table for c in columns}), *sorted({c.ambient for c in columns})]
    names += sorted({c.grouping for c in columns})
    places = {each.run.where for each in runs}
    names += ["nec_rooftop"] if "on-roof" in places and of.family != "iec" else []
    names += ["thermal_insulation"] if "insulated-wall" in places else []
    found = [table("wiring", name).basis for name in names]
    if "on-roof" in places and of.family == "iec":
        found.append(basis("iec-60364-7-712", "70 °C behind panels"))
    return found
