"""Studies in pieces: the same answer to the last bit whoever carries them out."""

import functools
import gc
import pickle
import warnings
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context

import distributed
import msgspec
import numpy as np
import pytest
from harvest_builders import array, heading, study
from loops_switch import solving

from sunhitch import examples
from sunhitch.codec import decode_strict, encode
from sunhitch.types.harvest import (
    ClearSkyWeather,
    HarvestAlternative,
    HarvestAnswer,
    HarvestRequest,
    Load,
    ParkedHeading,
    Parking,
    TreeCrown,
    Wall,
)
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.harvest import outcome
from sunhitch_service.engine.harvest.calculation import HARVEST, harvest, prepare, work
from sunhitch_service.engine.harvest.computing_time import job_states
from sunhitch_service.engine.shade.calculation import shaded_iv


@pytest.fixture(scope="module", autouse=True)
def without_loops() -> Iterator[None]:
    """New processes have no compiled loops, with which last bits differ."""
    with solving(compiled=False):
        yield


def long_study() -> HarvestRequest:
    """Two headings, a tree that loses its leaves, an alternative with a pitch of its own."""
    tree = TreeCrown(
        name="tree",
        x_m=3.0,
        y_m=5.0,
        crown_diameter_m=4.0,
        crown_base_height_m=2.0,
        crown_top_height_m=8.0,
    )
    wall = Wall(
        name="wall", from_x_m=-3.0, from_y_m=-2.0, to_x_m=9.0, to_y_m=-2.0, top_height_m=4.0
    )
    headings = [ParkedHeading(heading_deg=20.0), ParkedHeading(heading_deg=130.0)]
    return study(
        weather=ClearSkyWeather(
            first_day="2027-02-01", days=130, utc_offset_h=1.0, synthetic_years=20
        ),
        shade=[tree, wall],
        parking=Parking(headings=headings),
        loads=[Load(name="fridge", power_w=40.0)],
        compare=[
            HarvestAlternative(name="series", arrays=[array([["p0", "p1"]])]),
            HarvestAlternative(name="tilted", parking=heading(200.0, pitch_deg=4.0)),
        ],
        detail="steps",
    )


@pytest.fixture(scope="module")
def told() -> list[tuple[int, int]]:
    """Progress of the study within this process, filled as `inline` goes on."""
    return []


@pytest.fixture(scope="module")
def inline(told: list[tuple[int, int]]) -> bytes:
    return encode(HARVEST.answer(long_study(), progress=lambda *counts: told.append(counts)))


def is_same(one: bytes, other: bytes) -> bool:
    """Told without where they differ, which takes an hour to find in two whole studies."""
    return one == other


@pytest.fixture(params=["threads", "processes"])
def executor(request: pytest.FixtureRequest) -> Iterator[Executor]:
    if request.param == "threads":
        with ThreadPoolExecutor(2) as pool:
            yield pool
    else:
        with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
            yield pool


def test_threads_and_processes_give_the_same_bytes(
    executor: Executor, inline: bytes, told: list[tuple[int, int]]
) -> None:
    """And tell the same progress: it counts to the end."""
    again: list[tuple[int, int]] = []
    found = HARVEST.answer(long_study(), executor, lambda *counts: again.append(counts))
    assert is_same(encode(found), inline)
    total = told[0][1]
    assert again == told == [(done, total) for done in range(total + 1)]


@pytest.mark.parametrize("processes", [False, True])
def test_a_dask_cluster_gives_the_same_bytes(processes: bool, inline: bytes) -> None:
    """By the address of its scheduler, as the service is told of it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with (
            distributed.LocalCluster(
                n_workers=2,
                threads_per_worker=1,
                processes=processes,
                dashboard_address=":0",
                protocol="tcp",
                host="127.0.0.1",
            ) as cluster,
            distributed.Client(cluster.scheduler_address) as client,
        ):
            found = HARVEST.answer(long_study(), client.get_executor())
    assert is_same(encode(found), inline)


def test_nothing_that_is_kept_was_worked_out_by_compiled_loops() -> None:
    """A process that loads them goes on telling what any other one does, to the last bit."""
    short = study(
        weather=ClearSkyWeather(first_day="2027-06-01", days=1, utc_offset_h=1.0, synthetic_years=1)
    )
    light = examples.load("shaded-iv")

    def told() -> list[bytes]:
        return [encode(HARVEST.answer(short)), encode(shaded_iv(light))]

    forget()
    fresh = told()
    forget()
    with solving(compiled=True):
        assert told() != fresh
    assert all(map(is_same, told(), fresh))


def forget() -> None:
    """Empty whatever functions of the engine keep, frozen ones included."""
    gc.unfreeze()
    for one in gc.get_objects():
        if type(one) is functools._lru_cache_wrapper and one.__module__.startswith("sunhitch"):
            one.cache_clear()
    gc.freeze()


def test_pieces_are_many_even_and_cover_every_step_once() -> None:
    prepared = prepare(long_study())
    year, invented = prepared.works
    weathers = prepared.study.weather.lit(), prepared.skies.lit
    for whole, weather in zip((year, invented), weathers, strict=True):
        parts: dict[object, list[np.ndarray]] = {}
        for job in whole.jobs:
            parts.setdefault(job.stance, []).append(job.weather.steps)
        assert len(parts) == 3
        for own in parts.values():
            assert sorted(np.concatenate(own).tolist()) == weather.steps.tolist()
            assert max(map(len, own)) - min(map(len, own)) <= 1
            assert max(map(len, own)) <= job_states(long_study())
    assert prepared.jobs == (*year.jobs, *invented.jobs)


def test_a_piece_survives_the_way_between_processes() -> None:
    job = prepare(long_study()).jobs[0]
    there = work(pickle.loads(pickle.dumps(job)))  # noqa: S301 - our own
    here = work(job)
    assert [s.tobytes() for s in there.stages_w] == [s.tobytes() for s in here.stages_w]


def test_a_contradiction_is_found_before_any_work() -> None:
    told: list[int] = []
    wrong = msgspec.structs.replace(long_study(), parking=Parking())
    with pytest.raises(ContradictionError):
        HARVEST.answer(wrong, progress=lambda done, _total: told.append(done))
    assert told == []


def test_smaller_pieces_change_the_energy_by_less_than_the_tables_do(
    inline: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pieces have tables of their own; these keep a sum of states within 0.3 % of the exact one."""
    whole = decode_strict(inline, HarvestAnswer)
    monkeypatch.setattr(outcome, "job_states", lambda _request: 120)
    assert len(prepare(long_study()).jobs) > 30
    cut = harvest(long_study())
    assert cut.autonomy.middle_h == pytest.approx(whole.autonomy.middle_h, rel=2e-3)
    for ours, theirs in zip(cut.losses, whole.losses, strict=True):
        assert ours.left_wh == pytest.approx(theirs.left_wh, rel=1e-4)
