"""Laws of a shaded array that follow from each cell giving less where there is less light."""

from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loops_switch import solving
from plausible import example, operation_named

from sunhitch.types.shade import ShadedIvAnswer, ShadedIvRequest
from sunhitch_service.engine.shade.calculation import shaded_iv


@pytest.fixture(scope="module", params=[False, True], ids=["plain", "compiled"], autouse=True)
def loops(request):
    """Every law holds without the compiled loops, then with them."""
    with solving(compiled=request.param):
        yield


SLOW = settings(max_examples=25, deadline=None)
SOLVED = 1e-6
"""Share of the power to which operating points are found."""
shares = st.lists(st.floats(0.02, 1.0), min_size=4, max_size=4)
suns = st.floats(150.0, 1100.0)
cells_c = st.floats(-20.0, 80.0)
WIRINGS = (
    [[0, 1, 2, 3]],
    [[0, 2], [1, 3]],
    [[0], [1], [2], [3]],
)
wirings = st.sampled_from(WIRINGS)


def solved(
    light: list[float], strings: list[list[int]], sun: float = 900.0, cell_c: float = 45.0
) -> ShadedIvAnswer:
    """Four panels, each under its own even light."""
    body: dict[str, Any] = example(operation_named("shaded-iv"))
    names = [panel["name"] for panel in body["panels"]]
    for panel, share in zip(body["panels"], light, strict=True):
        panel["irradiance_fraction"] = share
    body |= {
        "wiring": {"strings": [[names[n] for n in string] for string in strings]},
        "sun": {"irradiance_w_m2": sun, "cell_temperature_c": cell_c},
        "shade": [],
        "compare": [],
        "detail": "summary",
    }
    return shaded_iv(msgspec.convert(body, ShadedIvRequest))


def power(answer: ShadedIvAnswer) -> float:
    return answer.maximum_power_point.power_w


@SLOW
@given(shares, wirings, st.integers(0, 3), st.floats(0.0, 1.0))
def test_more_shade_never_gives_more_power(
    light: list[float], strings: list[list[int]], dimmed: int, kept: float
) -> None:
    """At any voltage a dimmer cell lowers its string's current, and so the array's power."""
    darker = [share * kept if n == dimmed else share for n, share in enumerate(light)]
    before = power(solved(light, strings))
    assert power(solved(darker, strings)) <= before * (1.0 + SOLVED) + 1e-6


@SLOW
@given(shares, wirings, suns, suns)
def test_less_sun_never_gives_more_power(
    light: list[float], strings: list[list[int]], one: float, other: float
) -> None:
    dim, bright = (solved(light, strings, sun) for sun in sorted((one, other)))
    assert power(dim) <= power(bright) * (1.0 + SOLVED) + 1e-6
    assert dim.short_circuit_current_a <= bright.short_circuit_current_a * (1.0 + SOLVED)


@SLOW
@given(wirings, suns, cells_c, cells_c)
def test_hotter_cells_never_give_more_power_in_even_light(
    strings: list[list[int]], sun: float, one: float, other: float
) -> None:
    cold, hot = (solved([1.0] * 4, strings, sun, cell_c) for cell_c in sorted((one, other)))
    assert power(hot) <= power(cold) * (1.0 + SOLVED)
    assert hot.open_circuit_voltage_v <= cold.open_circuit_voltage_v * (1.0 + SOLVED)


@SLOW
@given(shares, wirings, suns)
def test_parts_add_up_and_nothing_beats_each_panel_alone(
    light: list[float], strings: list[list[int]], sun: float
) -> None:
    answer = solved(light, strings, sun)
    split = answer.loss_split
    spent = split.light_lost_w + split.mismatch_w + split.bypass_diodes_w
    spent += split.blocking_and_cable_w + split.delivered_w
    assert spent == pytest.approx(split.unshaded_w, rel=1e-6)
    assert split.delivered_w == pytest.approx(power(answer), rel=1e-9)
    assert power(answer) <= split.unshaded_w * (1.0 + SOLVED)
    assert sum(p.power_w for p in answer.panels) == pytest.approx(power(answer), rel=1e-6)
    assert answer.tracker.found.power_w <= power(answer) * (1.0 + SOLVED)
    powers = [point.power_w for point in answer.local_maxima]
    assert powers == sorted(powers, reverse=True)


@SLOW
@given(shares, wirings, st.permutations(range(4)))
def test_panels_that_swap_places_with_their_light_change_nothing(
    light: list[float], strings: list[list[int]], order: list[int]
) -> None:
    """Panels are alike, so only the multiset of light in each string counts."""
    moved = [light[n] for n in order]
    places = {n: place for place, n in enumerate(order)}
    renamed = [[places[n] for n in string] for string in strings]
    same = power(solved(moved, renamed))
    assert same == pytest.approx(power(solved(light, strings)), rel=SOLVED)
