"""Panels that count alike are strung by where they lie, not by the order of the request."""

from collections.abc import Iterator
from itertools import permutations
from random import Random
from typing import Any

import pytest
from array_builders import panels, plate, request, with_strings

from sunhitch.types.array import Arrangement
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.array.figures import String, Wired, figures
from sunhitch_service.engine.array.routes import HarnessRoof, stretches
from sunhitch_service.engine.array.setup import settle

GRID = [(0.3 + 1.25 * row, 0.2 + 0.6 * column) for row in range(4) for column in range(3)]
"""Junction boxes of panels in rows across a roof [m]."""

Spots = list[tuple[float, float]]


def asked(spots: Spots, **more: Any) -> Any:
    places = [{"panel": f"sheet-{n}", "x_m": x, "y_m": y} for n, (x, y) in enumerate(spots, 1)]
    layout = {"entry_x_m": 3.0, "entry_y_m": 0.9, "slack_fraction": 0.1, "places": places}
    groups = [panels("sheet", len(spots), plate(max_series_fuse_a=60.0), lead_length_m=0.5)]
    return request(groups, layout=layout, **more)


def cable_m(found: Arrangement) -> float:
    return sum(
        item.length_m or 0.0 for item in found.harness if item.kind == "extension" and item.pieces
    )


def wirings(count: int, length: int) -> Iterator[tuple[String, ...]]:
    """All ways to deal panels to strings of one length, in every order."""
    for order in permutations(range(count)):
        yield tuple(order[i : i + length] for i in range(0, count, length))


@pytest.mark.parametrize(("count", "length"), [(4, 2), (4, 4), (6, 2), (6, 3)])
def test_no_other_way_to_string_the_same_panels_takes_less_cable(count: int, length: int) -> None:
    """Every permutation on random places of a roof, its extensions added up. Ways that the panels'
    own leads reach count a thousandth, at most some centimetres in all."""
    chance = Random(count + length)
    for _ in range(3):
        wanted = asked(chance.sample(GRID, count))
        design = settle(wanted)
        roof = HarnessRoof(design, wanted.layout)
        least = min(
            sum(part.length_m for part in stretches(roof, figures(design, Wired(0, strings))))
            for strings in wirings(count, length)
        )
        lengths = [length] * (count // length)
        got = with_strings(array_configuration(wanted), *lengths)
        members = {member.name: number for number, member in enumerate(design.members)}
        strings = tuple(
            tuple(members[name] for name in string.panels) for string in got.arrays[0].strings
        )
        own = stretches(roof, figures(design, Wired(0, strings)))
        assert sum(part.length_m for part in own) <= least + 0.02


@pytest.mark.parametrize("count", [4, 8, 12])
def test_the_order_of_a_request_does_not_matter(count: int) -> None:
    spots, seen = GRID[:count], set()
    for seed in range(4):
        mixed = Random(seed).sample(spots, count)
        got = with_strings(array_configuration(asked(mixed)), *[2] * (count // 2))
        at = {f"sheet-{n}": spot for n, spot in enumerate(mixed, 1)}
        seen.add(tuple(tuple(at[name] for name in s.panels) for s in got.arrays[0].strings))
    assert len(seen) == 1


def test_panels_side_by_side_are_strung_whatever_their_numbers() -> None:
    """Two rows of two, 0.6 m within a row and 2.6 m from row to row: each row is one string."""
    crossed = [(0.3, 0.2), (2.9, 0.2), (0.3, 0.8), (2.9, 0.8)]
    got = with_strings(array_configuration(asked(crossed)), 2, 2)
    assert {frozenset(s.panels) for s in got.arrays[0].strings} == {
        frozenset({"sheet-1", "sheet-3"}),
        frozenset({"sheet-2", "sheet-4"}),
    }
    assert not [item for item in got.harness if item.polarity == "between-panels"]


def test_a_wiring_as_drawn_stays_as_drawn() -> None:
    crossed = [(0.3, 0.2), (2.9, 0.2), (0.3, 0.8), (2.9, 0.8)]
    strings = [["sheet-1", "sheet-2"], ["sheet-3", "sheet-4"]]
    wanted = asked(crossed, drawn=[{"controller": "one", "strings": strings}])
    drawn = array_configuration(wanted).drawn
    assert drawn is not None
    assert [list(string.panels) for string in drawn.arrays[0].strings] == strings
