"""Names that stand twice, and references to nothing, in every list of every request."""

import copy
from collections.abc import Iterator
from importlib import resources
from typing import Any

import msgspec
import pytest

from sunhitch.operations import OPERATIONS
from sunhitch_service.calculations import calculation_of
from sunhitch_service.engine.errors import ContradictionError, Faults, in_strings, listed

EXAMPLES = resources.files("sunhitch.examples")
REQUESTS = {
    o.name: msgspec.json.decode(EXAMPLES.joinpath(f"{o.name}.json").read_bytes())
    for o in OPERATIONS
}
REFERENCES = ("panel", "panel_type", "of")
"""Members whose value is the name of something else in the request."""


def at(tree: Any, pointer: str) -> Any:
    for step in pointer.split("/")[1:]:
        tree = tree[int(step)] if isinstance(tree, list) else tree[step]
    return tree


def lists_in(tree: Any, pointer: str = "") -> Iterator[tuple[str, list[Any]]]:
    """Every list that is not empty, the first item of each searched further."""
    if isinstance(tree, dict):
        for key, value in tree.items():
            yield from lists_in(value, f"{pointer}/{key}")
    elif isinstance(tree, list) and tree:
        yield pointer, tree
        yield from lists_in(tree[0], f"{pointer}/0")


def name_in(item: Any) -> str | None:
    """Where an item of a list has its name; a reference counts where the item has none."""
    if not isinstance(item, dict):
        return None
    if "name" in item.get("controller", {}):
        return "controller/name"
    return next((key for key in ("name", "panel") if isinstance(item.get(key), str)), None)


NAMED = [
    (call, pointer, field)
    for call, request in REQUESTS.items()
    for pointer, items in lists_in(request)
    if (field := name_in(items[0])) is not None
]
STRINGS = [
    (call, pointer)
    for call, request in REQUESTS.items()
    for pointer, items in lists_in(request)
    if pointer.endswith("/strings") and isinstance(items[0], list)
]
REFERRING = [
    (call, f"{pointer}/0/{key}")
    for call, request in REQUESTS.items()
    for pointer, items in lists_in(request)
    if isinstance(items[0], dict)
    for key in REFERENCES
    if isinstance(items[0].get(key), str)
]


def faults_of(call: str, request: Any) -> list[tuple[str, str]]:
    operation = next(o for o in OPERATIONS if o.name == call)
    with pytest.raises(ContradictionError) as refused:
        calculation_of(operation).calculate(msgspec.convert(request, operation.request))
    return [(fault.pointer, fault.message) for fault in refused.value.faults]


def test_the_examples_name_things() -> None:
    """So that the tests below have something to try, in six calculations and more than 30 lists."""
    assert len({call for call, _, _ in NAMED}) >= 6
    assert len(NAMED) + len(STRINGS) + len(REFERRING) > 30


@pytest.mark.parametrize(("call", "pointer", "field"), NAMED)
def test_a_name_that_stands_twice_is_refused_where_it_stands_again(
    call: str, pointer: str, field: str
) -> None:
    request = copy.deepcopy(REQUESTS[call])
    items = at(request, pointer)
    items.append(copy.deepcopy(items[0]))
    place = f"{pointer}/{len(items) - 1}/{field}"
    name = at(items[0], f"/{field}")
    told = f"'{name}' stands at {pointer}/0/{field} already; give it once."
    assert (place, told) in faults_of(call, request)


@pytest.mark.parametrize(("call", "pointer"), STRINGS)
def test_a_panel_in_two_strings_is_refused(call: str, pointer: str) -> None:
    request = copy.deepcopy(REQUESTS[call])
    strings = at(request, pointer)
    strings.append([strings[0][0]])
    place = f"{pointer}/{len(strings) - 1}/0"
    told = f"'{strings[0][0]}' stands at {pointer}/0/0 already; give it once."
    assert (place, told) in faults_of(call, request)


@pytest.mark.parametrize(("call", "pointer"), REFERRING)
def test_a_reference_to_nothing_is_refused(call: str, pointer: str) -> None:
    request = copy.deepcopy(REQUESTS[call])
    parent, _, key = pointer.rpartition("/")
    at(request, parent)[key] = "nobody"
    told = dict(faults_of(call, request))[pointer]
    assert "is named 'nobody'; known: " in told


def test_obstacles_seams_and_strips_of_a_roof_share_their_names() -> None:
    request = copy.deepcopy(REQUESTS["roof-layout"])
    name = request["roof"]["obstacles"][0]["name"]
    request["roof"]["walking_strips"][0]["name"] = name
    assert dict(faults_of("roof-layout", request)).keys() == {"/roof/walking_strips/0/name"}


def test_names_have_their_own_places() -> None:
    assert listed("/a", ["x", "y"]) == [("/a/0/name", "x"), ("/a/1/name", "y")]
    assert in_strings("/s", [["x"], ["y", "z"]]) == [
        ("/s/0/0", "x"),
        ("/s/1/0", "y"),
        ("/s/1/1", "z"),
    ]
    faults = Faults()
    faults.unique(listed("/a", ["x", "y"]))
    faults.known(listed("/a", ["x", "y"]), ["y", "x"], "letter")
    faults.raise_any()
