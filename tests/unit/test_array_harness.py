"""Parts between panels and entry, and what an array's request must not say at once."""

from typing import Any

import pytest
from array_builders import battery, controller, panels, plate, request

from sunhitch.types.array import HarnessItem
from sunhitch_service.engine.array.figures import Wired, figures
from sunhitch_service.engine.array.harness import harness
from sunhitch_service.engine.array.routes import HarnessRoof, stretches
from sunhitch_service.engine.array.rules_fuse import string_fuses
from sunhitch_service.engine.array.setup import settle
from sunhitch_service.engine.array.validate import validate
from sunhitch_service.engine.errors import ContradictionError


def parts(*strings: tuple[int, ...], **more: Any) -> list[HarnessItem]:
    """Of panels of 6.4 A with leads of 0.5 m."""
    groups = [panels("sheet", 4, plate(max_series_fuse_a=60.0), lead_length_m=0.5)]
    design = settle(request(groups, **more))
    array, places = figures(design, Wired(0, strings)), design.request.layout
    roof = None if places is None else HarnessRoof(design, places)
    return harness(design, roof, array, string_fuses(design, array))


def of_kind(found: list[HarnessItem], kind: str) -> list[HarnessItem]:
    return [item for item in found if item.kind == kind]


def test_y_connectors_join_one_string_after_the_other() -> None:
    """n − 1 per polarity, the last with the current of all: 1.25 × 6.4 A times their number."""
    found = of_kind(
        parts((0,), (1,), (2, 3), connectors={"joining": "two-by-two"}), "branch-connector"
    )
    assert [(i.polarity, i.strings, i.joins) for i in found] == [
        (pole, strings, 2) for strings in ([1, 2], [1, 2, 3]) for pole in ("positive", "negative")
    ]
    assert [i.current_a for i in found] == pytest.approx([16.0, 16.0, 24.0, 24.0])
    assert {i.rating_a for i in found} == {30.0}
    assert {i.where.code for i in found} == {"joins-string"}
    others = [i.where.parameters["others"] for i in found]
    assert [(o.code, o.parameters["number"]) for o in others] == [
        ("string-number", 1.0), ("string-number", 1.0), ("strings-to", 2.0), ("strings-to", 2.0),
    ]  # fmt: skip


@pytest.mark.parametrize(("count", "code"), [(2, "joins-string"), (3, "joins-strings")])
def test_one_connector_joins_all_strings(count: int, code: str) -> None:
    strings = [(n,) for n in range(count)]
    found = of_kind(parts(*strings, connectors={"joining": "n-to-one"}), "branch-connector")
    assert [(i.polarity, i.joins) for i in found] == [("positive", count), ("negative", count)]
    assert {i.where.code for i in found} == {code}
    assert of_kind(parts((0, 1, 2)), "branch-connector") == []


def test_a_fuse_of_a_string_alone_sits_in_its_cable() -> None:
    """Its holder is bought with the cable; those of strings that are joined are parts."""
    feeding = {"controllers": [controller(blocks_reverse_current=False)]}
    (alone,) = of_kind(parts((0, 1), **feeding), "string-fuse")
    assert (alone.rating_a, alone.part_key) == (10.0, "")
    joined = of_kind(parts((0,), (1,), **feeding), "string-fuse")
    assert [item.strings for item in joined] == [[1], [2]]
    assert all("string-fuse-holder" in item.part_key for item in joined)
    assert of_kind(parts((0,), (1,)), "string-fuse") == []


def test_the_way_in_starts_at_the_string_or_where_strings_join() -> None:
    """Without places its length is not known."""
    for strings, code in ((((0, 1),), "string-to-entry"), (((0,), (1,)), "connector-to-entry")):
        (item,) = of_kind(parts(*strings), "extension")
        assert (item.where.code, item.pieces, item.length_m) == (code, 2, None)


PLACES = {0: (0.0, 0.0), 1: (1.0, 2.0), 2: (3.0, 2.0), 3: (3.0, 0.0)}
LAYOUT = {
    "entry_x_m": 4.0,
    "entry_y_m": 1.0,
    "slack_fraction": 0.1,
    "places": [{"panel": f"sheet-{n + 1}", "x_m": x, "y_m": y} for n, (x, y) in PLACES.items()],
}


def test_a_cable_runs_along_and_across_with_a_tenth_more() -> None:
    """1 m + 2 m and a tenth are 3.3 m, of which two leads of 0.5 m leave 2.3 m."""
    found = of_kind(parts((0, 1), layout=LAYOUT), "extension")
    told = {(i.polarity, round(i.length_m or 0.0, 6)) for i in found}
    # From 0 at its lead's end: 4 + 1 m; from 1: 3 + 1 m.
    assert told == {("between-panels", 2.3), ("positive", 5.0), ("negative", 3.9)}
    keys = {item.polarity: item.part_key for item in found}
    assert "2300" in keys["between-panels"], "bought as long; the way in is cut from a roll"
    assert keys["positive"] == keys["negative"] == ""


def test_a_lead_that_is_a_hand_too_short_needs_an_extension() -> None:
    """1 m between boxes, and a tenth of slack: two leads of 0.52 m miss 0.06 m, of 0.55 m none."""
    for lead_m, lengths in ((0.52, [0.06]), (0.55, [])):
        groups = [panels("sheet", 4, plate(), lead_length_m=lead_m)]
        near = [p | {"x_m": 1.0 * n, "y_m": 0.0} for n, p in enumerate(LAYOUT["places"])]
        design = settle(request(groups, layout=LAYOUT | {"places": near}))
        array = figures(design, Wired(0, ((0, 1),)))
        found = stretches(HarnessRoof(design, design.request.layout), array)
        between = [one.length_m for one in found if one.polarity == "between-panels"]
        assert between == pytest.approx(lengths)
        bought = harness(
            design, HarnessRoof(design, design.request.layout), array, string_fuses(design, array)
        )
        leads = [one for one in bought if one.polarity == "between-panels"]
        assert [one.length_m for one in leads] == pytest.approx([0.1] * len(lengths))


def test_strings_meet_at_the_end_next_to_the_entry() -> None:
    """Plus leads of 0 and 3 meet at 3, 2 m from the entry; minus leads of 1 and 2 at 2."""
    found = of_kind(parts((0, 1), (3, 2), layout=LAYOUT), "extension")
    told = {(i.polarity, tuple(i.strings)): i.length_m for i in found if len(i.strings) > 1}
    assert told == {
        ("positive", (1, 2)): pytest.approx(1.1 * 2.0),
        ("negative", (1, 2)): pytest.approx(1.1 * 2.0),
    }
    ways = {i.polarity: i.length_m for i in found if i.strings == [1]}
    assert ways == {
        "between-panels": pytest.approx(2.3),
        "positive": pytest.approx(1.1 * 3.0 - 0.5),
        "negative": pytest.approx(1.1 * 2.0 - 0.5),
    }


def test_a_panel_at_the_entry_needs_no_extension() -> None:
    """0.5 m of lead reaches 0.4 m along and across with a tenth more, but not 0.5 m."""
    for away_m, poles in ((0.4, []), (0.5, ["positive", "negative"])):
        at = [*LAYOUT["places"][:-1], {"panel": "sheet-4", "x_m": 4.0 - away_m, "y_m": 1.0}]
        found = of_kind(parts((3,), layout=LAYOUT | {"places": at}), "extension")
        assert [item.polarity for item in found] == poles
    # Another string meets it there, with its lead or with 0.05 m more.
    for other_m, lengths in ((0.3, []), (0.5, [0.05, 0.05])):
        spots = {"sheet-3": (4.0 - other_m, 1.0), "sheet-4": (4.0, 1.0)}
        near = [p for p in LAYOUT["places"] if p["panel"] not in spots]
        near += [{"panel": name, "x_m": x, "y_m": y} for name, (x, y) in spots.items()]
        found = of_kind(parts((2,), (3,), layout=LAYOUT | {"places": near}), "extension")
        assert [item.length_m for item in found] == pytest.approx(lengths)


def refused(**more: Any) -> set[str]:
    groups = more.pop("panels", [panels("sheet", 2, plate())])
    try:
        validate(request(groups, **more))
    except ContradictionError as caught:
        return {fault.pointer for fault in caught.faults}
    return set()


def shade(*weights: float) -> list[dict[str, Any]]:
    own = {"irradiance_w_m2": 800.0, "cell_temperature_c": 40.0, "light": []}
    return [{"name": f"{n}", "weight_fraction": w} | own for n, w in enumerate(weights)]


def site(low: float, high: float, cell: float | None) -> dict[str, Any]:
    return {"lowest_ambient_c": low, "highest_ambient_c": high, "hot_cell_c": cell}


@pytest.mark.parametrize(
    ("held", "broken", "pointer"),
    [
        # A charge ends at no less than the nominal voltage, and at 1.4 times at the most.
        ({"battery": battery(charge_voltage_v=12.0)}, {"battery": battery(charge_voltage_v=11.9)},
         "/battery/charge_voltage_v"),
        ({"battery": battery(charge_voltage_v=16.8)}, {"battery": battery(charge_voltage_v=16.9)},
         "/battery/charge_voltage_v"),
        ({"battery": battery(24, working_voltage_v=19.2)},
         {"battery": battery(24, working_voltage_v=19.1)}, "/battery/working_voltage_v"),
        ({"battery": battery(24, working_voltage_v=33.6)},
         {"battery": battery(24, working_voltage_v=33.7)}, "/battery/working_voltage_v"),
        ({"shade": shade(0.6, 0.4)}, {"shade": shade(0.6, 0.41)}, "/shade"),
        ({"site": site(38.0, 38.0, None)}, {"site": site(38.1, 38.0, None)},
         "/site/lowest_ambient_c"),
        ({"site": site(0.0, 38.0, 38.0)}, {"site": site(0.0, 38.0, 37.9)}, "/site/hot_cell_c"),
        ({"panels": [panels("a", 23, plate()), panels("b", 1, plate())]},
         {"panels": [panels("a", 23, plate()), panels("b", 2, plate())]}, "/panels"),
    ],
)  # fmt: skip
def test_either_side_of_what_a_request_may_say(
    held: dict[str, Any], broken: dict[str, Any], pointer: str
) -> None:
    assert refused(**held) == set()
    assert refused(**broken) == {pointer}


def named(name: str, count: int, *instances: str) -> dict[str, Any]:
    return panels(name, count, plate()) | {"instances": list(instances)}


@pytest.mark.parametrize(
    ("types", "pointers"),
    [
        ((named("a", 2, "x", "x"),), {"/panels/0/instances/1"}),
        ((panels("a", 2, plate()), named("b", 1, "a-2")), {"/panels/1/instances/0"}),
        ((panels("a", 1, plate()), panels("a", 1, plate())), {"/panels/1/name"}),
        ((named("a", 2, "x"),), {"/panels/0/instances"}),
        ((named("a", 1, "x"), named("b", 1, "y")), set()),
    ],
)
def test_names_of_panels_are_refused_where_they_stand(types: Any, pointers: set[str]) -> None:
    """At the panel's own name where it has one, else at that of its type."""
    assert refused(panels=list(types)) == pointers


def test_refused_voltages_are_told_with_what_a_bank_may_have() -> None:
    """0.8 to 1.4 times 24 V while charging, 1.4 times at the end."""
    broken = battery(24, working_voltage_v=19.0, charge_voltage_v=40.0)
    with pytest.raises(ContradictionError) as caught:
        validate(request([panels("a", 1, plate())], battery=broken))
    told = {fault.pointer: fault.message.parameters for fault in caught.value.faults}
    assert told["/battery/charge_voltage_v"] == pytest.approx({"nominal_v": 24.0, "most_v": 33.6})
    assert told["/battery/working_voltage_v"] == pytest.approx(
        {"least_v": 19.2, "most_v": 33.6, "nominal_v": 24.0}
    )
