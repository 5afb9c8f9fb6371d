"""The string fuse: what the other sources push into a string, and which fuse it gets.

Decided here and nowhere else; every calculation asks `string_fuse`.
"""

from sunhitch.types.panel import PanelElectrical
from sunhitch.types.wiring import WiringRules
from sunhitch_service.engine.rules.limits import limit
from sunhitch_service.engine.rules.strings import ROUNDING_A, StringFuse
from sunhitch_service.engine.rules.weakest import WeakestRating

from .devices import pv_fuse
from .rule_figures import STRONG_SUN, rule_figures


def string_fuse(
    i_sc_a: float,
    others_i_sc_a: float,
    series_fuse: WeakestRating,
    rules: WiringRules,
    backfeed_a: float = 0.0,
    given_a: float | None = None,
) -> StringFuse:
    """Decide on the fuse of one string.

    Parameters
    ----------
    i_sc_a : float
        Short-circuit current of the string [A]; see `string_i_sc_a`.
    others_i_sc_a : float
        Sum of those of all other strings on the same terminals, equal or not [A].
    series_fuse : WeakestRating
        Largest series fuse of its panels [A].
    rules : str
        Rule set: NFPA 70 counts 1.25 × Isc of each other string, IEC 62548 1 × Isc.
    backfeed_a : float
        What the battery can push back through the controller [A].
    given_a : float or None
        Fuse at hand [A].

    Returns
    -------
    StringFuse
        Needed where the other sources exceed the panels' largest series fuse. Its range starts at
        1.56 × Isc (NFPA 70), or above 1.5 × Isc (IEC); it ends at the panels' largest series fuse,
        under IEC and where none is known at 2.4 × Isc.

    References
    ----------
    NFPA 70, 690.8, 690.9(A) and (B); IEC 62548, 6.5.3.
    """
    figures = rule_figures(rules)
    reverse = max(0.0, figures.pushed_factor * others_i_sc_a + backfeed_a)
    series_fuse_a = series_fuse.against(reverse)
    needed: bool | None = False
    if reverse > ROUNDING_A:
        needed = None if series_fuse_a is None else reverse > series_fuse_a + ROUNDING_A
    minimum = figures.string_fuse_from * i_sc_a
    to = figures.pv_fuse_to or (
        rule_figures("iec").pv_fuse_to if series_fuse.known is None else None
    )
    bounds = [bound for bound in (series_fuse.known, None if to is None else to * i_sc_a) if bound]
    maximum = min(bounds)
    found = pv_fuse(minimum, figures.above_from)
    size = found and found[1]
    fits = size is not None and size <= maximum + ROUNDING_A
    # What the known ones forbid fails; what they allow an unknown one may forbid.
    decided = series_fuse.complete or (needed and not fits)
    return StringFuse(
        reverse_a=reverse,
        series_fuse_a=series_fuse_a,
        fuse_limit_a=series_fuse.known if decided else None,
        needed=needed,
        minimum_a=minimum,
        maximum_a=maximum,
        above_minimum=figures.above_from,
        stocked_a=size if fits else None,
        given_a=given_a,
    )


def string_i_sc_a(plates: list[PanelElectrical], strongest_w_m2: float) -> float:
    """Short-circuit current that a string of unequal panels counts with: the largest [A].

    See `counted_i_sc_a`.

    In a fault the strongest panel drives, and its current passes the weaker ones through their
    bypass diodes. Without diodes a weaker panel holds the current near its own, but shunts and
    breakdown may let more pass, which no nameplate tells; so the largest counts there too.

    Parameters
    ----------
    plates : list of PanelElectrical
        Nameplates of its panels.
    strongest_w_m2 : float
        Strongest sun that is asked about [W/m²].
    """
    return max(
        counted_i_sc_a(plate.i_sc_a, plate.bifaciality_fraction, strongest_w_m2) for plate in plates
    )


def counted_i_sc_a(
    i_sc_a: float, bifaciality_fraction: float | None, strongest_w_m2: float | None
) -> float:
    """Short-circuit current of a panel that the rules' factor for strong sun applies to [A].

    See `counted_light`; the nameplate's current is for light on the front alone.
    """
    return counted_light(bifaciality_fraction, strongest_w_m2) * i_sc_a


def counted_light(bifaciality_fraction: float | None, strongest_w_m2: float | None) -> float:
    """Light that the rules' factor for strong sun applies to, over that of the nameplate [1].

    Parameters
    ----------
    bifaciality_fraction : float or None
        Isc of the back over that of the front; None for a panel that uses one side [1].
    strongest_w_m2 : float or None
        Strongest light on the front; the factor covers 1250 W/m², beyond that this grows.

    References
    ----------
    IEC 61215-1:2021 and IEC TS 60904-1-2 on 135 W/m² at the back, from memory. NFPA 70,
    690.8(A)(1): 1.25 × Isc in this light; IEC 62548: Isc,max = Ki × Isc with Ki of 1.25 or more.
    """
    back = limit("rear-light") / 1000.0 * (bifaciality_fraction or 0.0)
    beyond = (strongest_w_m2 or 0.0) / (1000.0 * STRONG_SUN)
    return max(1.0, beyond) * (1.0 + back)
