"""Families of fuses and breakers, and which one fits a circuit."""

import math
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import cast

import msgspec

from sunhitch.grouping import grouped
from sunhitch.texts import Text, statement
from sunhitch.types.basis import Basis
from sunhitch.types.check import Check
from sunhitch.types.wiring import DeviceKind, FuseFamily, FuseOption, WiringRules
from sunhitch_service.engine.rules.families import Group
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import cell_text, table

_REMEMBERED = 256
"""Needs kept at hand; a circuit keeps its own while its length, air or conductor changes."""


@dataclass(frozen=True, slots=True)
class DeviceFamily:
    """A family of fuses or breakers.

    Parameters
    ----------
    name, title : str
        Code and words.
    device : {'fuse', 'breaker'}
        What it is.
    for_pv, for_battery : bool
        Whether it is made for photovoltaic circuits, and for the post of a battery.
    sizes_a : tuple of float
        Stocked sizes [A], rising.
    steps : tuple of (float, float)
        Direct voltage up to which an interrupting rating holds [V], and the rating [A].
    source : Basis
        Where the figures come from.
    """

    name: FuseFamily
    title: Text
    device: DeviceKind
    for_pv: bool
    for_battery: bool
    sizes_a: tuple[float, ...]
    steps: tuple[tuple[float, float], ...]
    source: Basis

    @property
    def voltage_v(self) -> float:
        """Rated direct voltage [V]."""
        return self.steps[-1][0]

    def interrupting_a(self, voltage_v: float) -> float:
        """Fault current that it breaks at a voltage [A]; that of its rated voltage above it."""
        return next((amps for volts, amps in self.steps if voltage_v <= volts), self.steps[-1][1])

    def made_for(self, pv: bool) -> bool:
        """Whether it is made for photovoltaic circuits, or else for batteries."""
        return self.for_pv if pv else self.for_battery

    def smallest_a(self, minimum_a: float, strict: bool) -> float | None:
        """Smallest size at or above a minimum, or above it if `strict`; None if there is none."""
        for size in self.sizes_a:
            if size > minimum_a + 1e-9 or (not strict and size >= minimum_a - 1e-9):
                return size
        return None


@cache
def families() -> tuple[DeviceFamily, ...]:
    """All families, the plainest first."""
    rows = grouped((row["family"], row) for row in table("circuit", "fuse_families").rows)
    return tuple(_family(found) for found in rows.values())


def family_named(name: FuseFamily) -> DeviceFamily:
    """A family by its code."""
    return next(family for family in families() if family.name == name)


def device_listed(
    rating_a: float, for_pv: bool, family: FuseFamily | None, subject: str = ""
) -> Check:
    """Whether a device of a rating that is given exists; the next ratings where none does [A]."""
    able = [family_named(family)] if family else [f for f in families() if f.made_for(for_pv)]
    sizes = sorted({size for each in able for size in each.sizes_a})
    near = [size for size in sizes if size < rating_a][-1:]
    near += [size for size in sizes if size > rating_a][:1]
    kind = statement("pv-fuse-or-breaker") if for_pv else statement("battery-fuse-or-breaker")
    return rule(
        "device-listed",
        subject,
        family=able[0].title if family else kind,
        rating_a=rating_a,
        near=statement("rating", rating_a=near[0])
        if len(near) == 1
        else statement("either-rating", smaller_a=near[0], larger_a=near[1]),
    ).check("pass" if rating_a in sizes else "fail", rating_a)


def device_kind(family: FuseFamily, rules: WiringRules, group: Group, subject: str = "") -> Check:
    """Whether a family that is given is made for a kind of circuit."""
    pv = group == "pv"
    usual: list[str] = [one.title for one in families() if one.made_for(pv)]
    told = rule("device-kind", subject, rules=rules, group=group, families=usual)
    return told.check("pass" if family_named(family).made_for(pv) else "fail")


@cache
def pv_fuse(minimum_a: float, strict: bool) -> tuple[DeviceFamily, float] | None:
    """Smallest photovoltaic fuse at or above a minimum [A], or above it if `strict`."""
    sizes = [
        (family, size)
        for family in families()
        if family.for_pv and family.device == "fuse"
        if (size := family.smallest_a(minimum_a, strict)) is not None
    ]
    return min(sizes, key=lambda each: each[1], default=None)


def _family(rows: list[dict[str, str]]) -> DeviceFamily:
    first = rows[0]
    return DeviceFamily(
        name=cast("FuseFamily", first["family"]),
        title=cell_text(first, "title"),
        device=cast("DeviceKind", first["device"]),
        for_pv=first["for_pv"] == "yes",
        for_battery=first["for_battery"] == "yes",
        sizes_a=tuple(float(size) for size in first["sizes_a"].split()),
        steps=tuple((float(row["to_voltage_v"]), float(row["interrupting_a"])) for row in rows),
        source=basis("practice", f"{first['title']}: usual ratings", cell_text(first, "row_note")),
    )


class DeviceNeed(msgspec.Struct, frozen=True):
    """What a circuit asks of its fuse.

    Parameters
    ----------
    minimum_a : float
        Smallest rating that does not trip in use [A].
    above_minimum : bool
        Whether the rating must be above it, not at it.
    maximum_a : float
        Largest rating that rules other than the conductor admit [A].
    voltage_v : float
        Highest voltage [V].
    fault_a : float
        Fault current to break [A].
    for_pv : bool
        Whether it sits in a photovoltaic circuit.
    rating_a : float, optional
        Rating that is given [A].
    family : str, optional
        Family that is given.
    """

    minimum_a: float
    above_minimum: bool
    maximum_a: float
    voltage_v: float
    fault_a: float
    for_pv: bool
    rating_a: float | None = None
    family: FuseFamily | None = None


@lru_cache(maxsize=_REMEMBERED)
def fuse_options(need: DeviceNeed) -> tuple[FuseOption, ...]:
    """The family that is given, else every one, judged: those made for other circuits last."""
    listed = sorted(families(), key=lambda family: not family.made_for(need.for_pv))
    return tuple(_option(each, need) for each in listed if need.family in (None, each.name))


def fitting_families(need: DeviceNeed) -> list[str]:
    """Families with a size that fits a circuit in words, whatever family or rating is given."""
    free = msgspec.structs.replace(need, maximum_a=math.inf, rating_a=None, family=None)
    return [option.title for option in fuse_options(free) if option.suitable]


def _option(family: DeviceFamily, need: DeviceNeed) -> FuseOption:
    rating = need.rating_a if need.rating_a in family.sizes_a else None
    if need.rating_a is None:
        rating = family.smallest_a(need.minimum_a, need.above_minimum)
    why = _obstacle(family, need, rating)
    return FuseOption(
        family=family.name,
        device=family.device,
        title=family.title,
        rating_a=rating,
        voltage_rating_v=family.voltage_v,
        interrupting_rating_a=family.interrupting_a(need.voltage_v),
        suitable=not why,
        why=why or statement("fuse-fits"),
        basis=family.source.key,
    )


def _obstacle(family: DeviceFamily, need: DeviceNeed, rating_a: float | None) -> str:
    breaks = family.interrupting_a(need.voltage_v)
    if not family.made_for(need.for_pv):
        return statement("made-for-batteries" if need.for_pv else "made-for-strings")
    if rating_a is None:
        given, last = need.rating_a, family.sizes_a[-1]
        return (
            statement("fuse-ends-at", last_a=last)
            if given is None
            else statement("not-stocked", rating_a=given)
        )
    if rating_a > need.maximum_a + 1e-9:
        return statement("smallest-fitting-above", smallest_a=rating_a, most_a=need.maximum_a)
    if need.voltage_v > family.voltage_v:
        return statement("rated-below-circuit", rated_v=family.voltage_v, circuit_v=need.voltage_v)
    if need.fault_a > breaks:
        return statement("breaks-too-little", breaks_a=breaks, fault_a=need.fault_a)
    return ""


@lru_cache(maxsize=_REMEMBERED)
def chosen_option(need: DeviceNeed) -> FuseOption | None:
    """Suitable option with the smallest rating; among equals a fuse, and the one that breaks least.

    Parameters
    ----------
    need : DeviceNeed
        What the circuit asks.

    Returns
    -------
    FuseOption or None
        If none is suitable, the smallest that bears voltage and fault, else the one that breaks
        most, so that the answer can say what is missing; None if no family has a size at all.
    """
    sized = [
        option
        for option in fuse_options(need)
        if option.rating_a is not None
        and (need.family or family_named(option.family).made_for(need.for_pv))
    ]
    best = [option for option in sized if option.suitable] or [
        option
        for option in sized
        if option.voltage_rating_v >= need.voltage_v
        and option.interrupting_rating_a >= need.fault_a
    ]
    if not best:
        return max(sized, key=lambda o: o.interrupting_rating_a, default=None)
    return min(
        best, key=lambda o: (o.rating_a or 0.0, o.device == "breaker", o.interrupting_rating_a)
    )
