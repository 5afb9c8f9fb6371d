"""The overcurrent device of a circuit, its range, choice and checks; and means to switch off."""

import math

import msgspec

from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch.types.parts import part_key, rated
from sunhitch.types.wiring import Disconnect, FuseOption, Protection, SizeResult, WiringRules
from sunhitch_service.engine.circuit.devices import (
    DeviceNeed,
    chosen_option,
    device_kind,
    device_listed,
    families,
    family_named,
    fitting_families,
    fuse_options,
)
from sunhitch_service.engine.circuit.rule_figures import CONTINUOUS, STRONG_SUN, rule_figures
from sunhitch_service.engine.circuit.string_fuse import string_fuse
from sunhitch_service.engine.rules.families import Group, admits, family_of
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.rules.strings import (
    StringFuse,
    fuse_rating_check,
    reverse_current_check,
)
from sunhitch_service.engine.rules.weakest import weakest_rating
from sunhitch_service.engine.tables import table

from .case import Case
from .citation import circuit_row, cited
from .currents import others_i_sc_a


class Device(msgspec.Struct, frozen=True):
    """An overcurrent device before the conductor is known.

    Parameters
    ----------
    need : DeviceNeed
        What the circuit asks of it.
    needed : bool
        Whether the circuit needs one.
    why : str
        Reason.
    string : StringFuse or None
        Fuse of the one string behind the conductor, where panels are given.
    options : tuple of FuseOption
        Families side by side.
    chosen : FuseOption or None
        Family and size.
    rating_a : float or None
        Rating; None if no size fits.
    """

    need: DeviceNeed
    needed: bool
    why: str
    string: StringFuse | None
    options: tuple[FuseOption, ...]
    chosen: FuseOption | None
    rating_a: float | None

    @property
    def fitted(self) -> bool:
        """Whether there is one: needed, or given by the caller."""
        return self.needed or self.need.rating_a is not None


def find_device(case: Case) -> Device:
    """Whether a circuit needs a device, and which one.

    Parameters
    ----------
    case : Case
        Resolved request.

    Returns
    -------
    Device
        Need, options and choice.
    """
    request = case.request
    string = _string(case)
    minimum, above, maximum = _range(case, string)
    need = DeviceNeed(
        minimum_a=minimum,
        above_minimum=above,
        maximum_a=maximum,
        voltage_v=case.highest_v,
        fault_a=case.fault_a,
        for_pv=case.group == "pv",
        rating_a=request.fuse_rating_a,
        family=request.fuse_family,
    )
    needed, why = _needed(case, string)
    if request.fuse_needed is not None:
        needed, why = request.fuse_needed, statement("decided-for-build")
    chosen = chosen_option(need)
    rating = request.fuse_rating_a or (chosen.rating_a if chosen else None)
    return Device(need, needed, why, string, fuse_options(need), chosen, rating)


def _string(case: Case) -> StringFuse | None:
    """The string whose own lead this is; a common line that carries one string is such a lead."""
    panels, circuit = case.request.panels_behind, case.request.circuit
    if panels is None or (circuit == "pv-output" and panels.strings_in_parallel > 1):
        return None
    return string_fuse(
        panels.i_sc_a,
        others_i_sc_a(panels),
        weakest_rating([panels.max_series_fuse_a]),
        case.request.rules,
        panels.battery_backfeed_a,
        case.request.fuse_rating_a,
    )


def _range(case: Case, string: StringFuse | None) -> tuple[float, bool, float]:
    """Smallest rating, whether it must be exceeded, and the largest before the conductor's."""
    maximum_a, rules = case.currents.maximum_a, case.request.rules
    if string is None and case.request.circuit == "pv-string":
        string = string_fuse(maximum_a / STRONG_SUN, 0.0, weakest_rating([None]), rules)
    if string is not None:
        return string.minimum_a, string.above_minimum, string.maximum_a
    if case.group == "pv":
        figures, i_sc_a = rule_figures(rules), maximum_a / STRONG_SUN
        to = math.inf if figures.pv_fuse_to is None else figures.pv_fuse_to * i_sc_a
        return figures.output_fuse_from * i_sc_a, figures.above_from, to
    return (CONTINUOUS if case.request.continuous else 1.0) * maximum_a, False, math.inf


def _needed(case: Case, string: StringFuse | None) -> tuple[bool, str]:
    panels = case.request.panels_behind
    if case.group == "battery":
        return True, statement("battery-drives-more")
    if case.request.circuit == "pv-output":
        if panels is not None and panels.battery_backfeed_a > 0.0:
            return True, statement("battery-pushes-back")
        return False, statement("sized-for-panels")
    if string is None:
        return False, statement("give-panels-behind")
    if string.needed is None:
        return True, statement("fuse-is-safe", why=string.why)
    return string.needed, string.why


def device_checks(case: Case, device: Device) -> list[Check]:
    """Checks of the device that do not depend on the conductor."""
    rules, string = case.request.rules, device.string
    found: list[Check] = []
    if case.request.circuit == "pv-string" or (string is not None and string.fed):
        found.append(reverse_current_check(string, rules))
    if not device.fitted:
        return found
    found.append(_carries(case, device))
    if string is not None:
        found.append(fuse_rating_check(string, rules))
    found += _given(case, device)
    found += _ratings(case, device)
    if case.request.fuse_distance_m is not None:
        limit = within_m(rules, case.group, case.request.sheathed_to_fuse)
        told = rule("device-distance", rules=rules, group=case.group, within_m=limit)
        found.append(told.at_most(case.request.fuse_distance_m, limit))
    return found


def _carries(case: Case, device: Device) -> Check:
    rating, need = device.rating_a, device.need
    usual = [one for one in families() if one.made_for(need.for_pv)]
    usable = usual if need.family is None else [family_named(need.family)]
    reached = any(one.smallest_a(need.minimum_a, need.above_minimum) for one in usual)
    told = rule(
        "device-carries-load",
        rules=case.request.rules,
        group=case.group,
        remedy="larger" if rating is not None else "other" if reached else "split",
        minimum_a=need.minimum_a,
        family=usable[0].title,
    )
    most_a = max(one.sizes_a[-1] for one in usable) if rating is None else rating
    if rating is None or (need.above_minimum and rating <= need.minimum_a):
        return told.check("fail", need.minimum_a, most_a, need.minimum_a / most_a)
    return told.at_least(rating, need.minimum_a)


def _given(case: Case, device: Device) -> list[Check]:
    """Whether what the caller asks for exists, and is made for this kind of circuit and no larger.

    A string's own fuse is held to its range by the rule on string fuses.
    """
    asked, rating_a = case.request.fuse_family, case.request.fuse_rating_a
    listed = [] if rating_a is None else [device_listed(rating_a, device.need.for_pv, asked)]
    most_a = device.need.maximum_a
    if rating_a is not None and device.string is None and math.isfinite(most_a):
        told = rule("device-range", rules=case.request.rules, maximum_a=most_a)
        listed.append(told.at_most(rating_a, most_a))
    if asked is None:
        return listed
    return [*listed, device_kind(asked, case.request.rules, case.group)]


def _ratings(case: Case, device: Device) -> list[Check]:
    """Voltage and fault current; not of a device that is made in no size large enough."""
    chosen, need = device.chosen, device.need
    if device.rating_a is None:
        return []
    rules, group = case.request.rules, case.group
    able = fitting_families(need)
    volts = rule(
        "device-voltage",
        rules=rules,
        group=group,
        remedy="other" if able else "none",
        voltage_v=need.voltage_v,
        family=able[0] if able else "",
    )
    breaks = rule(
        "device-interrupting",
        rules=rules,
        group=group,
        remedy="other" if able else "none",
        fault_a=need.fault_a,
        families=able,
    )
    return [
        volts.at_most(need.voltage_v, None if chosen is None else chosen.voltage_rating_v),
        breaks.at_most(need.fault_a, None if chosen is None else chosen.interrupting_rating_a),
    ]


def protection_of(case: Case, device: Device, size: SizeResult) -> Protection:
    """The device with the range that the chosen conductor leaves.

    Parameters
    ----------
    case : Case
        Resolved request.
    device : Device
        Device of the circuit.
    size : SizeResult
        Chosen conductor, or the largest where none passes.

    Returns
    -------
    Protection
        Range, choice and place.
    """
    return Protection(
        needed=device.needed,
        why=device.why,
        minimum_a=device.need.minimum_a,
        maximum_a=min(size.largest_device_a, device.need.maximum_a),
        rating_a=device.rating_a,
        family=device.chosen.family if device.chosen else None,
        options=list(device.options),
        needed_voltage_v=device.need.voltage_v,
        needed_interrupting_a=device.need.fault_a,
        place=circuit_row(case.request.circuit)["place"],
        within_m=within_m(case.request.rules, case.group, case.request.sheathed_to_fuse)
        if case.group == "battery"
        else None,
        basis=rule("device-carries-load", rules=case.request.rules, group=case.group).basis.key,
    )


def within_m(rules: WiringRules, group: Group, sheathed: bool = False) -> float:
    """Largest distance from a battery, or another source, to its device along the cable [m].

    References
    ----------
    NFPA 70, 552.10(E); 33 CFR 183.455(b), 40 in where sheathed, and 183.460(a); ISO 10133.
    """
    row = table("wiring", "device_distance").row("rules", family_of(rules))
    usual = float(row[f"{group}_m"])
    return max(usual, float(row["sheathed_m"])) if sheathed else usual


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
            name=row["title"],
            place=row["place"],
            poles=row["poles"],
            minimum_current_a=current_a,
            minimum_voltage_v=voltage_v,
            load_break=True,
            note=row["note"],
            basis=cited(row, rules).key,
            part_key=part_key("disconnect", group, rated(current_a, "a")),
        )
        for row in table("wiring", "disconnects").rows
        if row["group"] == group and admits(row["rules"], family_of(rules))
    ]
