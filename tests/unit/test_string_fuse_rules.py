"""What threatens a string and which fuse it gets, judged on either side of each bound."""

import pytest

from sunhitch_service.engine.circuit.rule_figures import CONTINUOUS, STRONG_SUN, rule_figures
from sunhitch_service.engine.circuit.string_fuse import counted_i_sc_a, string_fuse
from sunhitch_service.engine.rules.rule import rule
from sunhitch_service.engine.rules.strings import (
    StringFuse,
    fuse_rating_check,
    reverse_current_check,
)
from sunhitch_service.engine.rules.weakest import WeakestRating, weakest_rating

NEC, IEC = "nec-2023", "iec"


def of(i_sc_a, others_a, series_a, rules=NEC, **more):
    return string_fuse(i_sc_a, others_a, weakest_rating([series_a]), rules, **more)


@pytest.mark.parametrize(
    ("rules", "figures"),
    [
        # 690.8(A)(1) 1.25 twice, 690.9(A); IEC 62548, 6.5.3: 1.5 to 2.4 × Isc
        *((edition, (1.25, 1.5625, 1.5625, False, None)) for edition in
          ("nec-2017", "nec-2020", "nec-2023", "us-33-cfr-183")),
        ("iec", (1.0, 1.5, 1.25, True, 2.4)),
    ],
)  # fmt: skip
def test_figures_of_each_rule_family(rules, figures):
    assert (STRONG_SUN, CONTINUOUS) == (1.25, 1.25)  # and 210.19(A)(1) for three hours on load
    found = rule_figures(rules)
    assert (
        found.pushed_factor,
        found.string_fuse_from,
        found.output_fuse_from,
        found.above_from,
        found.pv_fuse_to,
    ) == figures


@pytest.mark.parametrize(
    ("rules", "others_a", "backfeed_a", "needed"),
    [
        (NEC, 12.0, 0.0, False),  # 1.25 × 12 = 15 A against 15 A
        (NEC, 12.01, 0.0, True),
        (NEC, 4.0, 10.0, False),  # 5 + 10 A: the battery counts once, without a factor
        (NEC, 4.0, 10.1, True),
        (IEC, 15.0, 0.0, False),
        (IEC, 15.1, 0.0, True),
        (IEC, 10.0, 5.1, True),
        (NEC, 0.0, 0.0, False),
    ],
)
def test_a_fuse_is_needed_beyond_the_panels_series_fuse(rules, others_a, backfeed_a, needed):
    found = of(8.0, others_a, 15.0, rules, backfeed_a=backfeed_a)
    pushed = (1.0 if rules == IEC else 1.25) * others_a + backfeed_a
    assert (found.needed, found.reverse_a) == (needed, pytest.approx(pushed))
    assert found.fed is (pushed > 0.0)
    assert found.why.code == (
        "string-alone" if not pushed else "pushed-more" if needed else "pushed-less"
    )
    judged = reverse_current_check(found, rules)
    assert judged.verdict == ("review" if needed else "pass")
    assert (judged.demand, judged.capacity) == (pytest.approx(pushed), 15.0)
    assert judged.utilisation_fraction == pytest.approx(pushed / 15.0)
    assert found.rating_a == (15.0 if needed else None)


@pytest.mark.parametrize(
    ("rules", "i_sc_a", "series_a", "minimum_a", "maximum_a", "stocked_a"),
    [
        (NEC, 9.6, 20.0, 15.0, 20.0, 15.0),  # 1.5625 × 9.6 = 15 A: a rating at it will do
        (NEC, 9.61, 20.0, 15.015625, 20.0, 16.0),
        (NEC, 9.6, 15.0, 15.0, 15.0, 15.0),  # the range is one size wide
        (NEC, 9.6, 14.0, 15.0, 14.0, None),
        (NEC, 8.0, 14.0, 12.5, 14.0, None),  # the next size is 15 A
        (NEC, 8.0, None, 12.5, 19.2, 15.0),  # unknown: at most 2.4 × Isc
        (NEC, 0.4, None, 0.625, 0.96, None),
        (IEC, 10.0, 20.0, 15.0, 20.0, 16.0),  # 1.5 × 10 = 15 A: a rating must lie above
        (IEC, 9.99, 20.0, 14.985, 20.0, 15.0),
        (IEC, 10.0, 30.0, 15.0, 24.0, 16.0),  # 2.4 × 10 A below the panels' 30 A
        (IEC, 0.7, 15.0, 1.05, 1.68, None),
        (IEC, 10.0, None, 15.0, 24.0, 16.0),
    ],
)
def test_the_range_of_a_string_fuse(rules, i_sc_a, series_a, minimum_a, maximum_a, stocked_a):
    found = of(i_sc_a, 50.0, series_a, rules)
    assert (found.minimum_a, found.maximum_a) == pytest.approx((minimum_a, maximum_a))
    assert (found.stocked_a, found.above_minimum) == (stocked_a, rules == IEC)
    if series_a is None:
        assert (found.needed, found.rating_a) == (None, stocked_a)
        assert found.why.code == "pushed-unknown"
    else:
        assert (found.needed, found.rating_a) == (True, stocked_a)
        assert found.why.code == "pushed-more"


@pytest.mark.parametrize(
    ("above", "bears"), [(False, [False, True, True]), (True, [False, False, True])]
)
def test_a_rating_at_the_minimum_bears_strong_sun_or_must_lie_above(above, bears):
    found = StringFuse(20.0, 15.0, 15.0, True, 12.0, 15.0, above, 15.0)
    assert [found.bears_sun(rating) for rating in (11.99, 12.0, 12.01)] == bears


def test_reverse_current_of_what_is_not_known():
    """Nothing known of the others, of the panels, of a string alone, of one that no fuse saves."""
    for found, verdict, remedies in [
        (None, "not-assessed", ["unknown-string"]),
        (of(8.0, 16.0, None), "not-assessed", ["unknown-rating"]),
        (of(8.0, 0.0, None), "pass", []),
        (of(8.0, 16.0, 14.0), "fail", ["none-fits"]),
        (of(8.0, 16.0, 15.0), "review", ["fuse"]),
        (of(8.0, 8.0, 14.0), "pass", []),
    ]:
        judged = reverse_current_check(found, NEC)
        assert judged.verdict == verdict
        assert judged.remedies == [f"string-reverse-current.{name}" for name in remedies]
        assert judged.demand == (found and pytest.approx(found.reverse_a))
    assert of(8.0, 0.0, None).rating_a is None
    assert reverse_current_check(of(8.0, 16.0, 15.0), NEC).parameters["rating_a"] == 15.0


def test_blocking_diodes_change_the_basis_and_nothing_else():
    found = of(8.0, 16.0, 15.0)
    plain, with_diodes = (
        reverse_current_check(found, NEC, blocking_diodes=diodes) for diodes in (False, True)
    )
    assert plain.verdict == with_diodes.verdict
    assert plain.basis != with_diodes.basis
    assert reverse_current_check(found, NEC).basis == plain.basis
    assert plain.basis == rule("string-reverse-current", rules=NEC).basis.key


@pytest.mark.parametrize(
    ("found", "verdict", "demand", "capacity", "used", "remedy"),
    [
        # 12.5 to 15 A: the stocked 15 A, a fuse at hand on either side
        (of(8.0, 16.0, 15.0), "pass", 15.0, 15.0, 1.0, None),
        (of(8.0, 16.0, 15.0, given_a=12.5), "pass", 12.5, 15.0, 12.5 / 15.0, None),
        (of(8.0, 16.0, 15.0, given_a=12.0), "fail", 12.5, 12.0, 12.5 / 12.0, "other"),
        (of(8.0, 16.0, 15.0, given_a=20.0), "fail", 20.0, 15.0, 20.0 / 15.0, "other"),
        # no size between 12.5 and 14 A, and a range that is none
        (of(8.0, 16.0, 14.0), "fail", 12.5, 14.0, None, "none-between"),
        (of(9.6, 16.0, 14.0), "fail", 15.0, 14.0, 15.0 / 14.0, "none-between"),
        (of(10.0, 30.0, 15.0, IEC), "fail", 15.0, 15.0, None, "none-between"),
        (of(8.0, 16.0, 14.0, given_a=12.0), "fail", 12.5, 12.0, 12.5 / 12.0, "none-between"),
        # the panels' series fuse is unknown: too small is too small, the rest is not known
        (of(8.0, 16.0, None), "not-assessed", 15.0, None, None, "unknown-rating"),
        (of(0.4, 16.0, None), "not-assessed", 0.625, None, None, "unknown-rating"),
        (of(8.0, 16.0, None, given_a=12.0), "fail", 12.5, 12.0, 12.5 / 12.0, "other"),
        # IEC 62548: 15 A is not above 1.5 × 10 A
        (of(10.0, 30.0, 20.0, IEC, given_a=15.0), "fail", 15.0, 15.0, 1.0, "other"),
        (of(10.0, 30.0, 20.0, IEC, given_a=16.0), "pass", 16.0, 20.0, 0.8, None),
    ],
)  # fmt: skip
def test_the_fuse_of_a_string(found, verdict, demand, capacity, used, remedy):
    judged = fuse_rating_check(found, NEC)
    assert (judged.verdict, judged.demand, judged.capacity) == (verdict, demand, capacity)
    assert judged.utilisation_fraction == (used and pytest.approx(used))
    assert judged.remedies == ([f"string-fuse-rating.{remedy}"] if remedy else [])
    told = {"minimum_a": found.minimum_a, "maximum_a": found.maximum_a}
    if remedy == "other":
        assert judged.parameters == told | {"stocked_a": found.stocked_a}
    if remedy == "none-between":
        assert judged.parameters == told


def test_a_fuse_at_hand_is_fitted_where_one_is_needed():
    assert of(8.0, 16.0, 15.0, given_a=12.5).rating_a == 12.5
    assert of(8.0, 8.0, 15.0, given_a=12.5).rating_a is None
    assert of(8.0, 16.0, None, given_a=12.5).rating_a == 12.5


@pytest.mark.parametrize(
    ("ratings", "limit_a"),
    [
        ([15.0, 20.0], 15.0),
        ([14.0, None], 14.0),  # 12.5 A and more: no size within the known 14 A
        ([15.0, None], None),  # 15 A may be too much for the other one
    ],
)
def test_an_unknown_panel_decides_only_what_the_known_ones_allow(ratings, limit_a):
    found = string_fuse(8.0, 16.0, weakest_rating(ratings), NEC)
    assert (found.needed, found.fuse_limit_a) == (True, limit_a)


def test_a_string_at_rest_with_unknown_panels_fails_no_limit():
    """Nothing pushes into it: what is known forbids nothing, though no size fits."""
    found = string_fuse(8.0, 0.0, weakest_rating([14.0, None]), NEC)
    assert (found.needed, found.stocked_a, found.fuse_limit_a) == (False, None, None)


def test_a_rating_at_its_limit_decides_within_rounding():
    """A demand at the known rating is no excess: the unknown one may still be exceeded."""
    known = WeakestRating(15.0, complete=False)
    assert known.against(15.0 * (1.0 + 1e-12)) is None
    assert known.against(15.0 * (1.0 + 1e-6)) == 15.0
    assert known.against(14.0) is None
    assert WeakestRating(15.0, complete=True).against(14.0) == 15.0
    assert WeakestRating(None, complete=False).against(99.0) is None


@pytest.mark.parametrize(
    ("bifaciality", "sun", "factor"),
    [
        (None, None, 1.0),
        (None, 1250.0, 1.0),  # what the factor of 1.25 covers
        (None, 1000.0, 1.0),
        (None, 1500.0, 1.2),
        (0.8, None, 1.108),  # 135 W/m² on a back that turns four fifths of it into current
        (0.8, 1500.0, 1.2 * 1.108),
    ],
)
def test_light_beyond_what_the_nameplate_counts(bifaciality, sun, factor):
    """IEC 61215-1:2021: 135 W/m² on the back, from memory."""
    assert counted_i_sc_a(10.0, bifaciality, sun) == pytest.approx(10.0 * factor)
