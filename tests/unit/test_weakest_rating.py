"""A known limit that is exceeded fails, whatever else is unknown; else the unknown decides."""

import itertools

import msgspec
import pytest
from array_builders import check_of, controller, panels, plate, request

from sunhitch.types.array import Arrangement
from sunhitch.types.check import Check
from sunhitch.types.shade import ShadedIvRequest
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.circuit.string_fuse import (
    string_fuse,
)
from sunhitch_service.engine.rules.strings import fuse_rating_check, reverse_current_check
from sunhitch_service.engine.rules.weakest import weakest_rating
from sunhitch_service.engine.shade.calculation import shaded_iv

RATINGS = (None, 5.0, 10.0, 15.0)


@pytest.mark.parametrize("ratings", list(itertools.product(RATINGS, repeat=3)))
@pytest.mark.parametrize("demand", [4.0, 7.0, 12.0, 20.0])
def test_decided_only_where_every_value_of_the_unknown_decides_alike(
    ratings: tuple[float | None, ...], demand: float
) -> None:
    """Each unknown rating may turn out tiny or huge; one decides where that changes nothing."""
    outcomes = {
        all(demand <= (guess if rating is None else rating) for rating in ratings)
        for guess in (1e-3, 1e9)
    }
    found = weakest_rating(ratings).against(demand)
    assert (found is None) == (len(outcomes) == 2)
    if found is not None:
        assert {demand <= found} == outcomes


UNKNOWN = {"max_system_voltage_v": None, "max_series_fuse_a": None}


def _mixed(known: dict[str, float], *strings: str) -> Arrangement:
    """Strings of panels with ratings (`r`) and without (`b`)."""
    groups = [
        panels("r", "".join(strings).count("r"), plate(**known)),
        panels("b", "".join(strings).count("b"), {**plate(), **UNKNOWN}),
    ]
    wide = [controller(max_input_voltage_v=250.0)]
    answer = array_configuration(request(groups, controllers=wide))
    for one in answer.arrangements:
        found = ["".join(sorted(p[0] for p in s.panels)) for s in one.arrays[0].strings]
        if sorted(found) == sorted(strings):
            return one
    raise AssertionError(f"no arrangement with strings of {strings}")


@pytest.mark.parametrize(("rating_v", "verdict"), [(50.0, "fail"), (60.0, "not-assessed")])
def test_system_voltage_of_a_partly_known_string(rating_v: float, verdict: str) -> None:
    """Two sheets at −18 °C: 2 × 22.9 V × (1 + 0.0028 × 43) = 51.3 V."""
    found = check_of(_mixed({"max_system_voltage_v": rating_v}, "br"), "system-voltage")
    assert (found.verdict, found.demand) == (verdict, pytest.approx(51.314, abs=0.01))
    assert found.capacity == (rating_v if verdict == "fail" else None)


def test_a_string_that_fails_is_not_hidden_by_one_that_is_unknown() -> None:
    arranged = _mixed({"max_system_voltage_v": 50.0}, "bb", "rr")
    assert check_of(arranged, "system-voltage").verdict == "fail"


def _in_light(rating_v: float) -> Check:
    names = {"rated": rating_v, "bare": None}
    body = {
        "panels": [
            {
                "name": name,
                "panel": {
                    "electrical": {**plate(), "max_system_voltage_v": rating},
                    "construction": "half-cell-2-diodes",
                },
            }
            for name, rating in names.items()
        ],
        "wiring": {"strings": [list(names)]},
        "sun": {"irradiance_w_m2": 1000.0, "cell_temperature_c": 25.0},
    }
    checks = shaded_iv(msgspec.convert(body, ShadedIvRequest)).checks
    return next(c for c in checks if c.code == "system-voltage-in-light")


@pytest.mark.parametrize(("rating_v", "verdict"), [(40.0, "fail"), (60.0, "not-assessed")])
def test_system_voltage_in_light_of_a_partly_known_string(rating_v: float, verdict: str) -> None:
    """Two sheets give 45.8 V."""
    assert _in_light(rating_v).verdict == verdict


@pytest.mark.parametrize(
    ("own_a", "others_a", "known_a", "reverse", "rating"),
    [
        (6.4, 6.4, 15.0, "not-assessed", "not-assessed"),  # 8 A pushed, nothing known exceeded
        (6.4, 19.2, 15.0, "review", "not-assessed"),  # 24 A pushed: 10 A fits what is known
        (14.0, 28.0, 15.0, "fail", "fail"),  # 35 A pushed, and 21.9 A needed
        (14.0, 4.0, 20.0, "not-assessed", "not-assessed"),  # 5 A pushed: maybe no fuse at all
    ],
)
def test_string_fuse_of_a_partly_known_string(
    own_a: float, others_a: float, known_a: float, reverse: str, rating: str
) -> None:
    found = string_fuse(own_a, others_a, weakest_rating([known_a, None]), "nec-2023")
    assert reverse_current_check(found, "nec-2023").verdict == reverse
    assert fuse_rating_check(found, "nec-2023").verdict == rating
    assert found.stocked_a is None or found.stocked_a <= known_a


@pytest.mark.parametrize(("rating_a", "verdict"), [(15.0, "review"), (20.0, "not-assessed")])
def test_reverse_current_in_an_array_of_partly_known_strings(rating_a: float, verdict: str) -> None:
    """Three strings push 2 × 1.25 × 6.4 A = 16 A into each other."""
    arranged = _mixed({"max_series_fuse_a": rating_a}, "br", "br", "br")
    assert check_of(arranged, "string-reverse-current").verdict == verdict
    assert check_of(arranged, "string-fuse-rating").verdict == "not-assessed"
    assert {s.fuse_a for s in arranged.arrays[0].strings} == {10.0}
