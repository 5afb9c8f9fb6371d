"""What must hold for every array configuration."""

from functools import cache
from pathlib import Path
from typing import Any

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st

import sunhitch
from sunhitch.types.array import ArrayConfigurationAnswer, ArrayConfigurationRequest
from sunhitch.types.check import VERDICTS
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.array.enumeration import (
    Partitions,
    StringOption,
    is_leading_mirror,
    mirrored_count,
    slots,
)
from sunhitch_service.engine.array.ranking import SAME_FRACTION

EXAMPLE = Path(sunhitch.__file__).parent / "examples" / "array-configuration.json"
SLOW = settings(max_examples=25, deadline=None)


@cache
def _body() -> dict[str, Any]:
    decoded: dict[str, Any] = msgspec.json.decode(EXAMPLE.read_bytes())
    return decoded


def _answer(**changes: Any) -> ArrayConfigurationAnswer:
    body = _body() | {"most_arrangements": 200, "leave_out_at_most": 1} | changes
    return array_configuration(msgspec.convert(body, ArrayConfigurationRequest))


def _without_places(count: int, **electrical: float) -> dict[str, Any]:
    group = _body()["panels"][0]
    panel = group["panel"] | {"electrical": group["panel"]["electrical"] | electrical}
    return {
        "panels": [{"name": "sheet", "panel": panel, "count": count}],
        "layout": None,
        "shade": [],
    }


counts = st.lists(st.integers(1, 2), min_size=1, max_size=3).map(tuple)


@SLOW
@given(counts, st.integers(0, 2))
def test_every_pattern_is_listed_once_and_uses_what_there_is(
    panels: tuple[int, ...], leave_out: int
) -> None:
    """The count is that of the list, and no pattern repeats or takes too many panels."""
    leave_out = min(leave_out, sum(panels) - 1)
    partitions = Partitions(slots(panels, 1, lambda _: True), panels, leave_out)
    listed = list(partitions)
    assert len(listed) == len(set(listed)) == partitions.count()
    for pattern in listed:
        used = [sum(slot.counts[k] for slot in pattern) for k in range(len(panels))]
        assert all(u <= n for u, n in zip(used, panels, strict=True))
        assert sum(panels) - sum(used) <= leave_out


@SLOW
@given(counts, st.integers(0, 1))
def test_two_identical_controllers_count_each_mirrored_pair_once(
    panels: tuple[int, ...], leave_out: int
) -> None:
    """Half of all patterns and of those that mirror themselves."""
    leave_out = min(leave_out, sum(panels) - 1)
    both = slots(panels, 2, lambda _: True)
    partitions = Partitions(both, panels, leave_out)
    leading = [p for p in partitions if is_leading_mirror(p)]
    swapped = {tuple(sorted(StringOption(1 - s.controller, s.counts) for s in p)) for p in leading}
    assert swapped | set(leading) == set(partitions)
    own = [s for s in both if s.controller == 0]
    assert len(leading) == (partitions.count() + mirrored_count(own, panels, leave_out)) / 2


@SLOW
@given(st.integers(1, 6), st.floats(-40.0, 20.0), st.floats(0.0, 20.0))
def test_no_arrangement_that_fails_in_the_cold_passes_where_it_is_colder(
    count: int, cold: float, kelvin: float
) -> None:
    """Cold Voc only rises with falling temperature."""
    group = _without_places(count)
    site = _body()["site"]
    warm = _answer(**group, site=site | {"lowest_ambient_c": cold})
    icy = _answer(**group, site=site | {"lowest_ambient_c": max(-60.0, cold - kelvin)})
    verdicts = {a.name: _cold(a.checks) for a in icy.arrangements}
    for one in warm.arrangements:
        if one.name in verdicts:
            assert VERDICTS.index(verdicts[one.name]) >= VERDICTS.index(_cold(one.checks))
    assert icy.passing <= warm.passing


def _cold(checks: list[Any]) -> Any:
    return next(check.verdict for check in checks if check.code == "cold-voc-controller")


@SLOW
@given(
    st.lists(st.floats(0.0, 1.0), min_size=4, max_size=4),
    st.floats(0.05, 1.0),
    st.floats(100.0, 1200.0),
)
def test_power_is_bounded_and_every_panel_has_one_place(
    fractions: list[float], weight: float, sun: float
) -> None:
    """No more than the panels give one by one; wired and unused panels are all there, once."""
    names = _body()["panels"][0]["instances"]
    shade = [
        {
            "name": "cloud",
            "weight_fraction": weight,
            "irradiance_w_m2": sun,
            "cell_temperature_c": 40.0,
            "light": [
                {"panel": n, "irradiance_fraction": f}
                for n, f in zip(names, fractions, strict=True)
            ],
        }
    ]
    for one in _answer(shade=shade).arrangements:
        wired = [p for a in one.arrays for s in a.strings for p in s.panels]
        assert sorted(wired + one.leftover) == sorted(names)
        for state in (one.sun, *one.shade):
            assert 0.0 <= state.charging_power_w <= state.panel_power_w + 1e-9
            assert state.panel_power_w <= state.available_w * (1.0 + SAME_FRACTION / 2) + 1e-9
        least = min(one.sun.charging_power_w, one.shade[0].charging_power_w)
        most = max(one.sun.charging_power_w, one.shade[0].charging_power_w)
        assert least - 1e-9 <= one.weighted_power_w <= most + 1e-9


@SLOW
@given(st.permutations(range(4)))
def test_the_order_in_which_panels_are_named_changes_nothing(order: list[int]) -> None:
    """Best power and the strings behind it do not depend on the order of names."""
    group = _body()["panels"][0]
    names = [group["instances"][n] for n in order]
    best = _answer(panels=[group | {"instances": names}]).arrangements[0]
    same = _answer().arrangements[0]
    assert abs(best.weighted_power_w - same.weighted_power_w) < 1e-6 * same.weighted_power_w
    assert _strings(best) == _strings(same)


def _strings(one: Any) -> set[frozenset[str]]:
    return {frozenset(s.panels) for a in one.arrays for s in a.strings}


@SLOW
@given(st.floats(5.0, 60.0), st.floats(0.1, 20.0))
def test_a_larger_controller_never_charges_less(rating: float, more: float) -> None:
    """Same arrangement, higher current rating."""
    feed = _body()["controllers"][0]
    small = _answer(controllers=[feed | {"max_output_current_a": rating}])
    large = _answer(controllers=[feed | {"max_output_current_a": rating + more}])
    powers = {_key(one): one.weighted_power_w for one in large.arrangements}
    for one in small.arrangements:
        if _key(one) in powers:
            assert powers[_key(one)] >= one.weighted_power_w - 1e-9


def _key(one: Any) -> frozenset[frozenset[str]]:
    return frozenset(_strings(one))
