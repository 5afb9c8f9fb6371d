"""Many shadows that cross at one place: an answer or a refusal that names them, never a fault."""

import math
import random

import msgspec
import plausible
import pytest

from sunhitch.types.shade import ShadedIvRequest
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.shade.calculation import shaded_iv


def star(dice: random.Random, corners: int) -> dict[str, object]:
    """A see-through shape with notches, near the same place as all others."""
    x_m, y_m = 1.0 + dice.uniform(-0.3, 0.3), 0.8 + dice.uniform(-0.3, 0.3)
    turns = [(0.6 + 0.12 * (k % 2), 2.0 * math.pi * k / corners) for k in range(corners)]
    outline = [[x_m + r * math.cos(turn), y_m + r * math.sin(turn)] for r, turn in turns]
    return {"polygon": outline, "transmittance_fraction": 0.9}


@pytest.mark.parametrize(("shapes", "corners"), [(40, 40), (60, 100)])
def test_shadows_that_cross_everywhere_are_no_fault(shapes: int, corners: int) -> None:
    body = plausible.example(plausible.operation_named("shaded-iv"))
    dice = random.Random(1)
    body |= {"compare": [], "states": [], "detail": "summary"}
    body["shade"] = [star(dice, corners) for _ in range(shapes)]
    try:
        answer = shaded_iv(msgspec.convert(body, ShadedIvRequest))
    except ContradictionError as refusal:
        assert [fault.pointer for fault in refusal.faults] == ["/shade"]
    else:
        assert 0.0 < answer.maximum_power_point.power_w < math.inf
