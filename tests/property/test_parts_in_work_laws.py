"""Whatever is said of the parts of a build: what is fixed is neither moved nor resized."""

from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from sunhitch import examples
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest, PartInWork
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.calculation import fit_out

pytestmark = pytest.mark.usefixtures("parts_kept")

JOB = examples.load("fit-out")
assert isinstance(JOB, FitOutRequest)
PLACES = {place.name: place for place in JOB.placements}
STATES = st.sampled_from(["planned", "fixed", "owned", "unavailable"])
LINES = st.sampled_from(["pv-output", "controller-to-battery", None])
RATINGS = st.sampled_from([5.0, 10.0, 15.0, 20.0, 30.0, 37.0, 40.0, 60.0, 300.0, 1000.0, None])


def _entry(**fields: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries(fields | {"state": STATES})


ENTRIES = st.one_of(
    _entry(part=st.just("panel"), name=st.sampled_from([*PLACES])),
    _entry(
        part=st.just("foot"),
        name=st.sampled_from([*PLACES]),
        number=st.one_of(st.none(), st.integers(1, 12)),
    ),
    _entry(
        part=st.just("cable"),
        line=LINES,
        size=st.sampled_from([{"awg": awg} for awg in ("14", "10", "6", "2", "4/0")] + [None]),
    ),
    _entry(part=st.sampled_from(["fuse", "disconnect"]), line=LINES, rating_a=RATINGS),
    _entry(part=st.sampled_from(["plug", "branch-connector"]), rating_a=RATINGS),
    _entry(part=st.just("gland"), gland=st.sampled_from(["M12", "M16", "M20", "M40", None])),
)


def _built(one: PartInWork, answer: FitOutAnswer) -> bool:
    """Whether a fixed part stands in the answer as it is."""
    lines = [line for line in answer.wire_schedule if one.line in (None, line.kind)]
    if one.part == "panel":
        laid = {p.panel: (p.x_m, p.y_m) for p in answer.roof.placements}
        return laid[one.name or ""] == (PLACES[one.name or ""].x_m, PLACES[one.name or ""].y_m)
    if one.part == "cable" and one.size:
        return {line.at_hand for line in lines} == {f"{one.size.awg} AWG"}
    if one.part == "gland" and one.gland:
        return {gland.size for gland in answer.glands} <= {one.gland}
    if one.part == "fuse" and one.rating_a:
        at = {line.line for line in lines}
        fuses = [f for f in answer.protection_schedule if f.protects in at and not f.of_string]
        return all(fuse.rating_a == one.rating_a for fuse in fuses)
    return True


@settings(max_examples=8, deadline=None)
@given(parts=st.lists(ENTRIES, min_size=1, max_size=2))
def test_what_is_fixed_is_neither_moved_nor_resized(parts: list[dict[str, Any]]) -> None:
    entries = msgspec.convert(parts, list[PartInWork])
    try:
        answer = fit_out(replace(JOB, light=[], parts=entries))
    except ContradictionError as error:
        assert all(fault.pointer.startswith("/parts") for fault in error.faults)
        return
    kinds = [one.part for one in entries]
    alone = [one for one in entries if one.state == "fixed" and kinds.count(one.part) == 1]
    assert all(_built(one, answer) for one in alone)
