"""Pull tests: what to pull, what readings show, and what they replace."""

import math

import numpy as np
import pytest
from mount_builders import FRAMED, fastened, glued, grid, request
from msgspec.structs import replace

from sunhitch.codec import encode
from sunhitch.types.mount import (
    Adhesive,
    FastenedFeet,
    MountCheckAnswer,
    MountCheckRequest,
    ProofPull,
    PullTest,
    RoofSkin,
    RoofSurface,
    Timber,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.evaluate import Evaluation
from sunhitch_service.engine.mount.pull_tests import lower_bound
from sunhitch_service.engine.mount.setup import settle

PLYWOOD = RoofSkin(material="plywood", thickness_m=0.009)
PAINT = RoofSurface(kind="painted-metal-unknown", abraded_and_cleaned=True)
UNLIKE_PADS = [
    replace(foot, pad_length_m=0.09 + 0.01 * i, pad_width_m=0.12)
    for i, foot in enumerate(grid(3, 2))
]
UNLIKE_SCREWS = [replace(foot, fasteners=2 + i) for i, foot in enumerate(grid(3, 2))]
BUILDS = {
    "glued": request(glued(pad_length_m=0.09, pad_width_m=0.09)),
    "old paint": request(glued(), surface=PAINT),
    "unlike pads": request(glued(feet=UNLIKE_PADS, pad_length_m=0.09, pad_width_m=0.09)),
    "unlike feet in plywood": request(
        fastened(fastener="screw", fasteners_per_foot=2, feet=UNLIKE_SCREWS), skin=PLYWOOD
    ),
    "screws in plywood": request(fastened(fastener="screw", fasteners_per_foot=4), skin=PLYWOOD),
}


def test_lower_bound_by_hand() -> None:
    """Readings e^0.2 apart round 1000: mean of logs ln 1000, their deviation 0.2, k of three
    7.656. Readings alike scatter by a tenth all the same."""
    spread = [1000 * math.exp(step) for step in (-0.2, 0.0, 0.2)]
    assert lower_bound(spread) == pytest.approx(1000 * math.exp(-7.656 * 0.2), rel=2e-4)
    alike = lower_bound([500.0] * 5)
    assert alike == pytest.approx(500 * math.exp(-4.203 * 0.1), rel=2e-4)


def as_read(pull: ProofPull, share: float = 1.0, broke: bool = False) -> PullTest:
    return PullTest(
        foot=int(pull.foot.split()[-1]),
        load_n=share * pull.load_n,
        angle_deg=pull.angle_deg,
        seconds=pull.seconds,
        bond_c=pull.bond_c,
        broke=broke,
    )


def with_readings(asked: MountCheckRequest, share: float) -> MountCheckRequest:
    """The request with every foot pulled as its answer says, at a share of the load."""
    readings = [as_read(pull, share) for pull in mount_check(asked).proof_pulls]
    return replace(asked, mounting=replace(asked.mounting, pull_tests=readings))


def asked_again(asked: MountCheckRequest, share: float) -> MountCheckAnswer:
    """The answer then."""
    return mount_check(with_readings(asked, share))


@pytest.mark.parametrize("name", BUILDS)
@pytest.mark.parametrize(("share", "most"), [(1.0, 0.8), (0.5, 1.6)])
def test_feet_that_hold_the_pulls_of_the_answer_pass(name: str, share: float, most: float) -> None:
    """Round trip: the loads told, entered as readings that held, use what bonds or tests bear in
    gusts just as far as a pass may, a foot lost or not; half the loads would not do."""
    setup = settle(with_readings(BUILDS[name], share), Assumptions())
    found = Evaluation(setup, np.array([setup.conditions.road_speed]))
    gusts = [i for i, term in enumerate(found.cases.terms) if term.duration == "gust"]
    judged = [
        i for i, one in enumerate(found.modes) if one.code in ("bond-combined", "tested-pull")
    ]
    assert found.used[0, judged][..., gusts].max() == pytest.approx(most)


def test_tests_settle_a_skin_without_formula() -> None:
    asked = BUILDS["screws in plywood"]
    before = {check.code: check.verdict for check in mount_check(asked).checks}
    after = {check.code for check in asked_again(asked, 1.0).checks}
    assert before["roof-skin"] == "not-assessed"
    assert "roof-skin" not in after
    assert "tested-pull-headwind-gust" in after


def test_tests_settle_old_paint() -> None:
    def surface(answer: MountCheckAnswer) -> str:
        return next(check.verdict for check in answer.checks if check.code == "surface")

    assert surface(mount_check(BUILDS["old paint"])) == "review"
    assert surface(asked_again(BUILDS["old paint"], 1.0)) == "pass"


def test_pulled_in_the_heat_a_foot_shows_more() -> None:
    """Tape at 60 °C has 0.45 of its strength: the same load counts for 1/0.45 as much."""
    build = glued(standoff_m=0.02, foot_thickness_m=0.02)

    def capacity(bond_c: float) -> float:
        read = PullTest(load_n=800.0, angle_deg=0.0, seconds=10.0, bond_c=bond_c, broke=True)
        answer = mount_check(request(replace(build, pull_tests=[read] * 3), FRAMED))
        return next(c for c in answer.checks if c.code == "bond-tension-parked-storm").capacity or 0

    assert capacity(60.0) == pytest.approx(capacity(21.0) / 0.45)
    stress = 800 / 0.12**2 * math.exp(-7.656 * 0.1) / 2.5
    assert capacity(21.0) == pytest.approx(0.7 * stress, rel=2e-4)


def test_a_short_pull_never_raises_what_lasts() -> None:
    strong = PullTest(load_n=50000.0, seconds=10.0, broke=True)
    for code in ("bond-tension-own-weight", "bond-tension-highway-hours"):
        before, after = (
            next(c.capacity for c in mount_check(request(one)).checks if c.code == code)
            for one in (glued(), glued(pull_tests=[strong] * 5))
        )
        assert after == before


@pytest.mark.parametrize("kind", ["glued", "fastened"])
def test_readings_that_scatter_over_all_bounds_show_as_good_as_nothing(kind: str) -> None:
    loads = [47000.0, 3600.0, 1.2]
    tests = [PullTest(load_n=load, seconds=10.0, broke=True) for load in loads]
    mounting = glued(pull_tests=tests) if kind == "glued" else fastened(pull_tests=tests)
    answer = mount_check(request(mounting))
    encode(answer)  # refuses what is not finite
    assert answer.verdict == "fail"
    expected = answer.governing.expected
    assert 0.0 <= expected.holds_times < 1e-9
    assert expected.demand > 0.0


@pytest.mark.parametrize("kind", ["glued", "fastened"])
def test_too_few_readings_are_refused(kind: str) -> None:
    one = [PullTest(load_n=900.0, seconds=10.0, broke=False)]
    mounting = glued(pull_tests=one) if kind == "glued" else fastened(pull_tests=one)
    with pytest.raises(ContradictionError) as refused:
        mount_check(request(mounting))
    assert [fault.pointer for fault in refused.value.faults] == ["/mounting/pull_tests"]


def test_readings_hotter_than_anything_known_are_refused() -> None:
    hot = [PullTest(load_n=900.0, seconds=10.0, bond_c=95.0, broke=False)] * 3
    tape = glued(pull_tests=hot, adhesive=Adhesive(kind="acrylic-foam-tape"))
    with pytest.raises(ContradictionError) as refused:
        mount_check(request(tape))
    assert refused.value.faults[0].pointer == "/mounting/pull_tests/0/bond_c"


@pytest.mark.parametrize("foot", [None, 7])
def test_unlike_feet_are_told_apart(foot: int | None) -> None:
    read = PullTest(foot=foot, load_n=900.0, seconds=10.0, broke=False)
    with pytest.raises(ContradictionError) as refused:
        mount_check(request(glued(feet=UNLIKE_PADS, pull_tests=[read] * 3)))
    assert {fault.pointer for fault in refused.value.faults} == {
        f"/mounting/pull_tests/{i}/foot" for i in range(3)
    }


def test_clamps_and_sheets_are_not_pulled() -> None:
    assert isinstance(BUILDS["screws in plywood"].mounting, FastenedFeet)
    assert len(mount_check(BUILDS["screws in plywood"]).proof_pulls) == 6


def test_tests_settle_what_screws_in_wood_bear_by_their_pull() -> None:
    """Codes still say what they bear sideways, and then only that."""
    wood = Timber(density_kg_m3=380.0, thread_m=0.05)
    screws = fastened(fastener="screw", wood=wood, spacing_m=0.05)
    read = [PullTest(load_n=900.0, seconds=10.0, broke=False)] * 3

    def wooden(mounting: FastenedFeet) -> set[str]:
        codes = {check.code for check in mount_check(request(mounting)).checks}
        return {code for code in codes if code.endswith("-crosswind-gust") and "wood" in code}

    ways = {f"wood-{way}-crosswind-gust" for way in ("withdrawal", "lateral", "combined")}
    assert wooden(screws) == ways
    assert wooden(replace(screws, pull_tests=read)) == {"wood-lateral-crosswind-gust"}
