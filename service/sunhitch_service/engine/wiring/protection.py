"""String fuses, battery fuses and means to switch off."""

from dataclasses import dataclass
from functools import cache

from sunhitch.types.basis import Basis
from sunhitch.types.wiring import Disconnect, FuseFamily, FuseOption, WiringRules
from sunhitch_service.engine.tables import table

from .citation import Group, cited, family_of, matches
from .fuses import DeviceNeed, choose, family_named, fuse_options


@dataclass(frozen=True, slots=True)
class StringFuseNeed:
    """Whether strings in parallel need a fuse each.

    Parameters
    ----------
    backfeed_a : float
        What other sources can push into a faulty string [A].
    needed : bool or None
        None where the panel's largest series fuse is not known and decides.
    why : str
        In words.
    """

    backfeed_a: float
    needed: bool | None
    why: str


def string_fuse_need(
    i_sc_a: float,
    strings_in_parallel: int,
    max_series_fuse_a: float | None,
    rules: WiringRules,
    battery_backfeed_a: float = 0.0,
) -> StringFuseNeed:
    """Whether strings in parallel need a fuse each.

    Parameters
    ----------
    i_sc_a : float
        Short-circuit current of one string [A].
    strings_in_parallel : int
        Strings in parallel.
    max_series_fuse_a : float or None
        Largest series fuse that the panel maker allows [A].
    rules : str
        Rule set: NFPA 70 counts 1.25 × Isc for each other string, IEC 62548 1 × Isc.
    battery_backfeed_a : float
        What the battery can push back [A].

    Returns
    -------
    StringFuseNeed
        Needed where the other sources exceed the panel's rating.

    References
    ----------
    NFPA 70, 690.9(A); IEC 62548, 6.5.3.
    """
    each = i_sc_a * (1.0 if family_of(rules) == "iec" else 1.25)
    backfeed = (strings_in_parallel - 1) * each + battery_backfeed_a
    pushed = f"The other sources can push {backfeed:.1f} A into a string"
    if backfeed <= 0.0:
        return StringFuseNeed(0.0, False, "A string alone has no other source to fear.")
    if max_series_fuse_a is None:
        return StringFuseNeed(
            backfeed, None, f"{pushed}; the panel's largest series fuse is not given."
        )
    if backfeed > max_series_fuse_a + 1e-9:
        return StringFuseNeed(
            backfeed, True, f"{pushed}, more than the panel's {max_series_fuse_a:g} A."
        )
    return StringFuseNeed(
        backfeed, False, f"{pushed}, not more than the panel's {max_series_fuse_a:g} A."
    )


@dataclass(frozen=True, slots=True)
class StringFuse:
    """Range and choice of a string fuse.

    Parameters
    ----------
    minimum_a, maximum_a : float
        Range [A].
    above_minimum : bool
        Whether the rating must be above the minimum, not at it.
    rating_a : float or None
        Smallest stocked size in the range; None if there is none.
    """

    minimum_a: float
    maximum_a: float
    above_minimum: bool
    rating_a: float | None


def string_fuse_rating(
    i_sc_a: float, max_series_fuse_a: float | None, rules: WiringRules
) -> StringFuse:
    """Range and stocked size of a string fuse.

    Parameters
    ----------
    i_sc_a : float
        Short-circuit current of one string [A].
    max_series_fuse_a : float or None
        Largest series fuse that the panel maker allows [A]; without it, 2.4 × Isc bounds the range.
    rules : str
        Rule set: NFPA 70 from 1.56 × Isc, IEC 62548 above 1.5 × Isc and below 2.4 × Isc.

    Returns
    -------
    StringFuse
        Range and choice.

    References
    ----------
    NFPA 70, 690.8 and 690.9(B); IEC 62548, 6.5.3.
    """
    by_iec = family_of(rules) == "iec"
    minimum = i_sc_a * (1.5 if by_iec else 1.5625)
    bounds = [2.4 * i_sc_a] if by_iec or max_series_fuse_a is None else []
    bounds += [] if max_series_fuse_a is None else [max_series_fuse_a]
    maximum = min(bounds)
    rating = family_named("pv-cylindrical").smallest_a(minimum, strict=by_iec)
    fits = rating is not None and rating <= maximum + 1e-9
    return StringFuse(minimum, maximum, by_iec, rating if fits else None)


@dataclass(frozen=True, slots=True)
class BatteryFuse:
    """Choice of a fuse at a battery.

    Parameters
    ----------
    chosen : FuseOption or None
        Family and size; the least unsuitable if none is suitable, None if no family has a size.
    options : tuple of FuseOption
        Families side by side.
    within_m : float
        Largest distance from the battery, along the conductor [m].
    """

    chosen: FuseOption | None
    options: tuple[FuseOption, ...]
    within_m: float


def battery_fuse(
    minimum_a: float,
    voltage_v: float,
    fault_current_a: float,
    rules: WiringRules,
    family: FuseFamily | None = None,
) -> BatteryFuse:
    """Fuse of a circuit that a battery feeds.

    Parameters
    ----------
    minimum_a : float
        Smallest rating that does not trip in use [A].
    voltage_v : float
        Highest voltage of the battery [V].
    fault_current_a : float
        Short-circuit current where the fuse sits [A].
    rules : str
        Rule set; it decides how close the fuse must sit.
    family : str, optional
        Family that must be used.

    Returns
    -------
    BatteryFuse
        Family, size and distance.

    References
    ----------
    NFPA 70, 110.9 and 552.10(E); 33 CFR 183.455(b).
    """
    need = DeviceNeed(
        minimum_a, False, float("inf"), voltage_v, fault_current_a, False, None, family
    )
    options = fuse_options(need)
    return BatteryFuse(choose(options, need), options, within_m(rules))


def within_m(rules: WiringRules) -> float:
    """Largest distance from a battery to its device, along the conductor [m]."""
    return float(table("wiring", "device_distance").row("rules", family_of(rules))["within_m"])


def disconnects(
    group: Group, rules: WiringRules, current_a: float, voltage_v: float
) -> list[Disconnect]:
    """Means to switch off a circuit.

    Parameters
    ----------
    group : {'pv', 'battery'}
        Kind of circuit.
    rules : str
        Rule set.
    current_a, voltage_v : float
        Ratings that it needs: current [A] and direct voltage [V].

    Returns
    -------
    list of Disconnect
        All of them open under load.

    References
    ----------
    NFPA 70, 690.13, 690.15 and 480.7; IEC 60364-7-712.
    """
    return [
        Disconnect(
            name=row["name"],
            place=row["place"],
            poles=row["poles"],
            minimum_current_a=current_a,
            minimum_voltage_v=voltage_v,
            load_break=True,
            note=row["note"],
            basis=cited_by,
        )
        for row, cited_by in _disconnect_rows(group, rules)
    ]


@cache
def _disconnect_rows(group: Group, rules: WiringRules) -> list[tuple[dict[str, str], Basis]]:
    family = family_of(rules)
    return [
        (row, cited(row, rules))
        for row in table("wiring", "disconnects").rows
        if row["group"] == group and matches(row["rules"], family)
    ]
