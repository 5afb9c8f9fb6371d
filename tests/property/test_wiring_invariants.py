"""Laws of a circuit in its length and in what surrounds it."""

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plausible import example, operation_named

from sunhitch.types.wiring import LadderResult, WireSizingAnswer, WireSizingRequest
from sunhitch_service.engine.wiring.calculation import wire_sizing

MANY = settings(max_examples=60, deadline=None)
lengths = st.floats(0.5, 30.0)
rules = st.sampled_from(["nec-2017", "nec-2020", "nec-2023", "iec"])


def sized(
    rule: str, length_m: float, conductors: int = 2, ambient_c: float = 30.0
) -> WireSizingAnswer:
    body = example(operation_named("wire-sizing"))
    body |= {"rules": rule, "length_m": length_m, "ambient_c": ambient_c}
    body["runs"] = [{"where": "raceway", "current_carrying_conductors": conductors}]
    return wire_sizing(msgspec.convert(body, WireSizingRequest))


def both(answer: WireSizingAnswer) -> tuple[LadderResult, LadderResult]:
    return answer.awg, answer.metric


def never_smaller(easy: WireSizingAnswer, hard: WireSizingAnswer) -> None:
    """What satisfies the harder case satisfies the easier one."""
    for light, heavy in zip(both(easy), both(hard), strict=True):
        if heavy.chosen is not None:
            assert light.chosen is not None
            assert light.chosen.area_mm2 <= heavy.chosen.area_mm2


@MANY
@given(rules, lengths, lengths)
def test_a_longer_way_never_needs_a_smaller_conductor(rule: str, one: float, other: float) -> None:
    short, long = sorted((one, other))
    near, far = sized(rule, short), sized(rule, long)
    never_smaller(near, far)
    for light, heavy in zip(both(near), both(far), strict=True):
        if light.chosen and heavy.chosen and light.chosen.area_mm2 == heavy.chosen.area_mm2:
            assert light.chosen.drop_v <= heavy.chosen.drop_v * (1.0 + 1e-12)
            ratio = heavy.chosen.drop_v / light.chosen.drop_v
            assert ratio == pytest.approx(long / short, rel=0.05)


@MANY
@given(rules, st.integers(1, 40), st.integers(1, 40))
def test_more_conductors_side_by_side_never_need_a_smaller_one(
    rule: str, one: int, other: int
) -> None:
    few, many = sorted((one, other))
    never_smaller(sized(rule, 2.0, few), sized(rule, 2.0, many))


@MANY
@given(rules, st.floats(-20.0, 70.0), st.floats(-20.0, 70.0))
def test_hotter_air_never_needs_a_smaller_conductor(rule: str, one: float, other: float) -> None:
    cool, hot = sorted((one, other))
    never_smaller(sized(rule, 2.0, 2, cool), sized(rule, 2.0, 2, hot))


@MANY
@given(
    rules,
    st.sampled_from(["free-air", "bundled", "raceway", "on-roof", "insulated-wall"]),
    st.sampled_from([0.04, 0.08, 0.16, 0.32, 0.64]),
    st.lists(st.sampled_from([20.0, 30.0, 50.0]), min_size=2, max_size=2),
)
def test_a_stretch_told_in_two_parts_is_the_same_stretch(
    rule: str, where: str, length_m: float, air_c: list[float]
) -> None:
    """Told in halves it is judged the same, and the half in the hotter air governs.

    Heat cannot leave a cable where one part in insulation ends and the next begins.
    """
    run = {"where": where, "current_carrying_conductors": 4, "length_m": length_m}
    half = run | {"length_m": length_m / 2.0}
    cool, hot = sorted(air_c)
    whole = with_runs(rule, [run | {"ambient_c": hot}])
    halves = with_runs(rule, [half | {"ambient_c": hot}, half | {"ambient_c": hot}])
    assert halves.checks == whole.checks
    mixed = with_runs(rule, [half | {"ambient_c": cool}, half | {"ambient_c": hot}])
    assert mixed.checks == whole.checks
    apart = with_runs(rule, [half, {"where": "free-air", "length_m": 0.1}, half])
    never_smaller(apart, with_runs(rule, [run]))


def with_runs(rule: str, runs: list[dict[str, object]]) -> WireSizingAnswer:
    body = example(operation_named("wire-sizing"))
    body |= {"rules": rule, "length_m": 5.0, "runs": runs}
    return wire_sizing(msgspec.convert(body, WireSizingRequest))
