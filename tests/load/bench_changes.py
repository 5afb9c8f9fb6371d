"""Time of mending a fleet, of changes of a job under way, and of choosing among candidates.

Prints one line a case; nothing is asserted. Processor time, and how many fit-outs of the same job
that is worth: ``python tests/load/bench_changes.py``. Goals on an idle machine: 10 s for a vehicle
that is mended, 2 s for a change.
"""

import statistics
import sys
import time
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path

from msgspec.structs import asdict, replace

sys.path.insert(0, str(Path(__file__).parents[1] / "agreement"))

from fleet_of_jobs import fleet
from scripted_changes import scripted

from sunhitch import examples
from sunhitch.types.fitout import FitOutRequest, PanelChoice
from sunhitch.types.harvest import HarvestConditions, HarvestRequest
from sunhitch.types.revision import FitOutChangeRequest
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.revision.calculation import fit_out_change


def seconds(work: Callable[[], object]) -> float:
    """Processor time of one call [s]."""
    start = time.process_time()
    work()
    return time.process_time() - start


def told(what: str, asked: Iterable[FitOutChangeRequest], goal_s: float) -> None:
    """Time of every request of a list."""
    times: list[float] = []
    worth: list[float] = []
    for one in asked:
        times.append(seconds(partial(fit_out_change, one)))
        worth.append(times[-1] / seconds(partial(fit_out, one.job)))
    over = sum(each > goal_s for each in times)
    print(
        f"{what:10s} {len(times):3d}: median {statistics.median(times):.2f} s, longest "
        f"{max(times):.2f} s, {over} above {goal_s:g} s; worth {statistics.median(worth):.1f} "
        f"fit-outs, at most {max(worth):.1f}"
    )


def candidates() -> FitOutRequest:
    """The shipped job, to choose among twelve candidates by a year's energy."""
    job, study = examples.load("fit-out"), examples.load("harvest")
    assert isinstance(job, FitOutRequest)
    assert isinstance(study, HarvestRequest)
    fields = HarvestConditions.__struct_fields__
    year = HarvestConditions(**{k: v for k, v in asdict(study).items() if k in fields})
    choice = PanelChoice(
        constructions=["half-cell-2-diodes", "full-cell-2-diodes", "full-cell-no-diode"],
        numbers=[1, 2, 3, 4],
    )
    return replace(job, placements=[], choose=choice, harvest=year)


def main() -> None:
    """Print all cases."""
    job = candidates()
    alone = seconds(lambda: fit_out(replace(job, choose=None, harvest=None)))
    whole = seconds(lambda: fit_out(job))
    power = seconds(lambda: fit_out(replace(job, harvest=None)))
    print(f"12 candidates by energy {whole:.1f} s, by power {power:.1f} s; one build {alone:.2f} s")
    told("changes", (asked for _, asked in scripted()), 2.0)
    told("mended", (FitOutChangeRequest(job=one) for one, weak in fleet(1) if weak), 10.0)


if __name__ == "__main__":
    main()
