"""Power of arrangements against the exact solver of single arrays."""

import random
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from array_builders import controller, panels, plate, request

from sunhitch.types.array import Arrangement, ArrayConfigurationRequest
from sunhitch.types.shade import ArrayPanel, ArrayWiring, ShadedIvRequest, Sun
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.array.ranking import SAME_FRACTION
from sunhitch_service.engine.array.solve import drawn_powers, roughly_drawn_powers
from sunhitch_service.engine.controller.settings import InputWindow
from sunhitch_service.engine.pv.curve import CurveSet
from sunhitch_service.engine.shade.calculation import shaded_iv

NARROW = plate(p_mp_w=100.0, v_mp_v=18.0, i_mp_a=5.56, v_oc_v=22.0, i_sc_a=5.95, cells_in_series=36)


def _asked(seed: int) -> ArrayConfigurationRequest:
    rng = random.Random(seed)
    grid = [[rng.choice([1.0, 0.4, 0.15]) for _ in range(36)] for _ in range(2)]
    light: list[dict[str, Any]] = [
        {"panel": "wide-1", "irradiance_fraction": grid},
        {"panel": "narrow-2", "irradiance_fraction": rng.uniform(0.2, 1.0)},
    ]
    state = {
        "name": "branches",
        "weight_fraction": 0.5,
        "irradiance_w_m2": 850.0,
        "cell_temperature_c": 48.0,
        "light": light,
    }
    return request(
        [panels("wide", 2, plate()), panels("narrow", 2, NARROW)],
        controllers=[controller(max_output_current_a=200.0, efficiency_fraction=1.0)],
        shade=[state],
    )


def _exact(asked: ArrayConfigurationRequest, one: Arrangement) -> tuple[float, float]:
    """Power and voltage of the maximum by Newton's method on the cell network."""
    state = asked.shade[0]
    light = {entry.panel: entry.irradiance_fraction for entry in state.light}
    kinds = {f"{g.name}-{n}": g.panel for g in asked.panels for n in range(1, g.count + 1)}
    used = [list(s.panels) for s in one.arrays[0].strings]
    answer = shaded_iv(
        ShadedIvRequest(
            panels=[
                ArrayPanel(name=n, panel=kinds[n], irradiance_fraction=light.get(n, 1.0))
                for string in used
                for n in string
            ],
            wiring=ArrayWiring(strings=used),
            sun=Sun(
                irradiance_w_m2=state.irradiance_w_m2,
                cell_temperature_c=state.cell_temperature_c,
            ),
        )
    )
    return answer.maximum_power_point.power_w, answer.maximum_power_point.voltage_v


@pytest.mark.parametrize("seed", range(3))
def test_power_in_shade_is_that_of_the_cell_level_solver(seed: int) -> None:
    """Within half of what ranking takes as equal, where the maximum is inside the window."""
    asked = _asked(seed)
    answer = array_configuration(asked)
    compared = 0
    for one in answer.arrangements:
        power, volts = _exact(asked, one)
        if volts > 14.4 + 1.5:
            assert one.shade[0].panel_power_w == pytest.approx(power, rel=SAME_FRACTION / 2), (
                one.name
            )
            compared += 1
        else:
            assert one.shade[0].panel_power_w <= power * (1.0 + SAME_FRACTION / 2)
    assert compared >= 4


def test_each_panel_alone_is_the_most_that_any_arrangement_can_give() -> None:
    """Sharing can only lose."""
    for one in array_configuration(_asked(7)).arrangements:
        for state in (one.sun, *one.shade):
            assert state.panel_power_w <= state.available_w * (1.0 + 1e-6)
            assert state.charging_power_w <= state.panel_power_w * (1.0 + 1e-9)


def test_equal_panels_in_equal_light_lose_nothing_by_sharing() -> None:
    """Whatever the number of equal strings."""
    answer = array_configuration(request([panels("wide", 4, plate())]))
    equal = [
        o for o in answer.arrangements if len({len(s.panels) for s in o.arrays[0].strings}) == 1
    ]
    assert len(equal) >= 3
    for one in equal:
        assert one.mismatch_fraction == pytest.approx(0.0, abs=1e-4)


def test_weights_are_shares_of_time() -> None:
    """Half the time in full sun, half in shade."""
    one = array_configuration(_asked(1)).arrangements[0]
    assert one.sun.weight_fraction == pytest.approx(0.5)
    mean = 0.5 * one.sun.charging_power_w + 0.5 * one.shade[0].charging_power_w
    assert one.weighted_power_w == pytest.approx(mean)


def test_a_dark_state_gives_nothing_and_breaks_nothing() -> None:
    """All panels covered."""
    names = [f"wide-{n}" for n in (1, 2)]
    state = {
        "name": "tarpaulin",
        "weight_fraction": 0.5,
        "irradiance_w_m2": 900.0,
        "cell_temperature_c": 30.0,
        "light": [{"panel": n, "irradiance_fraction": 0.0} for n in names],
    }
    one = array_configuration(request([panels("wide", 2, plate())], shade=[state])).arrangements[0]
    assert one.shade[0].charging_power_w == 0.0
    assert one.sun.charging_power_w > 150.0


@pytest.mark.parametrize("cell_c", [-60.0, 130.0])
def test_the_weakest_sun_that_may_be_asked_about_gives_something(cell_c: float) -> None:
    """1 W/m² on the hottest and on the coldest cells, also behind a controller that draws none."""
    found = array_configuration(
        request(
            [panels("wide", 2, plate())],
            controllers=[controller(kind="pwm")],
            sun={"irradiance_w_m2": 1.0, "cell_temperature_c": cell_c},
        )
    )
    for one in found.arrangements:
        assert 0.0 < one.sun.available_w < 1.0
        lost = {c.code: c.demand for c in one.checks}["pwm-loss"]
        assert lost is not None
        assert 0.0 <= lost <= 1.0
        assert 0.0 <= one.mismatch_fraction < 0.01


def test_like_light_is_put_in_one_string() -> None:
    """Two shaded and two bright panels: the two shaded ones share a string."""
    state = {
        "name": "wall",
        "weight_fraction": 0.8,
        "irradiance_w_m2": 900.0,
        "cell_temperature_c": 40.0,
        "light": [{"panel": f"wide-{n}", "irradiance_fraction": 0.5} for n in (1, 3)],
    }
    answer = array_configuration(request([panels("wide", 4, plate())], shade=[state]))
    pairs = [
        {frozenset(s.panels) for s in one.arrays[0].strings}
        for one in answer.arrangements
        if [len(s.panels) for s in one.arrays[0].strings] == [2, 2]
    ]
    assert pairs[0] == {frozenset({"wide-1", "wide-3"}), frozenset({"wide-2", "wide-4"})}


def test_swapping_single_panels_finds_like_light_where_types_alone_are_enumerated() -> None:
    """Nine panels, each in its own light: bright with bright and dark with dark wins."""
    state = {
        "name": "mast",
        "weight_fraction": 1.0,
        "irradiance_w_m2": 900.0,
        "cell_temperature_c": 40.0,
        "light": [
            {"panel": f"wide-{n}", "irradiance_fraction": 1.0 - 0.05 * ((7 * n) % 10)}
            for n in range(1, 10)
        ],
    }
    asked = request([panels("wide", 9, plate())], shade=[state])
    answer = array_configuration(asked)
    assert not answer.complete
    best = answer.arrangements[0]
    fraction = {entry.panel: entry.irradiance_fraction for entry in asked.shade[0].light}
    ranges = [
        (min(fraction[p] for p in s.panels), max(fraction[p] for p in s.panels))
        for s in best.arrays[0].strings
    ]
    ordered = sorted(ranges)
    assert all(low[1] <= high[0] for low, high in pairwise(ordered))


class BendingPanel:
    """I = Isc·(1 − (V/Voc)^n): voltage at a current and maximum are known in closed form."""

    def __init__(self, seed: int) -> None:
        rng = random.Random(seed)
        self.bend = rng.uniform(8.0, 20.0)
        self.pairs = [(rng.uniform(3.0, 12.0), rng.uniform(18.0, 48.0)) for _ in range(4)]
        self.share = rng.uniform(0.6, 0.85)
        i, open_v = np.array(self.pairs).T[:, :, None]
        v = np.linspace(0.3, 1.02, 400) * open_v
        rise = i * self.bend / open_v * (v / open_v) ** (self.bend - 1.0)
        self.curves = CurveSet(v, i * ((v / open_v) ** self.bend - 1.0), rise)

    @property
    def maximum_v(self) -> float:
        """dP/dV = 0 of the first."""
        return float(self.pairs[0][1] * (self.bend + 1.0) ** (-1.0 / self.bend))

    def power(self, volts: float, strings: int = 1) -> float:
        """Of the first, or of several of it in parallel [W]; nothing where current flows back."""
        i_sc, v_oc = self.pairs[0]
        return max(0.0, strings * volts * i_sc * (1.0 - (volts / v_oc) ** self.bend))

    def at_current(self, amperes: float) -> float:
        """Power of the first at a current [W]."""
        i_sc, v_oc = self.pairs[0]
        return float(amperes * v_oc * (1.0 - amperes / i_sc) ** (1.0 / self.bend))


@pytest.mark.parametrize("seed", range(6))
def test_where_a_controller_admits_less_current_the_array_works_at_that_current(seed: int) -> None:
    """Of all arrays at once and of one by itself."""
    panel = BendingPanel(seed)
    i_sc, _ = panel.pairs[0]
    limit_a = 2 * i_sc * panel.share
    window = InputWindow(5.0, 6.0, limit_a, False)
    expected = 2.0 * panel.at_current(limit_a / 2.0)
    asked = ((0,), (0,))
    others = [((k,),) for k in range(1, 4)]
    for arrays in ([asked], [asked, *others]):
        found = drawn_powers([panel.curves], arrays, window, window)
        assert found.drawn[0, 0] == pytest.approx(expected, rel=1e-5)
        assert found.unlimited[0, 0] > expected


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("admitted", [0.2, 0.5, 0.8, 0.97, 5.0])
def test_thousands_are_compared_by_powers_within_a_thousandth(seed: int, admitted: float) -> None:
    """Whatever current, of the share of Isc, the controller admits: below n/(n + 1) it decides."""
    panel = BendingPanel(seed)
    i_sc, _ = panel.pairs[0]
    limit_a = admitted * i_sc
    freely = admitted > panel.bend / (panel.bend + 1.0)
    expected = panel.power(panel.maximum_v) if freely else panel.at_current(limit_a)
    window = InputWindow(3.0, 4.0, limit_a, False)
    (rough,) = roughly_drawn_powers([panel.curves], [((0,),)], window)[0]
    (exact,) = drawn_powers([panel.curves], [((0,),)], window, window).drawn[0]
    assert rough == pytest.approx(expected, rel=1e-3)
    assert exact == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("fixed", [False, True])
@pytest.mark.parametrize("times", [0.5, 0.999, 1.05, 1.3, 2.0])
def test_an_array_gives_nothing_where_it_does_not_reach_the_window(
    fixed: bool, times: float
) -> None:
    """A window from some multiple of the voltage of the maximum on; Voc is 1.14 to 1.32 times."""
    panel = BendingPanel(4)
    low = times * panel.maximum_v
    window = InputWindow(low, low, np.inf, fixed)
    best = low if fixed else max(low, panel.maximum_v)
    (rough,) = roughly_drawn_powers([panel.curves], [((0,),)], window)[0]
    found = drawn_powers([panel.curves], [((0,),)], window, window)
    for power, within in ((rough, 1e-3), (found.drawn[0, 0], 1e-6), (found.full[0], 1e-6)):
        assert power == pytest.approx(panel.power(best), rel=within, abs=0.0)
    assert (found.drawn[0, 0] == 0.0) == (low > panel.pairs[0][1])
