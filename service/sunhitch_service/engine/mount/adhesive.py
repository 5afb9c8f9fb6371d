"""Strength of a bond by duration, heat, surface and age, and stresses in a pad."""

import math
from functools import cache, lru_cache

import numpy as np

from sunhitch.types.mount import Adhesive, AdhesiveFeet, LoadDuration, RoofSurface, SpacerSheet
from sunhitch_service.engine.arrays import Floats
from sunhitch_service.engine.tables import table

from .figures import DOMAIN, figure

ROOM_C = 21.0
"""Temperature of makers' and tabled strengths [°C]."""
LASTING: tuple[LoadDuration, ...] = ("hours", "weeks", "permanent")
"""Loads under which a bond creeps, the shortest first."""


def _heat_rows(kind: str, duration: LoadDuration) -> list[dict[str, str]]:
    every = table(DOMAIN, "adhesive_temperature").rows
    own = [row for row in every if row["kind"] == f"{kind}-{duration}"]
    return own or [row for row in every if row["kind"] == kind]


@cache
def hottest_known_c(kind: str, duration: LoadDuration) -> float:
    """Bond line temperature above which nothing is known of an adhesive's strength [°C]."""
    return float(_heat_rows(kind, duration)[-1]["temperature_c"])


@lru_cache(maxsize=1024)
def heat_fraction(kind: str, temperature_c: float, duration: LoadDuration) -> float:
    """Share of the strength at 21 °C that is left; none above the table's last row.

    Parameters
    ----------
    kind : str
        Kind of adhesive.
    temperature_c : float
        Bond line [°C].
    duration : str
        Foam tape's stress for hours was found in the heat, so it has its own rows.
    """
    rows = _heat_rows(kind, duration)
    hot = [float(row["temperature_c"]) for row in rows]
    if temperature_c > hot[-1]:
        return 0.0
    return float(np.interp(temperature_c, hot, [float(row["strength_fraction"]) for row in rows]))


def between_durations(hours_pa: float, permanent_pa: float) -> float:
    """Design stress for a winter's snow [Pa], out of those for hours and for years.

    A bond under half the stress lives many times as long: time to failure over stress is straight
    where both are drawn on logarithms.

    References
    ----------
    Rupture of foam tapes under loads that last (read in the abstract of a thesis on their design
    values); how long each lasts, EN 1995-1-1, table 2.1 (read in a manual), with a day's drive.
    """
    hours, weeks, years = (figure("load_duration", one, "hours") for one in LASTING)
    share = math.log(weeks / hours) / math.log(years / hours)
    return float(hours_pa ** (1 - share) * permanent_pa**share)


def tabled_strength(kind: str, duration: LoadDuration) -> float:
    """Design stress at 21 °C on a sound surface that the table knows [Pa]."""
    if duration == "weeks":
        lasting = (figure("adhesive", kind, f"{one}_pa") for one in ("hours", "permanent"))
        return between_durations(*lasting)
    return figure("adhesive", kind, "gust_pa" if duration == "movement" else f"{duration}_pa")


def base_strength(adhesive: Adhesive, duration: LoadDuration) -> float:
    """Design stress at 21 °C on a sound surface [Pa]: the maker's, or the table's."""
    if duration == "weeks":
        hours, permanent = (base_strength(adhesive, one) for one in ("hours", "permanent"))
        return between_durations(hours, permanent)
    given = {
        "gust": adhesive.gust_strength_pa,
        "hours": adhesive.hours_strength_pa,
        "permanent": adhesive.permanent_strength_pa,
        "movement": adhesive.gust_strength_pa,
    }[duration]
    return tabled_strength(adhesive.kind, duration) if given is None else given


def surface_fraction(surface: RoofSurface | None, spacer: SpacerSheet | None) -> float:
    """Share of the adhesive's strength that the weakest of the bonded surfaces takes.

    A roof surface that is unknown or not prepared counts like the weakest that can be bonded, so
    that loads still compare; its own check then says that it is not assessed.
    """
    most = figure("spacer", spacer.material, "bond_strength_fraction") if spacer else math.inf
    return min(_roof_fraction(surface), most)


def _roof_fraction(surface: RoofSurface | None) -> float:
    weakest = figure("surface", "painted-metal-unknown", "strength_fraction")
    if surface and surface.confirmed_strength_fraction is not None:
        return surface.confirmed_strength_fraction
    if surface is None or surface.kind == "unknown":
        return weakest
    tabled = figure("surface", surface.kind, "strength_fraction")
    return tabled if surface.abraded_and_cleaned else min(tabled, weakest)


def bond_strength(
    adhesive: Adhesive, duration: LoadDuration, temperature_c: float, surface: float
) -> float:
    """Design stress of a full-grown bond in tension or shear [Pa].

    Parameters
    ----------
    adhesive : Adhesive
        Kind, and the maker's figures.
    duration : str
        How long the load acts.
    temperature_c : float
        Bond line [°C].
    surface : float
        Share that the surface takes.
    """
    wet_out = figure("adhesive", adhesive.kind, "wet_out_fraction")
    heat = heat_fraction(adhesive.kind, temperature_c, duration)
    return base_strength(adhesive, duration) * heat * surface * wet_out


def peel_strength(adhesive: Adhesive, temperature_c: float, surface: float) -> float:
    """Design line load at an edge that is peeled [N/m]."""
    given = adhesive.peel_strength_n_per_m
    tabled = figure("adhesive", adhesive.kind, "peel_n_per_m")
    heat = heat_fraction(adhesive.kind, temperature_c, "gust")
    return (tabled if given is None else given) * heat * surface


def shear_modulus(kind: str, temperature_c: float, modulus: str) -> float:
    """Shear modulus of a bond for loads that do not last [Pa].

    Parameters
    ----------
    kind : str
        Kind of adhesive.
    temperature_c : float
        Bond line [°C].
    modulus : str
        Column of the modulus at 21 °C. It falls with heat like the design stress, to a tenth at
        most: judgement.
    """
    return figure("adhesive", kind, modulus) * max(heat_fraction(kind, temperature_c, "gust"), 0.1)


def edge_stress(
    uplift_n: Floats, along_n_m: Floats, across_n_m: Floats, length_m: Floats, width_m: Floats
) -> Floats:
    """Largest tension in a rectangular pad [Pa], in its corner: F/A + 6·M/(b·l²) + 6·M/(l·b²).

    Moments are those that bend it along its length and along its width.
    """
    area = length_m * width_m
    return uplift_n / area + 6 * (along_n_m / length_m + across_n_m / width_m) / area


def pad_edge(
    mounting: AdhesiveFeet,
    pads: Floats,
    bonded_share: float,
    pull: Floats,
    along: Floats,
    across: Floats,
) -> Floats:
    """Tension at the edge of a foot's bond [Pa] out of its pull and both pushes at its top [N].

    A stud off the middle turns the pad, (…, 2) [m], about its shorter side. A thin plate peels.
    """
    length, width = pads[..., 0], pads[..., 1]
    beside, short = pull * mounting.stud_offset_m, length <= width
    turned = along * mounting.standoff_m + beside * short
    tipped = across * mounting.standoff_m + beside * ~short
    thin = mounting.base_thickness_m < figure("limit", "thin_base_m")
    factor = figure("limit", "thin_base_factor") if thin else 1.0
    return edge_stress(pull, turned, tipped, length, width) * (factor / bonded_share)
