"""Bonds and bolts."""

from typing import Annotated, Literal

from sunhitch.types.base import Input
from sunhitch.types.check import Verdict
from sunhitch.types.mount import (
    AdhesiveKind,
    PropertyClass,
    SurfaceKind,
    ThreadSize,
)
from sunhitch.types.quantity import choice, quantity

from .texts import Remedy, WarnedAnswer

Glue = Annotated[AdhesiveKind, choice("Kind of adhesive.", "acrylic-foam-tape")]


class BondStrengthQuestion(Input, kw_only=True):
    """What a bond holds."""

    adhesive: Glue
    surface: Annotated[SurfaceKind, choice("Topmost material of the roof.", "painted-metal")]
    prepared: Annotated[
        Literal["yes", "no"], choice("Abraded, cleaned and primed as the maker says.", "yes")
    ]
    bond_c: Annotated[float, quantity("°C", -60.0, 150.0, "Bond line.", 60.0)]
    duration: Annotated[
        Literal["gust", "hours", "permanent"], choice("How long the load acts.", "gust")
    ]
    pad_length_m: Annotated[float, quantity("m", 0.01, 4.0, "Pad, one side.", 0.1)]
    pad_width_m: Annotated[float, quantity("m", 0.01, 4.0, "Pad, other side.", 0.1)]
    load_n: (
        Annotated[float, quantity("N", 0.0, 1e6, "Pull or shear on it, evenly spread.", 282.0)]
        | None
    ) = None


class QuickBondStrength(WarnedAnswer):
    """What a bond holds."""

    holding_n: Annotated[
        float, quantity("N", 0.0, 1e9, "Design load, evenly spread over the pad.", 238.0)
    ]
    strength_pa: Annotated[float, quantity("Pa", 0.0, 1e8, "Design stress.", 23_800.0)]
    surface_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Share that the surface takes.", 0.7)
    ]
    heat_fraction: Annotated[
        float, quantity("1", 0.0, 2.0, "Share that is left at this temperature.", 0.5)
    ]
    verdict: Annotated[
        Verdict, choice("Against the load; not assessed without one or on an unknown roof.", "pass")
    ]
    remedy: Remedy


class CureTimeQuestion(Input, kw_only=True):
    """How long a bond must rest before the first drive."""

    adhesive: Glue
    application_c: (
        Annotated[float, quantity("°C", -20.0, 60.0, "Roof and air while bonding.", 21.0)] | None
    ) = None
    bead_width_m: (
        Annotated[
            float,
            quantity("m", 0.002, 0.5, "Bead, or shorter side of a solid pad; not for tape.", 0.01),
        ]
        | None
    ) = None
    rested_h: Annotated[float, quantity("h", 0.0, 20_000.0, "Rest so far.", 24.0)] | None = None


class QuickCureTime(WarnedAnswer):
    """How long a bond must rest before the first drive."""

    hours_before_driving: Annotated[float, quantity("h", 0.0, 1e7, "Until full strength.", 72.0)]
    days_before_driving: Annotated[float, quantity("d", 0.0, 1e6, "The same in days.", 3.0)]
    at_c: Annotated[float, quantity("°C", -20.0, 60.0, "Temperature of that rest.", 21.0)]
    grown_fraction: Annotated[
        float, quantity("1", 0.0, 1.0, "Share of the strength after `rested_h`.", 0.9)
    ]
    least_application_c: Annotated[float, quantity("°C", -40.0, 60.0, "Do not bond below.", 15.0)]
    verdict: Annotated[Verdict, choice("Whether it may be driven after `rested_h`.", "fail")]
    remedy: Remedy


class BoltTorqueQuestion(Input, kw_only=True):
    """Tightening torque of a nut."""

    thread: Annotated[ThreadSize, choice("Thread.", "M6")]
    property_class: Annotated[PropertyClass, choice("Strength class of bolt or stud.", "A2-70")]
    largest_preload_n: (
        Annotated[
            float, quantity("N", 10.0, 1e5, "Most that what lies under the nut bears.", 1200.0)
        ]
        | None
    ) = None


class QuickBoltTorque(WarnedAnswer):
    """Tightening torque of a nut."""

    torque_n_m: Annotated[float, quantity("N·m", 0.0, 1e5, "Torque.", 8.1)]
    torque_lbf_in: Annotated[float, quantity("lbf·in", 0.0, 1e6, "The same.", 72.0)]
    torque_lbf_ft: Annotated[float, quantity("lbf·ft", 0.0, 1e5, "The same.", 6.0)]
    preload_n: Annotated[float, quantity("N", 0.0, 1e6, "Tension that it gives.", 6780.0)]
    nut_across_flats_mm: Annotated[float, quantity("mm", 1.0, 100.0, "Size of the wrench.", 10.0)]
