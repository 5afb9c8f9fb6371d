"""Bonds and bolts."""

import math

from sunhitch import units
from sunhitch.types.basis import Basis
from sunhitch.types.check import Verdict
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
from sunhitch_service.engine.checks import Rule, at_most
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.mount.adhesive import (
    bond_strength,
    heat_fraction,
    surface_fraction,
)
from sunhitch_service.engine.mount.cure import Curing
from sunhitch_service.engine.mount.fasteners import proof_load, thread_source, torque
from sunhitch_service.engine.mount.figures import choose, figure, row, table_basis
from sunhitch_service.engine.sources import basis

from .question import Question, assumed, cited, warned

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
    verdict, remedy = _bond_verdict(asked, holding, share)
    notes = Assumptions()
    if asked.surface == "unknown":
        notes.note("/surface", "painted-metal-unknown", "The weakest that can be bonded.")
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


def _bond_verdict(
    asked: BondStrengthQuestion, holding_n: float, share: float
) -> tuple[Verdict, str]:
    if share == 0.0:
        reason = row("surface", asked.surface)["reason"]
        return "fail", f"Nothing holds on it: {reason}. Fasten mechanically."
    if holding_n == 0.0:
        return "fail", "No strength is credited at this temperature: keep the bond line cooler."
    if asked.surface == "unknown":
        return "not-assessed", "Find out what the roof is made of and coated with."
    if asked.load_n is None:
        return "not-assessed", "Give load_n to have it judged."
    used = asked.load_n / holding_n
    told = f"Bond {math.ceil(used * 10.0) / 10.0:g} times the area, or add feet."
    rule = Rule("bond-tension", "Load against the design load", "N", table_basis("adhesive"), told)
    judged = at_most(rule, asked.load_n, holding_n, figure("limit", "review_above"))
    if judged.verdict == "review":
        return "review", "Less than a fifth in reserve: use larger pads or more feet."
    return judged.verdict, judged.remedy


def time_to_cure(asked: CureTimeQuestion) -> QuickCureTime:
    """Time to full strength: wetting of a tape, or moisture that creeps into a bead."""
    notes = Assumptions()
    joined = choose(notes, "/application_c", asked.application_c, "travel_default", "application_c")
    rested = notes.choose("/rested_h", asked.rested_h, 0.0, "Just bonded.")
    bond = _curing(asked, joined)
    least = figure("adhesive", asked.adhesive, "least_application_c")
    verdict, remedy = _cure_verdict(bond.full_h, rested, joined, least)
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
        "Tape needs no moisture: leave it out.",
    )
    if not tape and asked.bead_width_m is None:
        faults.add("/bead_width_m", "Moisture cures it from its edges: give the width of the bead.")
    faults.raise_any()
    return Curing(asked.adhesive, application_c, (asked.bead_width_m or 0.0) / 2.0)


def _cure_verdict(
    full_h: float, rested_h: float, joined_c: float, least_c: float
) -> tuple[Verdict, str]:
    if joined_c < least_c:
        return "fail", f"Too cold to bond: warm roof and air to {least_c:g} °C or more."
    if rested_h < full_h:
        return "fail", f"Do not drive for another {math.ceil(full_h - rested_h)} h."
    return "pass", ""


def _cure_basis(kind: str) -> tuple[Basis, ...]:
    if kind == _TAPE:
        return (table_basis("bond_age"),)
    told = "3.5 mm after a day at 23 °C and 50 % humidity, then by the square root; from memory"
    return (basis("practice", told),)


def torque_of_nut(asked: BoltTorqueQuestion) -> QuickBoltTorque:
    """Torque to three quarters of the proof load, or to what the joint bears."""
    notes = Assumptions()
    proof = figure("limit", "preload_of_proof") * proof_load(asked.thread, asked.property_class)
    told = (
        "Three quarters of the proof load: metal on metal. A laminate, a thin skin or a core "
        "bears far less."
    )
    preload = min(proof, notes.choose("/largest_preload_n", asked.largest_preload_n, proof, told))
    factor = figure("property_class", asked.property_class, "nut_factor")
    turned = torque(factor, figure("thread", asked.thread, "diameter_mm"), preload)
    pounds_feet = units.to_feet(units.to_pounds_force(turned))
    return QuickBoltTorque(
        torque_n_m=turned,
        torque_lbf_in=pounds_feet * _INCHES_PER_FOOT,
        torque_lbf_ft=pounds_feet,
        preload_n=preload,
        nut_across_flats_mm=figure("thread", asked.thread, "nut_across_flats_mm"),
        assumed=assumed(notes.listed()),
        basis=cited(
            basis("torque-tension", "", "Torque scatters by a third around its mean."),
            basis(thread_source(asked.property_class), "proof loads"),
        ),
        caution=warned(cautions("road-safety", "judgement")),
    )


FIXINGS = (
    Question(
        "bond-strength",
        "What does a glued pad hold?",
        "Design load of a full-grown bond by adhesive, surface, temperature and duration, evenly "
        "spread; peel at a pad's edge is for mount-check.",
        BondStrengthQuestion,
        QuickBondStrength,
        strength_of_bond,
    ),
    Question(
        "cure-time",
        "When may it be driven?",
        "Rest until a bond has its full strength, and how much it has grown so far.",
        CureTimeQuestion,
        QuickCureTime,
        time_to_cure,
    ),
    Question(
        "bolt-torque",
        "How tight?",
        "Tightening torque and spanner of a nut, to three quarters of the proof load or to what "
        "the joint bears.",
        BoltTorqueQuestion,
        QuickBoltTorque,
        torque_of_nut,
    ),
)
"""Questions about bonds and bolts."""
