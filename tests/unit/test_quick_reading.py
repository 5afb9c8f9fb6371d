"""How the text of a query becomes a question: units, limits, and every fault at its parameter."""

import math
from urllib.parse import parse_qs

import pytest

from sunhitch.faults import fault_at
from sunhitch.questions import BY_NAME, QUESTIONS, AnyQuestion
from sunhitch.texts import Text
from sunhitch.types.problem import FieldError
from sunhitch_service.drawing.columns import Columns, CsvStyle, plain
from sunhitch_service.quick.parameters import by_name, slots
from sunhitch_service.quick.reading import UnreadableError, located, read

FEET = "rows=3&columns=2&speed_mph=60"
DROP = "current_a=20&voltage_v=12"


def given(query: str) -> dict[str, list[str]]:
    return parse_qs(query, keep_blank_values=True)


def faults(name: str, query: str) -> list[FieldError]:
    with pytest.raises(UnreadableError) as refusal:
        read(BY_NAME[name], given(query))
    assert all(one.location == "query" for one in refusal.value.faults)
    return refusal.value.faults


@pytest.mark.parametrize(
    ("query", "field", "value"),
    [
        # NIST SP 811, appendix B.8: 1 ft = 0.3048 m, 1 mi/h = 0.44704 m/s, t/°C = (t/°F − 32)/1.8.
        ("dynamic-pressure?speed_m_s=10", "speed_m_s", 10.0),
        ("dynamic-pressure?speed_km_h=36", "speed_m_s", 10.0),
        ("dynamic-pressure?speed_mph=60", "speed_m_s", 26.8224),
        ("dynamic-pressure?speed_m_s=1&altitude_ft=1000", "altitude_m", 304.8),
        ("dynamic-pressure?speed_m_s=1&air_f=-40", "air_c", -40.0),
        ("dynamic-pressure?speed_m_s=1&air_f=50", "air_c", 10.0),
        (f"voltage-drop?{DROP}&length_ft=10&awg=1/0", "length_m", 3.048),
        (f"voltage-drop?{DROP}&length_m=3&awg=1/0", "awg", "1/0"),
        (f"voltage-drop?{DROP}&length_m=3&area_mm2=2.5", "area_mm2", 2.5),
        ("cold-voc?v_oc_v=2.29e1&lowest_ambient_c=-18.", "v_oc_v", 22.9),
        ("cold-voc?v_oc_v=22.9&lowest_ambient_c=-18&panels_in_series=3.0", "panels_in_series", 3),
        (f"foot-load?{FEET}&length_ft=4&width_ft=2&mass_lb=5", "mass_kg", 2.26796185),
    ],
)
def test_values_arrive_in_the_units_of_the_contract(
    query: str, field: str, value: float | str
) -> None:
    name, _, asked = query.partition("?")
    found = getattr(read(BY_NAME[name], given(asked)), field)
    assert found == (value if isinstance(value, str) else pytest.approx(value, rel=1e-12))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("NaN", "got `NaN`"),
        ("Infinity", "got `Infinity`"),
        ("-inf", "got `-inf`"),
        ("1e999", "got `1e999`"),
        ("1_0", "got `1_0`"),
        ("٣", "got `٣`"),
        ("0x10", "got `0x10`"),
        (" 5", "got ` 5`"),
        ("", "got nothing"),
        ("12,5", "Write decimals with a point."),
        ("0", "a number from 1 to 1500 V"),
        ("1500.001", "a number from 1 to 1500 V"),
        ("z" * 500, "…`"),
    ],
)
def test_what_is_no_number_within_limits_is_refused(text: str, said: str) -> None:
    query = given("current_a=20&length_m=4&awg=10") | {"voltage_v": [text]}
    with pytest.raises(UnreadableError) as refusal:
        read(BY_NAME["voltage-drop"], query)
    (fault,) = refusal.value.faults
    assert fault.pointer == "/voltage_v"
    assert said in fault.message
    assert len(fault.message) < 200


def test_limits_are_told_in_the_unit_that_was_used() -> None:
    (fault,) = faults("voltage-drop", f"{DROP}&length_ft=900&awg=10")
    assert fault.pointer == "/length_ft"
    assert fault.message == "Expected a number from 0.164042 to 656.167 ft; got `900`."


def test_every_fault_is_found_at_once() -> None:
    found = faults(
        "cold-voc", "v_oc_v=0&v_oc_x=1&panels_in_series=2&panels_in_series=2&max_input_voltage_v=4"
    )
    told = {(one.pointer, one.message) for one in found}
    assert told == {
        ("/v_oc_v", "Expected a number from 0.1 to 600 V; got `0`."),
        ("/v_oc_x", "Unknown query parameter; did you mean `v_oc_v`?"),
        ("/panels_in_series", "Given more than once; give it once."),
        ("/max_input_voltage_v", "Expected a number from 5 to 1000 V; got `4`."),
    }


def test_what_is_missing_is_described() -> None:
    (fault,) = faults("cold-voc", "lowest_ambient_c=-18")
    assert fault.pointer == "/v_oc_v"
    assert fault.message.startswith("Missing. Expected a number from 0.1 to 600 V: Open-circuit")


@pytest.mark.parametrize(
    ("query", "pointers"),
    [
        (f"{DROP}&length_m=4", ["/awg"]),
        (f"{DROP}&awg=10", ["/length_m"]),
        (f"{DROP}&length_m=4&length_ft=13&awg=10", ["/length_m", "/length_ft"]),
        (f"{DROP}&length_m=4&awg=10&area_mm2=6", ["/awg", "/area_mm2"]),
        (
            f"{DROP}&length_m=4&awg=10&conductor_temperature_c=75&conductor_temperature_f=167",
            ["/conductor_temperature_c", "/conductor_temperature_f"],
        ),
    ],
)
def test_exactly_one_of_each(query: str, pointers: list[str]) -> None:
    with pytest.raises(UnreadableError) as refusal:
        read(BY_NAME["voltage-drop"], given(query))
    assert refusal.value.contradictory
    assert [one.pointer for one in refusal.value.faults] == pointers


def test_words_are_taken_as_they_are() -> None:
    (fault,) = faults("bolt-torque", "thread=m6&property_class=A2-70")
    assert fault.message.startswith("Expected one of `#10-24`,")
    assert fault.message.endswith("got `m6`.")


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda one: one.name)
def test_limits_in_other_units_are_within_those_of_the_contract(question: AnyQuestion) -> None:
    """Whatever the published limits allow is accepted, and little less than the field allows."""
    own = by_name(question)
    for one in own.values():
        if one.unit is None:
            continue
        for end in ("minimum", "maximum"):
            limit, published = own[one.field].schema[end], one.schema[end]
            assert math.isclose(one.unit.to_si(published), limit, rel_tol=2e-5, abs_tol=1e-4)
            inside = own[one.field].schema
            assert inside["minimum"] <= one.unit.to_si(published) <= inside["maximum"]


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda one: one.name)
def test_parameters_are_described_and_apart(question: AnyQuestion) -> None:
    found = [one for slot in slots(question) for one in slot.parameters]
    names = [one.name for one in found]
    assert len(set(names)) == len(names)
    assert not {"format", "field", "errors"} & set(names)
    for one in found:
        assert one.schema["description"]
        assert one.schema["examples"]
        numeric = one.schema.get("type") in ("number", "integer")
        assert numeric == ("x-unit" in one.schema)
        assert numeric != ("enum" in one.schema)
    assert any(slot.required for slot in slots(question))


def test_faults_of_the_engine_are_told_at_the_parameter_that_was_given() -> None:
    question = BY_NAME["wire-size"]
    engine = [
        fault_at("/runs/0/current_carrying_conductors", Text("a", "mend", {})),
        fault_at("/length_m", Text("b", "mend", {})),
        fault_at("/conductor/stranding", Text("c", "mend", {})),
    ]
    found = located(question, ["length_ft", "current_a"], engine)
    assert [(one.pointer, one.message) for one in found] == [
        ("/current_carrying_conductors", "a"),
        ("/length_ft", "b"),
        ("", "c"),
    ]


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (27.022, "27.022"),
        (14.879999999999999, "14.88"),
        (55.0, "55"),
        (1.5e-7, "0.00000015"),
        (2.5e15, "2500000000000000"),
        (-0.0042, "-0.0042"),
        (3, "3"),
        ("6 AWG", "6 AWG"),
        (None, "none"),
    ],
)
def test_values_are_written_in_plain_decimal(value: float | str | None, text: str) -> None:
    assert plain(value) == text


def test_columns_are_written_as_rfc_4180_says() -> None:
    text = CsvStyle().written(Columns(("size", "why", "fuse_a"), [("6 AWG", 'a, "b"', None)]))
    assert text == '\ufeffsize,why,fuse_a\r\n6 AWG,"a, ""b""",\r\n'
