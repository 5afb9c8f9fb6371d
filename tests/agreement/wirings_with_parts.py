"""The wiring that a fit-out chooses for the parts that are there, beside every one drawn by hand.

`python tests/agreement/wirings_with_parts.py --count 500 --seed 1` tries so many random jobs.
"""

import argparse
import random
from collections import Counter
from collections.abc import Iterator
from typing import Any

import msgspec
from msgspec.structs import replace

from sunhitch import examples
from sunhitch.types.array import DrawnArray
from sunhitch.types.fitout import FitOutRequest, PartInWork
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.electrical import ElectricalBuild
from sunhitch_service.engine.fitout.job import resolve
from sunhitch_service.engine.fitout.placement import place_panels
from sunhitch_service.engine.fitout.wiring_choice import choose_wiring
from sunhitch_service.engine.fitout.wiring_of_parts import build_with_parts
from sunhitch_service.engine.reuse import reusing

RATINGS_A = {
    "plug": (10.0, 15.0, 20.0, 30.0),
    "branch-connector": (10.0, 15.0, 20.0, 30.0, 40.0),
    "disconnect": (10.0, 20.0, 30.0, 40.0),
    "fuse": (6.0, 10.0, 15.0, 20.0, 40.0),
}
SIZES = ("14", "10", "6")


def job(rng: random.Random) -> FitOutRequest:
    """A shipped job with two to four panels and random parts in its lines."""
    shipped = examples.load("fit-out")
    assert isinstance(shipped, FitOutRequest)
    places = shipped.placements[: rng.choice([2, 3, 3, 4])]
    kinds = [
        replace(kind, lead_length_m=rng.choice([0.2, 0.9]), panels_wanted=None)
        for kind in shipped.panel_types
    ]
    volts = rng.choice([50.0, 100.0, 150.0])
    controllers = [replace(one, max_input_voltage_v=volts) for one in shipped.controllers]
    parts = [part(rng) for _ in range(rng.choice([1, 1, 2, 3]))]
    return replace(
        shipped,
        placements=places,
        panel_types=kinds,
        controllers=controllers,
        light=shipped.light[: rng.choice([0, 1])],
        drawn=[],
        parts=parts,
    )


def part(rng: random.Random) -> PartInWork:
    """Something said of all of a kind."""
    kind = rng.choice([*RATINGS_A, "cable"])
    state = rng.choice(["fixed", "owned", "unavailable"])
    said: dict[str, Any] = {"part": kind, "state": state}
    if kind == "cable":
        said |= {"size": {"awg": rng.choice(SIZES)}, "line": rng.choice([None, "pv-output"])}
    else:
        said["rating_a"] = rng.choice(RATINGS_A[kind])
    if kind == "fuse":
        said["line"] = rng.choice(["pv-string", "controller-to-battery"])
    return msgspec.convert(said, PartInWork)


def wired(request: FitOutRequest) -> ElectricalBuild | None:
    """All that is electrical in a build; none where the parts contradict it."""
    try:
        resolved = resolve(request)
        roof = place_panels(resolved, Assumptions())
        array = choose_wiring(roof.job, roof, Assumptions())
        return build_with_parts(roof, array, Assumptions())
    except ContradictionError:
        return None


def partitions(names: list[str]) -> Iterator[list[list[str]]]:
    """Every way to share panels among strings."""
    if not names:
        yield []
        return
    first, *rest = names
    for shared in partitions(rest):
        yield [[first], *shared]
        for at in range(len(shared)):
            yield [*shared[:at], [first, *shared[at]], *shared[at + 1 :]]


def compared(request: FitOutRequest) -> str:
    """What came of a job; no wiring drawn by hand holds where the chosen one does not."""
    controller = request.controllers[0].name
    with reusing():
        chosen = wired(request)
        drawn = [
            wired(replace(request, drawn=[DrawnArray(controller=controller, strings=strings)]))
            for strings in partitions([place.name for place in request.placements])
        ]
        plain = wired(replace(request, parts=[]))
    failing = [one.failing for one in drawn if one is not None]
    if chosen is None:
        assert not failing, request.parts
        return "refused"
    assert chosen.failing == 0 or 0 not in failing, (request.parts, chosen.failing, failing)
    assert plain is not None
    other = plain.array.arrangements[0].name != chosen.array.arrangements[0].name
    return f"{'holds' if chosen.failing == 0 else 'fails'}{', wired otherwise' if other else ''}"


def run(count: int, seed: int) -> Counter[str]:
    """Try random jobs; what came of them."""
    rng = random.Random(seed)
    return Counter(compared(job(rng)) for _ in range(count))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    print(dict(run(arguments.count, arguments.seed)))
