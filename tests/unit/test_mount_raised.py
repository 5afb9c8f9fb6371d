"""Tilt brackets: raised only when parked, flat for travel."""

import math

import numpy as np
import pytest
from mount_builders import FLEXIBLE, bonded, fastened, glued, grid, request
from msgspec.structs import replace

from outside_figures import Outside
from sunhitch.types.mount import Tilt
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.evaluate import Evaluation
from sunhitch_service.engine.mount.raised import force_coefficient
from sunhitch_service.engine.mount.setup import settle

TILT = Tilt(angle_deg=30.0, raised_side="width", gust_m_s=14.0, interlocked=False)
ASKED = request(fastened(feet=grid(2, 2), standoff_m=0.0), tilt=TILT)


@pytest.mark.parametrize(("angle", "coefficient"), [(10.0, 1.4), (27.5, 1.7), (90.0, 1.8)])
def test_force_coefficients(angle: float, coefficient: float, outside: Outside) -> None:
    found, source = force_coefficient(angle), "EN 1991-1-4, table 7.6, upwards"
    of = f"force coefficient of a panel raised by {angle:g}°"
    outside(found, coefficient, rel=1e-6, of=of, source=source, seen="recalled")


def test_a_raised_panel_pulls_at_its_feet() -> None:
    """By hand: 1.8·q·A across the plate of 1.18 × 0.54 m; a quarter of its uplift on each of four
    feet, and both moments over two feet 0.38 m apart, less 0.6 of a quarter of the weight."""
    setup = settle(ASKED, Assumptions())
    found = Evaluation(setup, np.array([30.0]))
    case = next(i for i, term in enumerate(found.cases.terms) if term.name == "raised")
    q = 0.5 * setup.conditions.density * 14.0**2
    force, angle = 1.8 * q * 1.18 * 0.54, math.radians(30.0)
    up = force * math.cos(angle)
    moment = up * 0.54 * math.cos(angle) / 4 + force * math.sin(angle) * 0.54 * math.sin(angle) / 2
    drag = force * math.sin(angle) * setup.height
    expected = up / 4 + moment / (2 * 0.38) + drag / (2 * 0.38) - 0.6 * 7.5 * 9.80665 / 4
    assert found.forces is not None
    assert found.forces.uplift[0, case, 0] == pytest.approx([expected] * 4, rel=1e-6)


@pytest.mark.parametrize("angle", [1.0, 5.0, 10.0])
def test_a_panel_raised_a_little_pulls_no_less_than_flat_in_the_same_gust(angle: float) -> None:
    """In the corner behind a sharp front edge the roof's own suction is more than a canopy's."""
    at_the_corner = replace(ASKED, position=replace(ASKED.position, x_m=0.05, y_m=0.05))
    tilt = replace(TILT, angle_deg=angle)
    setup = settle(replace(at_the_corner, tilt=tilt), Assumptions())
    found = Evaluation(setup)
    case = next(i for i, term in enumerate(found.cases.terms) if term.name == "raised")
    q = 0.5 * setup.conditions.density * 14.0**2
    assert found.forces is not None
    flat = [
        np.maximum(setup.feet.lift[:, 0] @ field.gust[0], 0.0).max(axis=0)  # type: ignore[union-attr]
        for field in setup.suctions.values()
    ]
    least = q * np.max(flat, axis=0) - 0.6 * 7.5 * 9.80665 / 4
    assert np.all(found.forces.uplift[0, case, 0] >= least * (1 - 1e-9))
    assert found.cases.lift_area[0, case] / setup.area > 2.0


def test_only_parked_checks_know_of_it() -> None:
    """Travel is judged flat: no other load case changes, and neither do the speeds."""
    up, flat = mount_check(ASKED), mount_check(replace(ASKED, tilt=None))
    known = {check.code: check for check in up.checks}
    for check in flat.checks:
        if "foot-lost" not in check.code:
            assert known[check.code].demand == check.demand
    assert up.speed_limit.pass_speed_m_s == flat.speed_limit.pass_speed_m_s
    assert any(code.endswith("-raised") for code in known)
    assert any("Raise the panel only when parked" in one.text for one in up.cautions)


@pytest.mark.parametrize(("interlocked", "verdict"), [(True, "pass"), (False, "review")])
def test_the_interlock_is_told(interlocked: bool, verdict: str) -> None:
    asked = replace(ASKED, tilt=replace(TILT, interlocked=interlocked))
    check = next(c for c in mount_check(asked).checks if c.code == "tilt-interlock")
    assert check.verdict == verdict


def test_reactions_balance_a_raised_panel() -> None:
    told = mount_check(replace(ASKED, detail="reactions")).reactions
    raised = [one for one in told if one.load_case == "raised"]
    assert raised
    assert max(one.residual_fraction for one in raised) < 1e-6


def test_a_bonded_sheet_cannot_be_raised() -> None:
    with pytest.raises(ContradictionError) as refused:
        mount_check(request(bonded(), FLEXIBLE, tilt=TILT))
    assert [fault.pointer for fault in refused.value.faults] == ["/tilt"]


def test_glued_feet_may_carry_brackets() -> None:
    codes = {check.code for check in mount_check(request(glued(), tilt=TILT)).checks}
    assert "bond-combined-raised" in codes
