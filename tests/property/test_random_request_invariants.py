"""What holds for every answer to every request that the schema allows.

Requests are the shipped examples with a few values, given or left out, replaced by any allowed
ones, limits more often than chance would have them.
"""

from contextvars import Context
from typing import Any

import msgspec
import plausible
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from judging import leads_somewhere

from sunhitch.codec import decode_strict, encode
from sunhitch.operations import OPERATIONS
from sunhitch.types.check import VERDICTS, Answer, Check
from sunhitch_service.calculations import calculation_of
from sunhitch_service.engine.errors import ContradictionError

pytestmark = pytest.mark.usefixtures("parts_kept")
FEWEST = {"fit-out": 3, "roof-layout": 3}
EXAMPLES = {"wire-sizing": 200, "shaded-iv": 60, "commissioning-check": 60, **FEWEST}
"""Random requests by calculation, fewer where each takes long."""
_FEW = 10


def _settings(name: str) -> settings:
    return settings(
        max_examples=EXAMPLES.get(name, _FEW),
        deadline=None,
        derandomize=True,
        phases=[Phase.generate],  # shrinking a request that takes seconds takes minutes
        suppress_health_check=list(HealthCheck),
        database=None,
    )


def _faithful(answer: Any, kind: type[Any]) -> bytes:
    """JSON that is finite, within the contract's own limits, and says what the answer says."""
    text = encode(answer)
    assert decode_strict(text, kind) == answer
    return text


def _consistent(answer: Answer) -> None:
    worst = max((check.verdict for check in answer.checks), key=VERDICTS.index, default="pass")
    assert answer.verdict == worst
    for check in answer.checks:
        assert bool(check.remedy) or check.verdict == "pass", check.code
        _comparable(check)


def _comparable(check: Check) -> None:
    """A check that passes does not use more than there is."""
    if check.demand is None and check.capacity is None:
        assert check.unit is None, check.code
    if check.verdict == "pass" and check.utilisation_fraction is not None:
        assert check.utilisation_fraction <= 1.0 + 1e-9, check.code


def _assumptions_name_request_fields(answer: Answer, body: dict[str, Any]) -> None:
    for assumption in answer.assumptions:
        assert assumption.why
        first = assumption.field.split("/")[1] if assumption.field else ""
        assert leads_somewhere(body, f"/{first}"), assumption.field


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_an_allowed_request_is_answered_well_or_refused_precisely(operation: Any) -> None:
    record = calculation_of(operation)

    @_settings(operation.name)
    @given(st.data(), st.integers(1, 4))
    def holds(data: Any, changes: int) -> None:
        body = plausible.varied(
            operation, lambda faces: int(data.draw(st.integers(0, faces - 1))), changes
        )
        sent = msgspec.json.encode(body)
        request = decode_strict(sent, operation.request)
        try:
            answer = record.calculate(request)
        except ContradictionError as refusal:
            assert refusal.faults
            for fault in refusal.faults:
                assert leads_somewhere(body, fault.pointer), fault.pointer
                assert fault.message
            return
        text = _faithful(answer, operation.answer)
        _consistent(answer)
        _assumptions_name_request_fields(answer, body)
        for rendering in record.renderings:
            assert rendering.draw(request, answer)
        again = decode_strict(sent, operation.request)
        assert encode(Context().run(record.calculate, again)) == text  # with nothing kept

    holds()
