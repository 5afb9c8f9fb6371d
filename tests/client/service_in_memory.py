"""A request and an answer of the contract, and a service that exists in memory only."""

from collections.abc import Callable
from dataclasses import replace

import httpx
import pytest

from sunhitch.codec import encode
from sunhitch.types.basis import Assumption, Basis, Caution, EngineStamp
from sunhitch.types.check import VERDICTS, Check, VerdictCounts
from sunhitch.types.panel import Panel, PanelElectrical
from sunhitch.types.problem import Problem
from sunhitch.types.shade import (
    AlternativeResult,
    ArrayPanel,
    ArrayWiring,
    Curve,
    LossSplit,
    PanelState,
    PowerPoint,
    ShadedIvAnswer,
    ShadedIvRequest,
    Sun,
    TrackerResult,
)
from sunhitch_service.calculations import shaded_iv

JSON = {"Content-Type": "application/json"}
Handler = Callable[[httpx.Request], httpx.Response]

PLATE = PanelElectrical(
    p_mp_w=115.0, v_mp_v=19.2, i_mp_a=5.99, v_oc_v=22.9, i_sc_a=6.4, cells_in_series=36
)
REQUEST = ShadedIvRequest(
    panels=[ArrayPanel(name="left", panel=Panel(electrical=PLATE), irradiance_fraction=0.4)],
    wiring=ArrayWiring(strings=[["left"]]),
    sun=Sun(irradiance_w_m2=1000.0, cell_temperature_c=45.0),
)
POINT = PowerPoint(power_w=44.2, voltage_v=18.1, current_a=2.442)


def check(code: str = "hot-cell", verdict: str = "pass", **given: object) -> Check:
    """A check with plausible values where none are given."""
    values: dict[str, object] = {
        "code": code,
        "title": "Heat in the hottest cell",
        "subject": "left",
        "verdict": verdict,
        "demand": 8.2,
        "capacity": 20.0,
        "unit": "W",
        "utilisation_fraction": 0.41,
        "basis": "bishop-1988",
        "parameters": {"heat_w": 8.2},
        "note": "",
        "remedies": [],
        "remedy": "",
    }
    return Check(**{**values, **given})


def answer(*checks: Check) -> ShadedIvAnswer:
    """An answer whose verdict is the worst of its checks."""
    worst = max((c.verdict for c in checks), default="pass", key=VERDICTS.index)
    return ShadedIvAnswer(
        verdict=worst,
        counts=VerdictCounts(passed=len(checks), review=0, not_assessed=0, failed=0),
        checks=list(checks),
        sources=[Basis(key="bishop-1988", kind="published", reference="Bishop 1988", note="Read.")],
        assumptions=[
            Assumption(field="/panels/0/panel/cells", value="half", why="Common practice.")
        ],
        cautions=[Caution(code="lit-panel", about="electric-shock", text="A lit panel is live.")],
        engine=EngineStamp(version="0.1.0", data_sha256="0123456789abcdef"),
        answer_id="fedcba9876543210",
        maximum_power_point=POINT,
        local_maxima=[POINT],
        open_circuit_voltage_v=21.9,
        short_circuit_current_a=2.56,
        curve=Curve(voltage_v=[], current_a=[]),
        tracker=TrackerResult(found=POINT, lost_w=0.0, lost_fraction=0.0),
        panels=[
            PanelState(
                name="left",
                power_w=44.2,
                voltage_v=18.1,
                current_a=2.442,
                conducting_diodes=0,
                hottest_cell_dissipation_w=-1.2,
                substrings=[],
            )
        ],
        loss_split=LossSplit(
            unshaded_w=110.0,
            light_lost_w=65.0,
            mismatch_w=0.8,
            bypass_diodes_w=0.0,
            blocking_and_cable_w=0.0,
            delivered_w=44.2,
            tracker_w=0.0,
        ),
        comparison=[
            AlternativeResult(
                name="as given",
                maximum_power_point=POINT,
                tracker_power_w=44.2,
                of_unshaded_fraction=0.4,
                hottest_cell_dissipation_w=-1.2,
            )
        ],
    )


ANSWER = answer(check())


def good(_request: httpx.Request) -> httpx.Response:
    """The answer as the service sends it."""
    return httpx.Response(200, content=encode(ANSWER), headers=JSON)


def refusal(status: int, **headers: str) -> httpx.Response:
    """A problem document as the service sends it."""
    problem = Problem(
        type="urn:sunhitch:problem:some",
        title="Some problem",
        status=status,
        detail="What to do.",
        instance="urn:sunhitch:request:7",
        errors=[],
        error_count=0,
    )
    return httpx.Response(
        status,
        content=encode(problem),
        headers={"Content-Type": "application/problem+json", **headers},
    )


class Script:
    """Answers one prepared outcome after the other and keeps what was asked."""

    def __init__(self, *outcomes: httpx.Response | Exception | Handler) -> None:
        self.outcomes = list(outcomes)
        self.asked: list[httpx.Request] = []

    def __call__(self, request: httpx.Request) -> httpx.Response:
        self.asked.append(request)
        outcome = self.outcomes.pop(0) if len(self.outcomes) > 1 else self.outcomes[0]
        if isinstance(outcome, Exception):
            raise outcome
        if isinstance(outcome, httpx.Response):
            headers = {k: v for k, v in outcome.headers.items() if k != "content-length"}
            return httpx.Response(outcome.status_code, headers=headers, content=outcome.content)
        return outcome(request)


def change_shaded_iv(monkeypatch: pytest.MonkeyPatch, **changes: object) -> None:
    """Put something else in the engine's place, or in that of its drawings."""
    monkeypatch.setattr(shaded_iv, "CALCULATION", replace(shaded_iv.CALCULATION, **changes))
