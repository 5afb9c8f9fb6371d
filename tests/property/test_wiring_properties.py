"""What must hold for every circuit."""

import math

import msgspec
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from sunhitch.codec import encode
from sunhitch.types.wiring import (
    Conductor,
    PanelsBehind,
    Run,
    WireSizingAnswer,
    WireSizingRequest,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.engine.wiring.case import resolve
from sunhitch_service.engine.wiring.device import find_device
from sunhitch_service.engine.wiring.search import judge_size, ladder_case

RULES = ["nec-2017", "nec-2020", "nec-2023", "iec", "us-33-cfr-183"]
INSULATIONS = ["60c", "75c", "90c", "105c", "125c", "pvc-70", "xlpe-90", "en-50618"]

runs = st.one_of(
    st.builds(
        Run,
        where=st.sampled_from(["free-air", "bundled", "raceway", "on-roof", "insulated-wall"]),
        current_carrying_conductors=st.integers(1, 30),
    ),
    st.builds(
        Run,
        where=st.just("on-roof"),
        height_above_roof_m=st.sampled_from([None, 0.0, 0.02, 0.05]),
        in_raceway=st.booleans(),
    ),
)


@st.composite
def requests(draw):
    circuit = draw(
        st.sampled_from(
            ["pv-string", "pv-output", "controller-to-battery", "battery-to-load", "chassis-return"]
        )
    )
    fields = {}
    if circuit.startswith("pv") and draw(st.booleans()):
        fields["panels_behind"] = PanelsBehind(
            i_sc_a=draw(st.floats(1.0, 20.0)),
            strings_in_parallel=draw(st.integers(1, 5)),
            max_series_fuse_a=draw(st.sampled_from([None, 10.0, 15.0, 20.0, 30.0])),
        )
    else:
        fields["current_a"] = draw(st.floats(0.1, 200.0))
    return WireSizingRequest(
        circuit=circuit,
        rules=draw(st.sampled_from(RULES)),
        voltage_v=draw(st.sampled_from([12.0, 19.0, 24.0, 38.0, 48.0])),
        length_m=draw(st.floats(0.2, 15.0)),
        insulation=draw(st.sampled_from([None, *INSULATIONS])),
        runs=draw(st.lists(runs, max_size=3)),
        ambient_c=draw(st.floats(-20.0, 59.0)),
        terminal_temperature_c=draw(st.sampled_from([None, 60.0, 75.0, 90.0])),
        allowed_drop_fraction=draw(st.sampled_from([None, 0.01, 0.03, 0.1])),
        conductor=Conductor(material=draw(st.sampled_from(["copper", "copper", "aluminium"]))),
        fault_current_a=draw(st.sampled_from([None, 500.0, 8000.0])),
        hours_per_year=draw(st.sampled_from([None, 1000.0])),
        **fields,
    )


def answered(request):
    try:
        return wire_sizing(request)
    except ContradictionError:
        assume(False)


@settings(max_examples=150, deadline=None)
@given(requests())
def test_no_smaller_size_passes(request):
    """Every smaller rung, judged afresh, fails; the chosen one passes."""
    answered(request)
    case = resolve(request, Assumptions())
    device = find_device(case)
    own = None
    for ladder in (case.ladder, "awg" if case.ladder == "mm2" else "mm2"):
        on = ladder_case(case, device, ladder, own)
        answer = wire_sizing(request)
        found = answer.awg if ladder == "awg" else answer.metric
        chosen = found.chosen
        measured = [judge_size(on, *rung) for rung in on.installation.rungs]
        passing = [one.area_mm2 for one in measured if one.verdict == "pass"]
        assert (chosen is None) == (not passing)
        if chosen is not None:
            assert chosen.area_mm2 == min(passing)
        own = found


@settings(max_examples=150, deadline=None)
@given(requests(), st.floats(0.0, 60.0))
def test_cooler_air_never_turns_a_pass_into_a_fail(request, cooler_by):
    warm = answered(request)
    cool = wire_sizing(
        msgspec.structs.replace(request, ambient_c=max(-60.0, request.ambient_c - cooler_by))
    )
    for hot, cold in ((warm.awg, cool.awg), (warm.metric, cool.metric)):
        if hot.role == "rules" and hot.chosen is not None:
            assert cold.chosen is not None
            assert cold.chosen.area_mm2 <= hot.chosen.area_mm2


@settings(max_examples=150, deadline=None)
@given(requests())
def test_more_current_never_needs_less_metal(request):
    assume(request.current_a is not None and request.current_a < 150.0)
    less = answered(request)
    more = wire_sizing(msgspec.structs.replace(request, current_a=request.current_a * 1.3))
    own = (less.awg, more.awg) if less.rules_ladder == "awg" else (less.metric, more.metric)
    if own[1].chosen is not None:
        assert own[0].chosen is not None
        assert own[0].chosen.area_mm2 <= own[1].chosen.area_mm2


@settings(max_examples=150, deadline=None)
@given(requests())
def test_answers_are_finite_and_keep_the_contract(request):
    answer = answered(request)
    text = encode(answer)
    assert msgspec.json.decode(text, type=WireSizingAnswer) == answer
    for found in (answer.awg, answer.metric):
        for size in [found.chosen, *found.neighbours]:
            if size is not None:
                assert math.isfinite(size.conductor_temperature_c)
                assert size.ampacity_a <= min(run.corrected_a for run in size.runs) + 1e-9
                assert all(run.corrected_a <= run.base_a * 1.4 for run in size.runs)
    own, other = answer.awg, answer.metric
    if answer.rules_ladder == "mm2":
        own, other = other, own
    if own.chosen and other.chosen:
        assert other.chosen.area_mm2 >= own.chosen.area_mm2
    assert all(check.remedy for check in answer.checks if check.verdict != "pass")
    assert (own.chosen is None) <= (answer.verdict == "fail")
