"""Rules on what holds a panel on a roof: bonds, ratings, skin, accelerations."""

from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch.types.mount import RoofSurface

from .rule import Rule, rule

WHOLE_ROOF = statement("roof")
"""Subject of checks that concern all of the roof, whichever panel they come with."""


def surface(given: RoofSurface | None, unbondable: str, tested: bool) -> Check:
    """Whether the roof's surface can be bonded and is prepared for it.

    Parameters
    ----------
    given : RoofSurface or None
        What the caller knows.
    unbondable : str
        Why nothing holds on it; empty where an adhesive does.
    tested : bool
        Whether pull tests on this roof show what its paint bears.
    """
    if given is None or given.kind == "unknown":
        return rule("surface", WHOLE_ROOF, remedy="unknown").check("not-assessed")
    kind, confirmed = given.kind, given.confirmed_strength_fraction is not None
    subject = statement("material-named", material=kind)
    if unbondable and not confirmed:
        return rule("surface", subject, remedy="not-bondable", reason=unbondable).check("fail")
    if not given.abraded_and_cleaned:
        return rule("surface", subject, remedy="prepare").check("not-assessed")
    if kind == "painted-metal-unknown" and not (confirmed or tested):
        return rule("surface", subject, remedy="unknown-paint").check("review")
    return rule("surface", subject, remedy=()).check("pass")


def unbondable_spacer(material: str, trapped: bool) -> Check:
    """A spacer sheet that no adhesive holds on: feet or clamps trap it, or nothing holds it."""
    remedy = "trapped-spacer" if trapped else "spacer"
    return rule("surface", statement("spacer-of-material", material=material), remedy=remedy).check(
        "review" if trapped else "fail"
    )


def application_temperature(adhesive: str, application_c: float, least_c: float) -> Check:
    """Whether roof and adhesive are warm enough while bonding."""
    return rule(
        "application-temperature", statement("material-named", material=adhesive), least_c=least_c
    ).check("pass" if application_c >= least_c else "fail")


def foot_below_frame(number: int, deepest_m: float, reach_m: float, inside: int) -> Check:
    """How far inside a panel's edge a foot stands, against how far its frame reaches [m].

    Parameters
    ----------
    number : int
        The foot that stands furthest inside, counted from 1.
    deepest_m, reach_m : float
        Its middle from the nearest edge, and the furthest at which a foot meets the frame [m].
    inside : int
        Feet beyond that.
    """
    subject = statement("foot-number", number=number)
    told = rule("foot-below-frame", subject, inside=inside, reach_mm=1000.0 * reach_m)
    return told.at_most(deepest_m, reach_m)


def cure_time(rest_h: float, needed_h: float) -> Check:
    """Rest before the first drive against the time to full strength [h]."""
    return rule("cure-time", statement("bond"), needed_h=needed_h).at_least(rest_h, needed_h)


def wide_beads(widest_m: float, cured_h: float) -> Rule:
    """The rule on rest, where beads below a sheet may be too wide to cure."""
    return rule(
        "cure-time", statement("bond"), remedy="beads", widest_mm=1000.0 * widest_m, cured_h=cured_h
    )


def bond_heat(hottest_c: float, known_c: float) -> Check:
    """Hottest bond line against where the adhesive's strength is known."""
    return rule("bond-heat", statement("bond-line")).check(
        "pass" if hottest_c <= known_c else "not-assessed", hottest_c, known_c
    )


def bond_cold(coldest_c: float, known_c: float) -> Check:
    """Bond line in air colder than that for which the adhesive is made [°C]."""
    return rule("bond-heat", statement("bond-line"), remedy="cold").check(
        "not-assessed", coldest_c, known_c
    )


def bond_thickness(adhesive: str, bond_m: float, thickest_m: float) -> Check:
    """Bond line against the thickest for which the adhesive is known [m]."""
    subject = statement("material-named", material=adhesive)
    return rule("bond-thickness", subject, thickest_mm=1000.0 * thickest_m).check(
        "not-assessed", bond_m, thickest_m
    )


def roof_skin(material: str | None) -> Check:
    """A roof skin that is unknown, or for which no formula holds."""
    if material is None or material == "unknown":
        return rule("roof-skin", WHOLE_ROOF, remedy="unknown").check("not-assessed")
    return rule("roof-skin", material, remedy="no-formula").check("not-assessed")


def wood_depth(thread_m: float, least_m: float) -> Check:
    """Thread of screws in the wood against the least that counts [m]."""
    return rule("wood-depth", statement("screws"), least_mm=1000.0 * least_m).at_least(
        thread_m, least_m
    )


def wood_spacing(spacing_m: float, least_m: float) -> Check:
    """Distance between the screws of a foot against the least in wood [m]."""
    return rule("wood-spacing", statement("screws"), least_mm=1000.0 * least_m).at_least(
        spacing_m, least_m
    )


def securing(code: str, counted_m_s2: dict[str, float], least_m_s2: dict[str, float]) -> Check:
    """Accelerations counted, by direction, against the least that rules for cargo name."""
    furthest = max(counted_m_s2, key=lambda name: least_m_s2[name] / max(counted_m_s2[name], 1e-9))
    way = statement(furthest)
    return rule(code, way, least_m_s2=least_m_s2[furthest], direction=way).at_least(
        counted_m_s2[furthest], least_m_s2[furthest]
    )


def bond_gap(gap_m: float, filled_m: float, widest_m: float, waves: bool) -> Check:
    """Gap below a rigid foot on a roof that bows or waves, against what its bond fills [m]."""
    remedy = "waves" if waves else "bow"
    return rule("bond-gap", statement("pads"), remedy=remedy, widest_mm=1000.0 * widest_m).at_most(
        gap_m, filled_m
    )


def stepped_on(person_n: float, rating_n: float | None) -> Check:
    """A person's foot against the panel's rating [N], where it is known."""
    if rating_n is None:
        return rule("panel-step", statement("panel"), remedy="unknown").check("not-assessed")
    told = rule("panel-step", statement("panel"), remedy="rated", person_n=person_n)
    return told.at_most(person_n, rating_n)


def hail(expected_m: float, rating_m: float | None) -> Check:
    """Hailstones to be expected against those of the test [m], where that is known."""
    if rating_m is None:
        return rule("hail", statement("panel"), remedy="unknown").check("not-assessed")
    return rule("hail", statement("panel"), remedy="rated").at_most(expected_m, rating_m)


def tilt_interlock(interlocked: bool) -> Check:
    """Whether raised brackets cannot be forgotten before driving."""
    return rule("tilt-interlock", statement("brackets")).check("pass" if interlocked else "review")
