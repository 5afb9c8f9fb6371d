"""Strict JSON: what is taken, what is refused, and in which words."""

import math
import struct
from typing import Annotated

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import Meta

from sunhitch.codec import MalformedBody, NonFiniteError, decode_strict, encode, repeated_keys
from sunhitch.faults import MOST_FAULTS, expected, faults_of
from sunhitch.problems import malformed
from sunhitch.types.base import Input
from sunhitch.types.panel import CellLayout, PanelElectrical
from sunhitch.types.revision import WantedValue
from sunhitch.types.shade import Curve, PowerPoint, ShadedIvRequest
from sunhitch.types.system import Battery, SiteTemperatures
from sunhitch.types.wiring import ConductorSize

BATTERY = b'{"chemistry": "agm", "nominal_voltage_v": %s, "capacity_ah": 100}'

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
    ),
    max_leaves=20,
)


def test_what_was_written_is_read_back() -> None:
    battery = Battery(chemistry="gel", nominal_voltage_v=24, capacity_ah=99.5)
    assert decode_strict(encode(battery), Battery) == battery


@pytest.mark.parametrize("text", [b"12", b"12.0", b"1.2e1"])
def test_a_whole_number_may_be_written_as_a_decimal(text: bytes) -> None:
    assert decode_strict(BATTERY % text, Battery).nominal_voltage_v == 12


@pytest.mark.parametrize("text", [b'"12"', b"13", b"12.5", b"true", b"null", b"[12]"])
def test_nothing_else_is_taken_for_a_number(text: bytes) -> None:
    with pytest.raises(MalformedBody) as caught:
        decode_strict(BATTERY % text, Battery)
    assert caught.value.pointer == "/nominal_voltage_v"
    assert "`12`, `24`, `36`, `48`" in caught.value.message


@pytest.mark.parametrize(
    ("kind", "value", "near"),
    [
        (ConductorSize, {"awg": 10}, '"10"'),
        (ConductorSize, {"awg": "1 / 0"}, None),
        (Battery, {"nominal_voltage_v": "24"}, "24"),
        (Battery, {"nominal_voltage_v": 120}, None),
        (Battery, {"chemistry": "Lithium iron_phosphate"}, '"lithium-iron-phosphate"'),
        (Battery, {"chemistry": "agn"}, None),
        (SiteTemperatures, {"lowest_ambient_c": "cold"}, None),
    ],
)
def test_a_word_that_is_nearly_right_is_told(kind: object, value: object, near: str | None) -> None:
    """A list of sizes in which 10 stands, and a message that got 10, are no help."""
    fault = next(one for one in faults_of(value, kind) if "; got " in one.message)
    assert fault.message.partition("Did you mean ")[2] == ("" if near is None else f"{near}?")


def test_pointers_escape_what_json_pointer_asks_for() -> None:
    with pytest.raises(MalformedBody) as caught:
        decode_strict(b'{"a/b~c": 1}', Battery)
    assert "/a~1b~0c" in [fault.pointer for fault in caught.value.faults]


def test_missing_fields_say_what_belongs_there() -> None:
    with pytest.raises(MalformedBody) as caught:
        decode_strict(b"{}", PanelElectrical)
    by_pointer = {fault.pointer: fault.message for fault in caught.value.faults}
    assert by_pointer["/p_mp_w"] == "Missing. Expected a number from 0.1 to 2000 W: Maximum power."
    assert "/alpha_sc_fraction_per_c" not in by_pointer


def test_the_list_of_faults_is_bounded() -> None:
    body = msgspec.json.encode({"panels": [{}] * 60, "wiring": {"strings": [[]] * 60}})
    with pytest.raises(MalformedBody) as caught:
        decode_strict(body, ShadedIvRequest)
    told = malformed(caught.value.faults)
    assert len(told.errors) == MOST_FAULTS == 50
    assert told.detail.startswith("51 fields or more do not fit; the first 50 are named")


def test_faults_inside_alternatives_are_found() -> None:
    body = b'{"paths_in_parallel": 1, "positions_in_series": 2, "bypass": [], "order": [[0, -1]]}'
    with pytest.raises(MalformedBody) as caught:
        decode_strict(body, CellLayout)
    assert {fault.pointer for fault in caught.value.faults} == {"/bypass", "/order/0/1"}


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        (int, "a whole number"),
        (bool | None, "true or false or null"),
        (list[str], "a list"),
        (Annotated[list[int], Meta(min_length=1)], "a list of at least 1 entry"),
        (Annotated[list[int], Meta(min_length=2, max_length=2)], "a list of exactly 2 entries"),
        (dict[str, int], "an object"),
        (Battery, "an object with the fields chemistry, nominal_voltage_v, capacity_ah"),
    ],
)
def test_types_in_words(kind: object, words: str) -> None:
    assert expected(kind) == words


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_numbers_that_json_cannot_carry_never_leave(number: float) -> None:
    with pytest.raises(NonFiniteError, match="/power_w"):
        encode(PowerPoint(power_w=number, voltage_v=0.0, current_a=0.0))
    with pytest.raises(NonFiniteError, match="/voltage_v/1"):
        encode(Curve(voltage_v=[0.0, number], current_a=[0.0, 0.0]))


@pytest.mark.parametrize("number", [2**64, -(2**63) - 1, 10**400])
def test_whole_numbers_beyond_64_bits_are_named_where_they_stand(number: int) -> None:
    asked = WantedValue(pointer="/x", value={"a": [1, number]})
    with pytest.raises(NonFiniteError, match="/value/a/1"):
        encode(asked)
    edges = WantedValue(pointer="/x", value=[2**64 - 1, -(2**63)])
    assert decode_strict(encode(edges), WantedValue) == edges


def test_bytes_that_look_like_such_a_number_do_leave() -> None:
    (lookalike,) = struct.unpack(">d", bytes.fromhex("3fcb7ff1cbfff800"))
    curve = Curve(voltage_v=[lookalike, 1.0], current_a=[lookalike, 2.0])
    assert decode_strict(encode(curve), Curve) == curve


class Loose(Input, kw_only=True):
    """Anything may be missing."""

    number: float | None = None
    items: list[int] = []
    nested: "Loose | None" = None


@given(JSON)
def test_a_value_has_faults_exactly_if_it_does_not_fit(value: object) -> None:
    try:
        msgspec.convert(value, Loose)
    except msgspec.ValidationError:
        assert faults_of(value, Loose)
    else:
        assert faults_of(value, Loose) == []


@given(st.binary(max_size=60))
def test_any_bytes_are_read_or_refused(body: bytes) -> None:
    try:
        read = decode_strict(body, Loose)
    except MalformedBody as refusal:
        assert refusal.message
    else:
        assert decode_strict(encode(read), Loose) == read


@pytest.mark.parametrize(
    ("body", "pointers"),
    [
        (b'{"a": 1, "a": 1}', ["/a"]),
        (b'{"a" :1,"a":2,"b":3,"b":4}', ["/a", "/b"]),
        (b'{"a": {"b/c": [1, {"d": 1, "d": {"e": 1, "e": 2}}]}}', ["/a/b~1c/1/d", "/a/b~1c/1/d/e"]),
        (b'{"a": 1, "\\u0061": 2}', ["/a"]),
        (b'{"note": "\\u003a", "a": 1, "a": 2}', ["/a"]),
        (b'{"a": ":::", "a": ""}', ["/a"]),
        (b'{"a": [{"b": 1}, {"b": 1}], "c": "b\\": 1", "d": "\\u003a:", "A": 0}', []),
        (b"[]", []),
    ],
)
def test_no_key_is_given_twice(body: bytes, pointers: list[str]) -> None:
    assert [fault.pointer for fault in repeated_keys(body)] == pointers


@given(JSON)
def test_no_key_of_a_proper_body_seems_repeated(value: object) -> None:
    assert repeated_keys(msgspec.json.encode(value)) == []


def test_a_request_with_a_repeated_key_is_refused() -> None:
    body = BATTERY.replace(b"{", b'{"capacity_ah": 5, ') % b"12"
    with pytest.raises(MalformedBody) as caught:
        decode_strict(body, Battery)
    assert [(f.pointer, f.location) for f in caught.value.faults] == [("/capacity_ah", "body")]


@given(st.lists(st.integers(0, 9) | st.text(max_size=1), max_size=80))
def test_every_entry_that_does_not_fit_is_named(entries: list[int | str]) -> None:
    wrong = [f"/{place}" for place, one in enumerate(entries) if isinstance(one, str)]
    assert [fault.pointer for fault in faults_of(entries, list[int])] == wrong[: MOST_FAULTS + 1]
