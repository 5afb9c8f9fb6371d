"""Bonds and bolts."""

from functools import partial

from sunhitch import units
from sunhitch.texts import statement
from sunhitch.texts.templates import Parameter
from sunhitch.types.basis import Basis
from sunhitch.types.check import VERDICTS, Check, Verdict
from sunhitch.types.mount import (
    Adhesive,
    LoadDuration,
    RoofSurface,
)
from sunhitch.types.quick.fixings import (
    BoltTorqueQuestion,
    BondStrengthQuestion,
    CureTimeQuestion,
    QuickBoltTorque,
    QuickBondStrength,
    QuickCureTime,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.mount.adhesive import (
    bond_strength,
    heat_fraction,
    hottest_known_c,
    surface_fraction,
)
from sunhitch_service.engine.mount.cure import (
    MOISTURE_C,
    MOISTURE_FRACTION,
    MOISTURE_M,
    TWICE_AS_LONG_K,
    Curing,
    rest_checks,
)
from sunhitch_service.engine.mount.fasteners import thread_source, torque, usual_preload
from sunhitch_service.engine.mount.figures import choose, figure, table_basis
from sunhitch_service.engine.mount.modes import ModeResult
from sunhitch_service.engine.mount.remedies import feet, pads
from sunhitch_service.engine.mount.static_checks import unbondable
from sunhitch_service.engine.rules import mount as rules
from sunhitch_service.engine.sources import basis

from .words import assumed, cited, warned

_TAPE = "acrylic-foam-tape"
_INCHES_PER_FOOT = 12.0


def strength_of_bond(asked: BondStrengthQuestion) -> QuickBondStrength:
    """Design load of a full-grown bond in tension or shear."""
    duration: LoadDuration = asked.duration
    adhesive = Adhesive(kind=asked.adhesive)
    surface = RoofSurface(kind=asked.surface, abraded_and_cleaned=asked.prepared == "yes")
    share = surface_fraction(surface, None)
    stress = bond_strength(adhesive, duration, asked.bond_c, share)
    holding = stress * asked.pad_length_m * asked.pad_width_m
    verdict, remedy = _told(_bond_checks(asked, surface, stress))
    if asked.load_n is None and verdict in ("pass", "review"):
        verdict, remedy = "not-assessed", statement("give-to-judge", field="load_n")
    notes = Assumptions()
    if asked.surface == "unknown":
        notes.note("/surface", "painted-metal-unknown", statement("weakest-bondable"))
    return QuickBondStrength(
        holding_n=holding,
        strength_pa=stress,
        surface_fraction=share,
        heat_fraction=heat_fraction(asked.adhesive, asked.bond_c, duration),
        verdict=verdict,
        remedy=remedy,
        assumed=assumed(notes.listed()),
        basis=cited(*map(table_basis, ("adhesive", "adhesive_temperature", "surface"))),
        caution=warned(cautions("glued-mount", "adhesive-cure", "road-safety")),
    )


def _bond_checks(
    asked: BondStrengthQuestion, surface: RoofSurface, stress_pa: float
) -> list[Check]:
    """What the mount check says of a bond."""
    checks = [rules.surface(surface, unbondable(surface), tested=False)]
    if asked.duration == "permanent":
        known = hottest_known_c(asked.adhesive, asked.duration)
        checks.append(rules.bond_heat(asked.bond_c, known))
    made_for = figure("adhesive", asked.adhesive, "least_service_c")
    if asked.bond_c < made_for:
        checks.append(rules.bond_cold(asked.bond_c, made_for))
    if asked.load_n is not None:
        load_pa = asked.load_n / (asked.pad_length_m * asked.pad_width_m)
        pull = ModeResult("bond-tension", "any", "", "pad", load_pa, stress_pa, False)
        checks.append(pull.check(partial(_larger, asked)))
    return checks


def _larger(asked: BondStrengthQuestion, times: float) -> dict[str, Parameter]:
    """Pads that would hold, one of them or several."""
    found = pads(asked.pad_length_m, asked.pad_width_m, times)
    return {"pads": found, "feet": feet(1, times), "feet_now": 1.0}


def _told(checks: list[Check]) -> tuple[Verdict, str]:
    """Worst verdict and what to change."""
    worst = max(checks, key=lambda one: VERDICTS.index(one.verdict))
    return worst.verdict, worst.remedy


def time_to_cure(asked: CureTimeQuestion) -> QuickCureTime:
    """Time to full strength: wetting of a tape, or moisture that creeps into a bead."""
    notes = Assumptions()
    joined = choose(notes, "/application_c", asked.application_c, "travel_default", "application_c")
    rested = notes.choose("/rested_h", asked.rested_h, 0.0, statement("just-bonded"))
    bond = _curing(asked, joined)
    least = figure("adhesive", asked.adhesive, "least_application_c")
    verdict, remedy = _told(
        [
            rules.application_temperature(asked.adhesive, joined, least),
            *rest_checks(bond, rested),
        ]
    )
    return QuickCureTime(
        hours_before_driving=bond.full_h,
        days_before_driving=bond.full_h / 24.0,
        at_c=bond.at_c,
        grown_fraction=bond.share(rested),
        least_application_c=least,
        verdict=verdict,
        remedy=remedy,
        assumed=assumed(notes.listed()),
        basis=cited(*_cure_basis(asked.adhesive)),
        caution=warned(cautions("adhesive-cure", "road-safety")),
    )


def _curing(asked: CureTimeQuestion, application_c: float) -> Curing:
    faults = Faults()
    tape = asked.adhesive == _TAPE
    faults.add_if(
        tape and asked.bead_width_m is not None,
        "/bead_width_m",
        "tape-needs-no-moisture",
    )
    if not tape and asked.bead_width_m is None:
        faults.add("/bead_width_m", "moisture-needs-bead")
    faults.raise_any()
    return Curing(asked.adhesive, application_c, (asked.bead_width_m or 0.0) / 2.0)


def _cure_basis(kind: str) -> tuple[Basis, ...]:
    if kind == _TAPE:
        return (table_basis("bond_age"),)
    told = (
        f"{1000 * MOISTURE_M:g} mm after a day at {MOISTURE_C:g} °C and "
        f"{100 * MOISTURE_FRACTION:g} % humidity, then by the square root; twice the time for "
        f"every {TWICE_AS_LONG_K:g} K below; from memory"
    )
    return (basis("practice", told),)


def torque_of_nut(asked: BoltTorqueQuestion) -> QuickBoltTorque:
    """Torque to three quarters of the proof load, or to what the joint bears."""
    notes = Assumptions()
    usual = usual_preload(asked.thread, asked.property_class)
    told = statement("three-quarters-of-proof")
    preload = min(usual, notes.choose("/largest_preload_n", asked.largest_preload_n, usual, told))
    turned = torque(asked.thread, asked.property_class, preload)
    pounds_feet = units.to_feet(units.to_pounds_force(turned))
    return QuickBoltTorque(
        torque_n_m=turned,
        torque_lbf_in=pounds_feet * _INCHES_PER_FOOT,
        torque_lbf_ft=pounds_feet,
        preload_n=preload,
        nut_across_flats_mm=figure("thread", asked.thread, "nut_across_flats_mm"),
        assumed=assumed(notes.listed()),
        basis=cited(
            basis("torque-tension", "", statement("torque-scatters")),
            basis(thread_source(asked.property_class), "proof loads"),
        ),
        caution=warned(cautions("road-safety", "judgement")),
    )
