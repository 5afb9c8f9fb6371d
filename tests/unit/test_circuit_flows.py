"""Currents in a tree of sources and conductors: against walks of each source, and by hand."""

import json
import math
import random
from importlib import resources

import msgspec
import pytest
from array_builders import controller as charger
from array_builders import panels, plate, request

from sunhitch.types.panel import PanelElectrical
from sunhitch.types.quick.fuses import StringFuseQuestion
from sunhitch.types.system import RuleSet
from sunhitch.types.wiring import PanelsBehind, WireSizingRequest
from sunhitch_service.engine.array.configuration import array_configuration
from sunhitch_service.engine.circuit.flows import flows, together
from sunhitch_service.engine.circuit.protection import protection, with_devices
from sunhitch_service.engine.circuit.string_fuse import string_fuse, string_i_sc_a
from sunhitch_service.engine.circuit.tree import (
    CircuitTree,
    CurrentSource,
    conductor,
    controller,
    device,
)
from sunhitch_service.engine.rules.weakest import weakest_rating
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.quick.fuses import string_fuse_for

NEC = 1.25


def string(name, node, i_sc_a, factor=NEC):
    return CurrentSource(name, node, factor * i_sc_a, limited=True)


def battery(node="post", fault_a=4000.0):
    return CurrentSource("battery", node, fault_a, limited=False)


def random_circuit(rng):
    nodes = [str(n) for n in range(rng.randint(2, 14))]
    elements = []
    for number, node in enumerate(nodes[1:], 1):
        start, end = rng.sample([node, rng.choice(nodes[:number])], 2)
        name = f"e{number}"
        kind = rng.random()
        if kind < 0.5:
            elements.append(conductor(name, start, end))
        elif kind < 0.8:
            elements.append(device(name, start, end, rng.choice([5.0, 10.0, 15.0, 40.0])))
        else:
            backfeed = rng.choice([0.0, 3.0, math.inf])
            elements.append(controller(name, start, end, rng.choice([20.0, math.inf]), backfeed))
    count = rng.randint(1, 6)
    sources = [
        CurrentSource(f"s{n}", rng.choice(nodes), rng.uniform(1.0, 90.0), n % 2 == 0)
        for n in range(count)
    ]
    return CircuitTree(tuple(sources), tuple(elements))


def walk(circuit, node, target, seen=()):
    """Elements between two nodes with the node at which each is entered; None if there is none."""
    if node == target:
        return []
    for element in circuit.elements:
        if element in seen or node not in (element.start, element.end):
            continue
        other = element.end if node == element.start else element.start
        rest = walk(circuit, other, target, (*seen, element))
        if rest is not None:
            return [(element, node), *rest]
    return None


def one_source(circuit, source, element, end):
    """What one source pushes into an element's end, limit by limit along its way."""
    way = walk(circuit, source.node, element.node(end))
    if any(each == element for each, _ in way):
        return None
    prospective = lasting = source.prospective_a
    passed = []
    for each, entered in way:
        most = each.forward_a if entered == each.start else each.backward_a
        if each.kind == "device":
            lasting = min(lasting, most)
            passed.append(each.name)
        elif each.kind == "controller":
            if most <= 0.0:
                return None
            if most < math.inf:
                # It trades volts for amperes: a little current at a high voltage becomes more.
                prospective = lasting = most
                passed = []
    return prospective, lasting, tuple(passed)


def test_every_source_alone_pushes_what_a_walk_along_its_way_finds():
    rng, compared = random.Random(4), 0
    for _ in range(300):
        circuit = random_circuit(rng)
        found = flows(circuit)
        assert len(found) == 2 * len(circuit.elements)
        for element in circuit.elements:
            for end in ("start", "end"):
                shares = {share.source.name: share for share in found[element.name, end].shares}
                for source in circuit.sources:
                    expected = one_source(circuit, source, element, end)
                    share = shares.get(source.name)
                    got = share and (share.prospective_a, share.lasting_a, share.devices)
                    assert got == expected
                    compared += 1
    assert compared > 5000


def test_together_they_push_no_more_than_each_alone_and_than_any_device_passes():
    rng = random.Random(5)
    for _ in range(300):
        circuit = random_circuit(rng)
        ratings = {one.name: one.forward_a for one in circuit.elements if one.kind == "device"}
        for flow in flows(circuit).values():
            assert flow.lasting_a <= sum(share.lasting_a for share in flow.shares) + 1e-9
            assert flow.lasting_a <= flow.prospective_a + 1e-9
            alone = max((share.prospective_a for share in flow.shares), default=0.0)
            assert flow.prospective_a >= alone - 1e-9
            for name in flow.common_devices:
                assert flow.lasting_a <= ratings[name] + 1e-9


def sizes(ampacity_a, largest_device_a):
    return {"ampacity_a": ampacity_a, "largest_device_a": largest_device_a, "stub_m": 0.457}


def judged(circuit, name):
    """The worse end of a conductor."""
    ends = [each for each in protection(circuit) if each.conductor.name == name]
    return max(ends, key=lambda each: (each.state == "open", each.used))


def star(currents_a, factor=NEC, output_a=(25.0, 15.0)):
    sources = [string(f"s{n}", f"roof {n}", i, factor) for n, i in enumerate(currents_a)]
    leads = [conductor(f"W{n}", f"roof {n}", "join") for n in range(len(currents_a))]
    output = conductor("output", "join", "controller", **sizes(*output_a))
    return CircuitTree(tuple(sources), (*leads, output))


@pytest.mark.parametrize(("rules", "factor"), [("nec-2023", 1.25), ("iec", 1.0)])
def test_strings_in_parallel_push_the_sum_of_the_others(rules, factor):
    rng = random.Random(6)
    for _ in range(200):
        currents = [rng.uniform(0.5, 15.0) for _ in range(rng.randint(1, 8))]
        found = flows(star(currents, factor))
        for n, own in enumerate(currents):
            others = sum(currents[:n]) + sum(currents[n + 1 :])
            fuse = string_fuse(own, others, weakest_rating([15.0]), rules)
            assert fuse.reverse_a == pytest.approx(found[f"W{n}", "end"].prospective_a, abs=1e-9)


def test_strings_of_9_9_4_and_4_amperes():
    """By hand: the others of a 9 A string give 17 A, of a 4 A string 22 A; × 1.25."""
    found = flows(star([9.0, 9.0, 4.0, 4.0]))
    assert found["W0", "end"].prospective_a == pytest.approx(21.25)
    assert found["W2", "end"].prospective_a == pytest.approx(27.5)
    fuses = [string_fuse(i, 26.0 - i, weakest_rating([15.0]), "nec-2023") for i in (9.0, 4.0)]
    assert [fuse.reverse_a for fuse in fuses] == [pytest.approx(21.25), pytest.approx(27.5)]
    # 1.5625 × 9 = 14.06 → 15; 1.5625 × 4 = 6.25 → 8
    assert [fuse.rating_a for fuse in fuses] == [15.0, 8.0]


def test_equal_strings_push_one_string_less_than_all():
    for count in range(1, 9):
        others = (count - 1) * 8.0
        fuse = weakest_rating([15.0])
        nec, iec = (string_fuse(8.0, others, fuse, rules) for rules in ("nec-2023", "iec"))
        assert nec.reverse_a == pytest.approx((count - 1) * 1.25 * 8.0)
        assert iec.reverse_a == pytest.approx((count - 1) * 8.0)


def back_fed(*devices):
    """One string of 6.02 A behind a switch that does not block; 40 A fuse at a 4 kA battery."""
    nodes = [f"n{n}" for n in range(len(devices) + 1)]
    line = [device(f"F{n}", nodes[n], nodes[n + 1], rating) for n, rating in enumerate(devices)]
    elements = (
        conductor("W1", "roof", "n0", **sizes(25.0, 15.0)),
        *line,
        controller("controller", nodes[-1], "out", math.inf, math.inf),
        conductor("W2", "out", "fused", **sizes(40.0, 40.0)),
        device("main", "fused", "post", 40.0),
    )
    return CircuitTree((string("string", "roof", 6.02), battery()), elements)


def test_a_battery_that_feeds_back_overloads_a_thin_cable_until_a_fuse_sits_at_the_controller():
    """14 AWG, 25 A, at most 15 A of device (240.4(D)); 10 AWG, 40 A, at most 30 A; by hand."""
    bare = judged(back_fed(), "W1")
    assert (bare.state, bare.end, bare.demand_a) == ("open", "end", 40.0)
    fused = judged(back_fed(10.0), "W1")
    assert (fused.state, fused.demand_a, fused.devices) == ("protected", 10.0, ("main", "F0"))
    assert flows(back_fed(10.0))["W1", "end"].prospective_a == 4000.0
    assert string_fuse(6.02, 0.0, weakest_rating([15.0]), "nec-2023", 4000.0).rating_a == 10.0


def test_a_string_in_its_own_lead_is_proven_by_what_it_gives():
    assert judged(star([6.0, 6.0]), "output").state == "proven"
    assert judged(star([6.0, 6.0], output_a=(14.0, 15.0)), "output").state == "open"


def test_several_devices_together_must_stay_within_the_ampacity():
    """Two branches of 20 A fuses on 4 kA each: 40 A pass on 35 A, though 40 A is the next size."""
    one = CurrentSource("a", "a", 4000.0, limited=False)
    two = CurrentSource("b", "b", 4000.0, limited=False)
    branches = (device("F1", "a", "join", 20.0), device("F2", "b", "join", 20.0))

    def joined(ampacity_a):
        wire = conductor("W", "join", "load", **sizes(ampacity_a, 40.0))
        return judged(CircuitTree((one, two), (*branches, wire)), "W").state

    assert joined(35.0) == "open"
    assert joined(40.0) == "protected"
    single = (device("F", "a", "join", 40.0), conductor("W", "join", "load", **sizes(35.0, 40.0)))
    assert judged(CircuitTree((one,), single), "W").state == "protected"


def unfused():
    """X of the design: two strings of 6.02 A behind a switch that does not block, no fuse at all.

    Leads of 14 AWG (25 A, at most 15 A of device), a common cable of 10 AWG (40 and 30 A), and
    8 AWG (50 and 50 A) to a battery of 4 kA.
    """
    elements = (
        conductor("W1", "roof 1", "join", **sizes(25.0, 15.0)),
        conductor("W2", "roof 2", "join", **sizes(25.0, 15.0)),
        conductor("W3", "join", "panels", **sizes(40.0, 30.0)),
        controller("controller", "panels", "out", math.inf, math.inf),
        conductor("W4", "out", "post", **sizes(50.0, 50.0)),
    )
    return CircuitTree(
        (string("one", "roof 1", 6.02), string("two", "roof 2", 6.02), battery("post")), elements
    )


def test_devices_are_placed_from_the_strongest_source_on():
    """40 A at the battery, 20 A at the controller (1.5625 × 12.04 = 18.8), 10 A in each lead."""
    ratings = {"W1": 10.0, "W2": 10.0, "W3": 20.0, "W4": 40.0}
    assert [judged(unfused(), name).state for name in ratings] == ["open"] * 4
    fused = with_devices(unfused(), ratings)
    placed = {each.name: each.forward_a for each in fused.elements if each.kind == "device"}
    assert placed == {f"fuse of {name}": rating for name, rating in ratings.items()}
    assert {each.state for each in protection(fused)} == {"proven", "protected", "stub"}
    stubs = {each.conductor.name for each in protection(fused) if each.state == "stub"}
    assert stubs == {f"{name} up to its fuse" for name in ratings}
    far = [
        msgspec.structs.replace(each, length_m=0.5) if "up to its fuse" in each.name else each
        for each in fused.elements
    ]
    assert "open" in {each.state for each in protection(CircuitTree(fused.sources, tuple(far)))}


def test_a_device_near_the_source_spares_those_behind_it():
    """15 A at the battery protect every cable behind it; nothing else needs a device."""
    ratings = {"W3": 10.0, "W4": 10.0}
    fused = with_devices(unfused(), ratings)
    assert [each.name for each in fused.elements if each.kind == "device"] == ["fuse of W4"]


def test_a_device_that_is_too_large_leaves_its_conductor_open():
    fused = with_devices(unfused(), {"W4": 60.0})
    assert judged(fused, "W4").state == "open"


SAFE = ("idle", "proven", "protected", "stub")


def sized(rng, circuit):
    """The same with conductors of random ampacity, and devices wherever one is wanted."""
    elements = [
        msgspec.structs.replace(each, ampacity_a=(a := rng.uniform(5.0, 120.0)), largest_device_a=a)
        if each.kind == "conductor"
        else each
        for each in circuit.elements
    ]
    ratings = {
        each.name: rng.choice([5.0, 15.0, 40.0]) for each in elements if each.kind == "conductor"
    }
    return with_devices(CircuitTree(circuit.sources, tuple(elements)), ratings)


def test_a_source_that_is_switched_off_leaves_nothing_open_that_was_safe():
    rng, safe = random.Random(8), 0
    for _ in range(300):
        circuit = sized(rng, random_circuit(rng))
        before = {(e.conductor.name, e.end): e for e in protection(circuit)}
        for off in circuit.sources:
            left = tuple(each for each in circuit.sources if each != off)
            for end in protection(CircuitTree(left, circuit.elements)):
                if before[end.conductor.name, end.end].state in SAFE:
                    assert end.state in SAFE
                    safe += 1
    assert safe > 3000


def test_an_alternator_and_a_battery_reach_the_array_through_a_switch():
    """Two controllers on one bank: without its battery, a 60 A alternator and 30 A are left."""
    elements = (
        conductor("W1", "roof", "c1"),
        controller("one", "c1", "bus", math.inf, math.inf),
        controller("two", "c2", "bus", 30.0),
        conductor("main", "bus", "post"),
    )
    alternator = CurrentSource("alternator", "post", 60.0, limited=True)
    other = string("other", "c2", 40.0)
    with_battery = flows(CircuitTree((battery(), alternator, other), elements))
    assert with_battery["W1", "end"].lasting_a == pytest.approx(4090.0)
    assert not with_battery["W1", "end"].limited
    without = flows(CircuitTree((alternator, other), elements))
    assert without["W1", "end"].lasting_a == pytest.approx(90.0)
    assert without["W1", "end"].limited


def test_loops_and_loose_sources_are_refused():
    loop = (conductor("a", "1", "2"), conductor("b", "2", "1"))
    with pytest.raises(ValueError, match="closes a loop"):
        CircuitTree((), loop)
    with pytest.raises(ValueError, match="names repeat"):
        CircuitTree((), (conductor("a", "1", "2"), conductor("a", "2", "3")))
    with pytest.raises(ValueError, match="on no element"):
        CircuitTree((battery("nowhere"),), (conductor("a", "1", "2"),))


@pytest.mark.parametrize(("sun", "counted"), [(800.0, 6.02), (1250.0, 6.02), (1400.0, 6.7424)])
def test_sun_stronger_than_the_rules_count_with_raises_every_current(sun, counted):
    """1.25 × 6.02 covers 1250 W/m²; at 1400 W/m² a panel gives 1.4 × 6.02 = 8.428 A."""
    nameplate = json.loads(
        resources.files("sunhitch").joinpath("examples/fit-out.json").read_text()
    )["panel_types"][0]["panel"]["electrical"] | {
        "i_sc_a": 6.02,
        "i_mp_a": 5.64,
        "p_mp_w": 19.2 * 5.64,
    }
    assert nameplate["v_mp_v"] == 19.2
    found = string_i_sc_a([msgspec.convert(nameplate, PanelElectrical)], sun)
    assert found == pytest.approx(counted)
    assert 1.25 * found >= sun / 1000.0 * 6.02 - 1e-9


def test_a_conductor_without_an_ampacity_is_open():
    """Air beyond every table leaves none."""
    bare = CircuitTree((battery(),), (conductor("W", "post", "load", **sizes(0.0, 0.0)),))
    found = judged(bare, "W")
    assert (found.state, found.used) == ("open", math.inf)


@pytest.mark.parametrize(
    ("rules", "bifaciality", "sun", "counted", "reverse"),
    [
        ("nec-2023", 0.7, None, 10.945, 27.3625),
        ("nec-2023", None, 1400.0, 11.2, 28.0),
        ("iec", 0.7, 1400.0, 12.2584, 24.5168),
    ],
)
def test_light_on_the_back_and_beyond_1250_w_m2_counts_wherever_currents_do(
    rules: RuleSet, bifaciality: float, sun: float | None, counted: float, reverse: float
) -> None:
    """By hand: 10 A × (1 + 0.7 × 0.135) = 10.945 A; at 1400 W/m² × 1.12; two others push.

    NFPA 70 counts 1.25 × each of the two, IEC 62548 once; conductors carry 1.25 × three.
    """
    light = {"bifaciality_fraction": bifaciality, "strongest_w_m2": sun}
    asked = {"i_sc_a": 10.0, "strings_in_parallel": 3, "max_series_fuse_a": 20.0, **light}
    flat = string_fuse_for(StringFuseQuestion(**asked, rules=rules))
    lead = WireSizingRequest(
        circuit="pv-output",
        rules=rules,
        voltage_v=20.0,
        length_m=2.0,
        panels_behind=PanelsBehind(**asked),
    )
    electrical = plate(i_sc_a=10.0, i_mp_a=9.4, p_mp_w=180.48, max_series_fuse_a=20.0)
    groups = [panels("sheet", 3, electrical | {"bifaciality_fraction": bifaciality})]
    threes = charger(max_input_voltage_v=28.0)
    bright = {"irradiance_w_m2": sun or 1000.0, "cell_temperature_c": 50.0}
    array = array_configuration(request(groups, controllers=[threes], rules=rules, sun=bright))
    (string, *_) = array.arrangements[0].arrays[0].strings
    assert flat.backfeed_a == pytest.approx(reverse)
    assert wire_sizing(lead).currents.maximum_a == pytest.approx(3.75 * counted)
    assert (string.i_sc_a, string.reverse_current_a) == pytest.approx((counted, reverse))


def shares_at(circuit, element, end):
    return list(flows(circuit)[element, end].shares)


def test_of_what_passes_one_device_no_more_than_its_rating_times_the_largest_share():
    """Two sources of 100 A behind 40 A, of which a half and a quarter take this way: 20 A."""
    sources = tuple(CurrentSource(n, "a", 100.0, limited=False) for n in "xy")
    fused = CircuitTree(sources, (device("F", "a", "b", 40.0), conductor("W", "b", "c")))
    weighted = list(zip(shares_at(fused, "W", "start"), (0.5, 0.25), strict=True))
    assert together(weighted, lasting=True) == 20.0
    assert together(weighted) == 75.0
    converted = CircuitTree(sources, (controller("C", "a", "b", 30.0), conductor("W", "b", "c")))
    weighted = list(zip(shares_at(converted, "W", "start"), (0.5, 0.25), strict=True))
    for lasting in (False, True):
        assert together(weighted, lasting=lasting) == 15.0


@pytest.mark.parametrize(("gives_a", "passes_a"), [(0.0, 0.0), (0.05, 30.0)])
def test_a_controller_gives_all_that_it_may_of_anything_that_drives_it(gives_a, passes_a):
    source = CurrentSource("s", "a", gives_a, limited=False)
    elements = (controller("C", "a", "b", 30.0), conductor("W", "b", "c"))
    flow = flows(CircuitTree((source,), elements))["W", "start"]
    assert (flow.prospective_a, flow.limited) == (passes_a, True)


def test_a_small_backfeed_is_one():
    elements = (controller("C", "roof", "post", 30.0, 0.05), conductor("W", "roof", "x"))
    assert flows(CircuitTree((battery("post"),), elements))["W", "start"].prospective_a == 0.05


def test_where_nothing_enters_a_conductor_is_idle():
    idle = {each.end: each for each in protection(star([6.0]))}["end"]
    assert (idle.state, idle.demand_a, idle.devices) == ("idle", 0.0, ())
    faint = CurrentSource("s", "a", 0.05, limited=True)
    wire = conductor("W", "a", "b", **sizes(0.05, 15.0))
    (fed, _) = protection(CircuitTree((faint,), (wire,)))
    assert (fed.state, fed.demand_a, fed.used) == ("proven", 0.05, 1.0)


def test_what_just_fits_is_proven_or_protected():
    """1.25 × 12 A in 15 A; a 40 A fuse on a conductor that may have one of 40 A."""
    assert judged(star([6.0, 6.0], output_a=(15.0, 10.0)), "output").state == "proven"
    fused = (device("F", "post", "a", 40.0), conductor("W", "a", "b", **sizes(35.0, 40.0)))
    assert judged(CircuitTree((battery(),), fused), "W").state == "protected"


def test_an_open_end_names_the_last_device_of_every_source():
    """What a larger conductor, or a smaller device, must be told of."""
    line = (
        device("a1", "a", "am", 60.0),
        device("a2", "am", "join", 50.0),
        device("b1", "b", "join", 50.0),
        conductor("W", "join", "load", **sizes(30.0, 30.0)),
    )
    sources = tuple(CurrentSource(f"s{n}", n, 900.0, limited=False) for n in "ab")
    found = judged(CircuitTree(sources, line), "W")
    assert (found.state, found.demand_a, found.devices) == ("open", 100.0, ("a2", "b1"))


def test_a_short_conductor_is_a_stub_only_before_its_device():
    """A cable of 5 cm that no device ends is open like any other, and so is one without a reach."""
    for more, state in [
        ({"before_device": True, "stub_m": 0.1}, "stub"),
        ({"stub_m": 0.1}, "open"),
        ({"before_device": True}, "open"),
        ({"before_device": True, "stub_m": 0.05}, "stub"),
        ({"before_device": True, "stub_m": 0.04}, "open"),
    ]:
        wire = conductor(
            "W", "post", "load", ampacity_a=10.0, largest_device_a=10.0, length_m=0.05, **more
        )
        assert judged(CircuitTree((battery(),), (wire,)), "W").state == state


def test_leads_that_a_maker_has_sized_are_not_judged():
    assert {each.conductor.name for each in protection(star([6.0, 6.0]))} == {"output"}
    assert {each.conductor.name for each in protection(back_fed(10.0))} == {"W1", "W2"}


def test_the_piece_before_a_device_has_no_return():
    """Its return is that of the whole conductor."""
    wire = conductor("W", "post", "load", return_ohm=0.01, **sizes(40.0, 40.0))
    fused = with_devices(CircuitTree((battery(),), (wire,)), {"W": 40.0})
    assert {each.name: each.return_ohm for each in fused.elements if each.kind == "conductor"} == {
        "W": 0.01, "W up to its fuse": 0.0,
    }  # fmt: skip


def test_a_device_sits_at_the_end_of_the_stronger_source():
    """Both ends of one conductor are open and as near: 4 kA on the left, 100 A on the right."""
    weak = CurrentSource("weak", "right", 100.0, limited=False)
    for ends in (("post", "right"), ("right", "post")):
        wire = conductor("W", *ends, **sizes(40.0, 40.0))
        fused = with_devices(CircuitTree((battery(), weak), (wire,)), {"W": 40.0})
        stub = next(each for each in fused.elements if "up to" in each.name)
        assert "post" in (stub.start, stub.end)


def test_the_strongest_source_behind_an_end_says_how_near_it_is():
    """4 kA two leads from W2; 8 A beside W1, behind it: 10 A on W2 spare W1 a device of its own."""
    weak = CurrentSource("weak", "between", 8.0, limited=False)
    elements = (
        conductor("lead 1", "post", "a"),
        conductor("lead 2", "a", "b"),
        conductor("W2", "b", "between", **sizes(20.0, 20.0)),
        conductor("W1", "between", "load", **sizes(20.0, 20.0)),
    )
    fused = with_devices(CircuitTree((battery(), weak), elements), {"W1": 10.0, "W2": 10.0})
    assert [each.name for each in fused.elements if each.kind == "device"] == ["fuse of W2"]


def test_a_string_of_unequal_panels_counts_with_its_largest():
    plates = [msgspec.convert(plate(i_sc_a=i, i_mp_a=0.9 * i), PanelElectrical) for i in (6.0, 9.0)]
    assert string_i_sc_a(plates, 1000.0) == 9.0
    assert string_i_sc_a(plates[::-1], 1000.0) == 9.0
