"""The way back: returns, chassis and bond, by hand and against the positive side."""

import math
import random

import msgspec
import numpy as np
import pytest

from sunhitch_service.engine.circuit.flows import flows
from sunhitch_service.engine.circuit.protection import protection
from sunhitch_service.engine.circuit.returns import BOND, CHASSIS, ReturnEnd, return_ends
from sunhitch_service.engine.circuit.tree import (
    CircuitTree,
    CurrentSource,
    Element,
    conductor,
    controller,
    device,
)


def strong(name: str, node: str, fault_a: float) -> CurrentSource:
    return CurrentSource(name, node, fault_a, limited=False)


def cable(name: str, start: str, end: str, ohm: float, bears_a: float) -> Element:
    sizes = {"ampacity_a": bears_a, "largest_device_a": bears_a}
    return conductor(name, start, end, return_ohm=ohm, **sizes)


def bond(bears_a: float, ohm: float = 0.001, node: str = "post") -> Element:
    return cable(BOND, CHASSIS, node, ohm, bears_a)


def solar(fuse_a: float = 40.0) -> CircuitTree:
    """One string of 10 A, W1 to a converting controller of 30 A, W2 and a fuse to the battery."""
    elements = (
        cable("W1", "roof", "panels", 0.02, 25.0),
        controller("mppt", "panels", "out", 30.0),
        cable("W2", "out", "fused", 0.002, 50.0),
        device("F1", "fused", "post", fuse_a),
    )
    string = CurrentSource("string", "roof", 12.5, limited=True)
    return CircuitTree((string, strong("battery", "post", 4000.0)), elements)


def most(
    ends: list[ReturnEnd], name: str, fault_to: str
) -> dict[tuple[str, str], tuple[float, float, tuple[str, ...]]]:
    """Largest fault and lasting current by source and end, with the devices that open."""
    found: dict[tuple[str, str], tuple[float, float, tuple[str, ...]]] = {}
    for each, to in ends:
        if (each.conductor.name, to) == (name, fault_to):
            for share, weight in each.flow.weighted:
                told = weight * share.prospective_a, weight * share.lasting_a, share.devices
                key = share.source.name, each.end
                found[key] = max(found.get(key, told), told)
    return found


def test_a_fault_of_the_array_to_the_chassis_returns_through_bond_and_battery_cable() -> None:
    """By hand: 12.5 A of the string pass bond, W2's return and W1's; the 40 A fuse is not in it."""
    ends = return_ends(solar(), bond(50.0))
    assert most(ends, "W1", "chassis") == {("string", "end"): (12.5, 12.5, ())}
    # A fault behind the controller: what that makes of it, 30 A, returns to its minus.
    assert most(ends, "W2", "chassis") == {("string", "end"): (30.0, 30.0, ("F1",))}
    assert most(ends, BOND, "chassis") == {
        ("string", "start"): (30.0, 30.0, ("F1",)),
        ("battery", "start"): (4000.0, 40.0, ("F1",)),
    }


def test_a_fault_to_its_own_return_pushes_through_it_what_passes_the_positive() -> None:
    ends = return_ends(solar(), bond(50.0))
    assert most(ends, "W2", "return") == {
        ("string", "end"): (30.0, 30.0, ("F1",)),
        ("battery", "start"): (4000.0, 40.0, ("F1",)),
    }


@pytest.mark.parametrize(
    ("bears_a", "fuse_a", "states"),
    [
        (50.0, 40.0, {"proven", "protected"}),
        (50.0, 60.0, {"proven", "open"}),
        (20.0, 15.0, {"proven", "protected", "open"}),
    ],
)
def test_the_bond_is_judged_by_one_device_and_by_what_never_opens_one(
    bears_a: float, fuse_a: float, states: set[str]
) -> None:
    """60 A do not protect 50 A; 30 A of sun before the fuse of 15 A are too much for 20 A."""
    ends = return_ends(solar(fuse_a), bond(bears_a))
    assert {each.state for each, _ in ends if each.conductor.name == BOND} == states


def alternator() -> CircuitTree:
    """A starter battery at the chassis, W1 (9 mΩ) to a converter of 30 A, W2 (1 mΩ) to the bank."""
    elements = (
        device("F1", "starter", "first", 50.0),
        cable("W1", "first", "input", 0.009, 60.0),
        controller("converter", "input", "output", 30.0),
        cable("W2", "output", "second", 0.001, 60.0),
        device("F2", "second", "post", 40.0),
    )
    return CircuitTree(
        (strong("starter", "starter", 1500.0), strong("bank", "post", 4000.0)), elements
    )


def test_a_return_beside_the_bond_carries_its_share_by_resistance() -> None:
    """Kirchhoff, by hand: bond of 1 mΩ beside 9 + 1 mΩ of the charger's returns.

    A fault at the converter's output to its return: the bank's 4000 A reach its minus through W2's
    return (1 mΩ) and through W1's return, chassis and bond (10 mΩ): 10/11 and 1/11.
    """
    ends = return_ends(alternator(), bond(60.0), frozenset({"starter"}))
    found = most(ends, "W2", "return")["bank", "start"]
    assert found[:2] == pytest.approx((4000.0 * 10.0 / 11.0, 40.0 * 10.0 / 11.0))
    found = most(ends, "W1", "return")["bank", "end"]
    assert found[:2] == pytest.approx((4000.0 / 11.0, 40.0 / 11.0))
    # A fault of the bank's cable to the chassis: 1 mΩ of bond beside 10 mΩ.
    found = most(ends, "W1", "chassis")["bank", "start"]
    assert found[:2] == pytest.approx((4000.0 / 11.0, 40.0 / 11.0))
    # The starter's own minus is the chassis: nothing of its faults to it passes the bond.
    assert "starter" not in {name for name, _ in most(ends, BOND, "chassis")} or all(
        share.since_converter
        for each, to in ends
        if (each.conductor.name, to) == (BOND, "chassis")
        for share in each.flow.shares
        if share.source.name == "starter"
    )


def random_tree(rng: random.Random) -> CircuitTree:
    nodes = [str(n) for n in range(rng.randint(3, 12))]
    elements: list[Element] = []
    for number, node in enumerate(nodes[1:], 1):
        start, end = rng.sample([node, rng.choice(nodes[:number])], 2)
        if rng.random() < 0.6:
            bears = rng.uniform(5.0, 100.0)
            elements.append(cable(f"e{number}", start, end, rng.uniform(1e-4, 0.1), bears))
        else:
            elements.append(device(f"e{number}", start, end, rng.choice([10.0, 40.0])))
    sources = [
        CurrentSource(f"s{n}", rng.choice(nodes), rng.uniform(5.0, 90.0), n % 2 == 0)
        for n in range(rng.randint(1, 5))
    ]
    return CircuitTree(tuple(sources), tuple(elements))


def test_in_a_tree_each_return_carries_in_its_own_fault_what_its_positive_does() -> None:
    """With every source behind a device or limited, return and positive agree end by end."""
    rng, compared = random.Random(12), 0
    for _ in range(200):
        circuit = random_tree(rng)
        circuit = CircuitTree(
            tuple(msgspec.structs.replace(s, limited=True) for s in circuit.sources),
            circuit.elements,
        )
        node = next(iter(circuit.at))
        ends = return_ends(circuit, bond(1000.0, node=node))
        found = flows(circuit)
        for out in protection(circuit):
            back = [
                each.flow.lasting_a
                for each, to in ends
                if to == "return"
                and each.conductor.name == out.conductor.name
                and each.end != out.end
            ]
            # The positive is fed from one end, its return leads back out of the same.
            fed = found[out.conductor.name, out.end]
            assert max(back, default=0.0) == pytest.approx(fed.lasting_a if fed.shares else 0.0)
            compared += bool(back)
    assert compared > 300


def test_what_is_fed_in_comes_out_again() -> None:
    """Kirchhoff at the post: of a fault to the chassis all returns to the source's minus."""
    rng = random.Random(13)
    for _ in range(50):
        ohms = [rng.uniform(1e-4, 0.05) for _ in range(3)]
        circuit = alternator()
        elements = tuple(
            msgspec.structs.replace(e, return_ohm=ohms[0] if e.name == "W1" else ohms[1])
            if e.kind == "conductor"
            else e
            for e in circuit.elements
        )
        circuit = CircuitTree(circuit.sources, elements)
        ends = return_ends(circuit, bond(1e4, ohms[2]), frozenset({"starter"}))
        through = most(ends, "W1", "chassis")["bank", "start"][0] / 4000.0
        # Two ways in parallel, from numpy's solver of the two loop equations.
        other = ohms[0] + ohms[1]
        matrix = np.array([[1.0, 1.0], [ohms[2], -other]])
        split = np.linalg.solve(matrix, np.array([1.0, 0.0]))
        assert through == pytest.approx(split[1], abs=2e-9)
        assert math.isclose(split.sum(), 1.0)
