"""Every stated uncertainty against a Monte Carlo run (JCGM 101:2008) of what it is made of.

Samples run with the suite; whole runs by

    python tests/agreement/test_stated_uncertainty.py --count 400

Invented years have a run of their own, `typical_years.py`; probabilities of causes are counted by
`simulated_arrays.py`.
"""

import argparse

import numpy as np
import pytest
from numpy.typing import NDArray
from simulated_arrays import built, reported

from sunhitch.types.harvest import (
    HarvestArray,
    HarvestRequest,
    HarvestUncertainty,
    HourlyWeather,
    ParkedHeading,
    Parking,
    Wall,
)
from sunhitch.types.panel import Panel, PanelBody, PanelElectrical, PanelType
from sunhitch.types.place import Place
from sunhitch.types.roof import PlacedPanel, Roof, RoofRectangle
from sunhitch.types.shade import ArrayWiring
from sunhitch.types.system import Battery, Controller
from sunhitch_service.engine.commissioning.evidence import covariance, figures_of
from sunhitch_service.engine.commissioning.follow_up import robust_trend
from sunhitch_service.engine.commissioning.practice import figure
from sunhitch_service.engine.commissioning.setup import settle
from sunhitch_service.engine.harvest.calculation import harvest
from sunhitch_service.engine.mount.pull_tests import tolerance_factor

Array = NDArray[np.float64]
LIGHT, SHADE, MODEL, PASSES = 0.06, 0.25, 0.04, 0.5
GHI = [60.0, 180.0, 330.0, 480.0, 590.0, 640.0, 620.0, 540.0, 410.0, 260.0, 120.0, 30.0]


def figures_off(count: int) -> tuple[Array, Array]:
    """Sound arrays: figures in standard uncertainties, and misfits of a day per figure."""
    off: list[float] = []
    misfits: list[float] = []
    for seed in range(count):
        draw = np.random.default_rng([seed, 2027])
        inspection = settle(reported(built(draw, (1, 1), draw.uniform(700.0, 1050.0))))
        taken = range(len(inspection.request.readings))
        listed = [f for k in taken for f in figures_of(inspection, k)]
        dust = np.log1p(-figure("dust"))
        apart = np.array([np.log(f.measured / f.expected) - f.by_light * dust for f in listed])
        off += (apart / [f.share() for f in listed]).tolist()
        own = [k for k, f in enumerate(listed) if f.quantity != "power"]
        inverse = np.linalg.inv(covariance(inspection, [listed[k] for k in own]))
        misfits.append(float(apart[own] @ inverse @ apart[own]) / len(own))
    return np.array(off), np.array(misfits)


def trends(count: int) -> float:
    """Share of 95 % intervals of a yearly loss that hold the true one."""
    held = 0
    for seed in range(count):
        draw = np.random.default_rng([seed, 68])
        years = np.sort(draw.uniform(0.0, 6.0, 12))
        years -= years[0]
        found = robust_trend(years, 0.98 * (1.0 - 0.01 * years) + draw.normal(0.0, 0.01, 12))
        held += found.low <= 0.01 <= found.high
    return held / count


def pulls(count: int) -> float:
    """Share of samples of five whose lower bound is met by 95 % of all, at 75 % confidence."""
    samples = np.random.default_rng(16269).standard_normal((count, 5))
    bounds = samples.mean(axis=1) - tolerance_factor(5, 0.95, 0.75) * samples.std(axis=1, ddof=1)
    return float(np.mean(bounds <= -1.645))


def day(light: float = 0.0, shade: float = 0.0, model: float = 0.0) -> HarvestRequest:
    """A day beside a see-through wall, off by so many standard uncertainties."""
    amperes = 1.0 + MODEL * model
    plate = PanelElectrical(
        p_mp_w=115.0 * amperes,
        v_mp_v=19.2,
        i_mp_a=5.99 * amperes,
        v_oc_v=22.9,
        i_sc_a=6.4 * amperes,
        cells_in_series=36,
    )
    body = PanelBody(
        length_m=1.2, width_m=0.6, thickness_m=0.003, mass_kg=2.0, construction="flexible"
    )
    panel = Panel(electrical=plate, construction="diode-every-2-cells", body=body)
    taken = min(1.0, (1.0 - PASSES) * (1.0 + SHADE * shade))
    controller = Controller(
        name="c", kind="mppt", max_input_voltage_v=100.0, max_output_current_a=30.0
    )
    return HarvestRequest(
        place=Place(latitude_deg=47.6, longitude_deg=9.5, altitude_m=400.0),
        weather=HourlyWeather(
            start="2027-05-20T06:00:00+01:00",
            ghi_w_m2=[max(0.0, g * (1.0 + LIGHT * light)) for g in GHI],
            air_c=[15.0] * len(GHI),
        ),
        parking=Parking(headings=[ParkedHeading(heading_deg=90.0)]),
        roof=Roof(outline=RoofRectangle(length_m=5.0, width_m=2.0)),
        roof_height_m=2.5,
        shade=[
            Wall(
                name="fence",
                from_x_m=-9.0,
                from_y_m=2.6,
                to_x_m=12.0,
                to_y_m=2.6,
                top_height_m=4.0,
                transmittance_fraction=1.0 - taken,
            )
        ],
        panel_types=[PanelType(name="p", panel=panel)],
        placements=[PlacedPanel(name="p", panel_type="p", x_m=1.0, y_m=1.2)],
        arrays=[HarvestArray(controller=controller, wiring=ArrayWiring(strings=[["p"]]))],
        battery=Battery(
            chemistry="lithium-iron-phosphate", nominal_voltage_v=12, capacity_ah=5000.0
        ),
        uncertainty=HarvestUncertainty(
            light_fraction=LIGHT, shade_fraction=SHADE, model_fraction=MODEL
        ),
    )


def energy(count: int) -> tuple[float, float]:
    """Relative spread of a day's energy by its inputs' uncertainties, and as it is stated."""
    draws = np.random.default_rng(101).standard_normal((count // 2, 3))
    drawn = np.concatenate([draws, -draws])
    stated = harvest(day()).range
    found = np.array([harvest(day(*own)).charged_wh for own in drawn.tolist()])
    share = (stated.high_wh / stated.middle_wh - 1.0) / 1.645
    return float(found.std() / stated.middle_wh), share


def test_readings_of_sound_arrays_scatter_as_stated():
    """Each figure as stated; of a day together half of all days, few days more than twice that."""
    off, misfits = figures_off(30)
    assert 0.6 <= off.std() <= 1.15
    assert 0.6 <= np.median(misfits) <= 1.35
    assert misfits.mean() <= 2.0


def test_intervals_of_a_yearly_loss_hold_the_true_one():
    assert trends(200) == pytest.approx(0.95, abs=0.035)


def test_a_bound_from_five_pulls_holds_at_its_confidence():
    """ISO 16269-6: 75 % of samples; 20,000 of them scatter by 0.3 %."""
    assert pulls(20_000) == pytest.approx(0.75, abs=0.01)


def test_a_harvest_scatters_as_stated():
    """Twelve draws and their mirror images: a spread within a third of the true one."""
    found, stated = energy(24)
    assert found == pytest.approx(stated, rel=0.35)


def main() -> None:
    """Tell the whole runs."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=400)
    count = parser.parse_args().count
    off, misfits = figures_off(count)
    print(f"readings: {off.std():.3f} of what is stated; {np.mean(np.abs(off) <= 2):.1%} within 2")
    print(f"a day together: misfit a figure {misfits.mean():.3f}, median {np.median(misfits):.3f}")
    print(f"yearly loss: {trends(count):.1%} of 95 % intervals hold the true one")
    print(f"pulls: {pulls(100 * count):.1%} of bounds hold, 75 % stated")
    found, stated = energy(count)
    print(f"harvest: spread {found:.4f}, stated {stated:.4f}")


if __name__ == "__main__":
    main()
