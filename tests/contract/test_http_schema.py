"""The published schema: valid, fresh, and kept by the service.

A third of the 25,000 edges of the schema is tried; SUNHITCH_EDGES=1 tries all of them.
"""

import copy
import json
import os
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest
import requests
import schemathesis
from contract_serving import PATIENCE_S, Served
from contract_toys import toys
from hypothesis import HealthCheck, settings
from jsonschema import Draft202012Validator
from openapi_spec_validator import validate
from plausible import example, light_example
from schemathesis import Case, HookContext
from schemathesis.config import SchemathesisConfig
from schemathesis.core.parameters import ParameterLocation
from schemathesis.generation.hypothesis.builder import (
    HypothesisTestConfig,
    HypothesisTestMode,
    create_test,
)
from schemathesis.generation.meta import TestPhase
from schemathesis.specs.openapi.checks import negative_data_rejection

from sunhitch import examples
from sunhitch.codec import decode_strict, encode
from sunhitch.operations import FIT_OUT, HARVEST, MOUNT_CHECK, OPERATIONS, WIRE_SIZING
from sunhitch.operations import FIT_OUT_CHANGE as CHANGE
from sunhitch.questions import QUESTIONS
from sunhitch.types.base import Input
from sunhitch_service.calculations import calculations
from sunhitch_service.http import export
from sunhitch_service.schema import answers, openapi
from sunhitch_service.schema.paths import BATCH

COMMITTED = Path(__file__).parents[2] / "openapi" / "openapi.json"
DOCUMENT = openapi.document(calculations())
BOUNDED = settings(
    max_examples=6, deadline=None, suppress_health_check=list(HealthCheck), database=None
)
"""Random requests of each operation, the same in every run; above those, examples and edges."""


def test_the_committed_schema_is_fresh() -> None:
    fresh = openapi.encoded(calculations())
    assert COMMITTED.read_bytes() == fresh, (
        "run: python -m sunhitch_service.http.export openapi/openapi.json"
    )


def test_the_export_writes_what_the_service_publishes(service: Served, tmp_path: Path) -> None:
    target = tmp_path / "openapi.json"
    assert export.main([str(target)]) == 0
    assert target.read_bytes() == service.http.get("/openapi.json").content


@pytest.mark.parametrize("endpoints", [calculations(), toys()], ids=["contract", "toys"])
def test_the_schema_is_valid_openapi(endpoints: tuple[openapi.AnyCalculation, ...]) -> None:
    validate(openapi.document(endpoints))


def test_limits_units_and_words_reach_the_schema() -> None:
    schemas = openapi.document(toys())["components"]["schemas"]
    request = schemas["ToyRequest"]
    assert request["description"] == "Shapes to add up."
    assert request["additionalProperties"] is False
    assert request["required"] == ["name", "shapes"]
    height = request["properties"]["height_m"]
    assert height["type"] == ["number", "null"]
    assert (height["minimum"], height["maximum"], height["x-unit"]) == (0.0, 10.0, "m")
    assert (height["title"], height["description"]) == ("Height (m)", "Height.")
    assert "`round`" in schemas["Round"]["properties"]["kind"]["description"]
    assert request["properties"]["shapes"]["maxItems"] == 20
    assert "discriminator" in json.dumps(request["properties"]["shapes"])
    assert set(schemas["ToyAnswer"]["required"]) == set(schemas["ToyAnswer"]["properties"])


def test_no_description_of_a_type_is_indented_as_code() -> None:
    """CommonMark: a line indented by four after an empty one is a code block."""
    schemas = DOCUMENT["components"]["schemas"]
    assert not [name for name, one in schemas.items() if "\n    " in one.get("description", "")]


def _parts(value: Any, at: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every object within some JSON, with its place."""
    if isinstance(value, dict):
        yield at, value
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    for name, one in inner:
        if isinstance(one, dict | list):
            yield from _parts(one, f"{at}/{name}")


def test_every_property_has_title_and_description_and_a_plain_type() -> None:
    """What form builders show, and what generators would make choosers and nameless types of."""
    found = list(_parts(DOCUMENT["components"]["schemas"]))
    properties = [
        (f"{at}/{name}", one)
        for at, schema in found
        for name, one in schema.get("properties", {}).items()
        if not at.endswith("/not")
    ]
    assert len(properties) > 1000
    assert [at for at, one in properties if not (one.get("title") and one.get("description"))] == []
    kinds = ("type", "$ref", "anyOf", "oneOf")
    assert [at for at, one in properties if sum(kind in one for kind in kinds) != 1] == []
    assert [
        at for at, one in found if "enum" in one and (at.count("/") > 1 or "type" not in one)
    ] == []
    choosers = [
        (at, one["anyOf"])
        for at, one in found
        if {"type": "null"} in one.get("anyOf", [])
        and not any("$ref" in choice or "oneOf" in choice for choice in one["anyOf"])
        and len(one["anyOf"]) <= 2
    ]
    assert choosers == []


def test_one_set_of_words_has_one_name() -> None:
    named = [
        tuple(map(str, one["enum"]))
        for one in DOCUMENT["components"]["schemas"].values()
        if "enum" in one
    ]
    assert len({frozenset(one) for one in named}) == len(named) > 80


def test_every_example_is_an_example() -> None:
    """By an independent validator of JSON Schema, 2020-12."""
    components = {"components": DOCUMENT["components"]}
    count = 0
    for at, one in _parts({**DOCUMENT["components"]["schemas"], "paths": DOCUMENT["paths"]}):
        schema = one.get("schema", one)
        shown = [*one["examples"]] if isinstance(one.get("examples"), list) else []
        shown += [one["example"]] if "example" in one and "schema" in one else []
        if isinstance(one.get("examples"), dict) and "contentMediaType" not in schema:
            shown += [example["value"] for example in one["examples"].values()]
        for one_shown in shown:
            count += 1
            faults = Draft202012Validator({**schema, **components}).iter_errors(one_shown)
            assert not [fault.message for fault in faults], (at, one_shown)
    assert count > 1000


def test_examples_of_answers_are_whole_and_fresh() -> None:
    """All are answers; the quick ones are calculated anew."""
    anew = answers.made_anew([WIRE_SIZING, MOUNT_CHECK])
    for question in QUESTIONS:
        own, shown = anew[question.name], answers.answers()[question.name]
        figures = {name for name, one in own.items() if isinstance(one, float)}
        assert own.keys() == shown.keys()
        assert [own[name] for name in own.keys() - figures] == [
            shown[name] for name in own.keys() - figures
        ]
        assert [own[name] for name in figures] == pytest.approx([shown[name] for name in figures])
    for operation in OPERATIONS:
        shown = answers.answers()[operation.name]
        decode_strict(json.dumps(shown).encode(), operation.answer)
        assert shown.keys() == set(operation.answer.__struct_fields__)
        if operation.name in anew:
            assert shown["verdict"] == anew[operation.name]["verdict"]
            assert shown["checks"][0]["code"] == anew[operation.name]["checks"][0]["code"]


def test_lines_of_streams_are_described() -> None:
    schemas = DOCUMENT["components"]["schemas"]
    for endpoint in calculations():
        content = DOCUMENT["paths"][BATCH.format(calculation=endpoint.operation.name)]["post"][
            "responses"
        ]["200"]["content"]
        ref = content["application/x-ndjson"]["schema"]["contentSchema"]["$ref"]
        line = schemas[ref.rpartition("/")[2]]
        assert set(line["discriminator"]["mapping"]) == {"progress", "answer", "problem"}


SHIPPED = [(one.name, examples.load(one)) for one in OPERATIONS]


@pytest.mark.parametrize(("name", "request_"), SHIPPED, ids=[name for name, _ in SHIPPED])
def test_a_request_has_a_schema_by_itself_for_forms(
    name: str, request_: Input, service: Served
) -> None:
    """It takes what is shipped, refuses what lacks something, and offers no null."""
    answer = service.http.get(f"/v1/schemas/{name}")
    assert answer.headers["content-type"] == "application/schema+json"
    schema = answer.json()
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(schema)
    given = json.loads(encode(request_))
    plain = _without_null(given)
    assert [fault.message for fault in validator.iter_errors(plain)] == []
    for needed in schema["required"]:
        assert not validator.is_valid({n: one for n, one in plain.items() if n != needed})
    assert '"null"' not in answer.text
    levels = [one["x-level"] for _, one in _parts(schema) if "x-level" in one]
    assert set(levels) == {"basic", "expert"}
    described = [one for _, part in _parts(schema) for one in part.get("properties", {}).values()]
    assert len(levels) == len(described)
    again = service.http.get(answer.url.path, headers={"If-None-Match": answer.headers["etag"]})
    assert again.status_code == 304


def _without_null(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _without_null(one) for name, one in value.items() if one is not None}
    return [_without_null(one) for one in value] if isinstance(value, list) else value


def test_exactly_one_is_said_in_schemas_as_it_is_judged(service: Served) -> None:
    """`current_a`, `panels_behind` or `controller_output_a`; `length_m` or `length_ft`."""
    given = {
        "circuit": "controller-to-battery",
        "rules": "nec-2023",
        "voltage_v": 12.0,
        "length_m": 3.0,
    }
    whole = DOCUMENT["components"] | {"$ref": "#/schemas/WireSizingRequest"}
    whole = json.loads(json.dumps(whole).replace("#/components/", "#/"))
    alone = service.http.get("/v1/schemas/wire-sizing").json()
    for more, fits in (
        ({}, False),
        ({"current_a": 8.0}, True),
        ({"current_a": 8.0, "controller_output_a": None}, True),
        ({"current_a": 8.0, "controller_output_a": 30.0}, False),
    ):
        assert Draft202012Validator(whole).is_valid(given | more) == fits
        assert Draft202012Validator(alone).is_valid(_without_null(given | more)) == fits
        assert (service.http.post("/v1/wire-sizing", json=given | more).status_code == 200) == fits
    asked = Draft202012Validator(service.http.get("/v1/schemas/wire-size").json())
    flat = {"current_a": 20.0, "voltage_v": 12.0}
    for more, fits in (
        ({"length_m": 4.0}, True),
        ({"length_ft": 13.0}, True),
        ({}, False),
        ({"length_m": 4.0, "length_ft": 13.0}, False),
        ({"length_m": 4.0, "i_sc_a": 6.0}, False),
    ):
        assert asked.is_valid(flat | more) == fits
        found = service.http.get("/v1/quick/wire-size", params=flat | more)
        assert (found.status_code == 200) == fits


# Valid bodies come from the examples and by chance, since calculating each combination takes long.
# A schema cannot say which values contradict each other, so 422 is a right answer to a valid body.
CHECKS = {"positive_data_acceptance": {"expected-statuses": ["2xx", 422]}}
EDGES = {"coverage": {"generation": {"mode": "negative"}}}
SHARE = float(os.environ.get("SUNHITCH_EDGES", "0.33"))
"""Of the edges of a request."""


@schemathesis.serializer("application/x-ndjson")
def as_lines(_context: object, value: object) -> bytes:
    """Any text is a batch: lines that do not fit are answered by problems."""
    return str(value).encode()


def _only_lines_are_wrong(case: Case) -> bool:
    """Whatever was meant to be wrong in the body of a batch is text once it is sent, and so right.

    The check does the same for other media types of text; it does not know that this is one.
    """
    assert case.meta is not None
    wrong = {place for place, info in case.meta.components.items() if info.mode.is_negative}
    return case.path.startswith("/v1/batch/") and wrong == {ParameterLocation.BODY}


@pytest.fixture(scope="module")
def http() -> Iterator[requests.Session]:
    """Connections that stay open from one case to the next."""
    with requests.Session() as session:
        session.trust_env = False
        yield session


def _keeps_the_contract(case: Case, http: requests.Session) -> None:
    if "text" not in str((case.query or {}).get("errors")):
        excluded = [negative_data_rejection] if _only_lines_are_wrong(case) else []
        case.call_and_validate(session=http, excluded_checks=excluded)
        return
    # Spreadsheets may ask for errors as readable text with status 200, which no check can tell from
    # an answer; so the same question must be refused rightly when it asks for problem documents.
    case.call_and_validate(session=http, excluded_checks=[negative_data_rejection])
    case.query = {**(case.query or {}), "errors": "problem"}
    case.call_and_validate(session=http)


def _phase(case: Case) -> TestPhase:
    assert case.meta is not None
    return case.meta.phase.name


def _shorter(path: dict[str, Any]) -> dict[str, Any]:
    """With two days as the example of a study, since chance takes examples again and again."""
    content = path.get("post", {}).get("requestBody", {}).get("content", {})
    if not any("harvest" in one.get("examples", {}) for one in content.values()):
        return path
    brief = light_example(HARVEST)
    shorter: dict[str, Any] = copy.deepcopy(path)
    for one in shorter["post"]["requestBody"]["content"].values():
        as_text = one["schema"].get("type") == "string"
        one["examples"]["harvest"]["value"] = json.dumps(brief) + "\n" if as_text else brief
    return shorter


def _whole_jobs(document: dict[str, Any]) -> dict[str, Any]:
    """With one job in a change: the edges of a job are those of its own call."""
    schemas = document["components"]["schemas"]
    change = schemas[CHANGE.request.__name__]
    job = {"const": example(FIT_OUT)}
    change = {**change, "properties": {**change["properties"], "job": job}}
    return {
        **document,
        "components": {
            **document["components"],
            "schemas": {**schemas, CHANGE.request.__name__: change},
        },
    }


def _cases_keep_the_contract(
    document: dict[str, Any],
    path: str,
    served: Served,
    http: requests.Session,
    *modes: HypothesisTestMode,
) -> None:
    """Cases are made here: the tool's own decorator makes all of them when tests are collected."""
    config = SchemathesisConfig.from_dict(
        {
            "phases": EDGES,
            "checks": CHECKS,
            "request-timeout": PATIENCE_S,
            "base-url": served.url,
        }
    )
    alone = {**document, "paths": {path: _shorter(document["paths"][path])}}
    tried: list[TestPhase] = []
    random = Random(path)

    @BOUNDED
    def kept(case: Case) -> None:
        tried.append(_phase(case))
        _keeps_the_contract(case, http)

    schema = schemathesis.openapi.from_dict(alone, config=config)

    @schema.hook
    def filter_case(_context: HookContext, case: Case) -> bool:
        return _phase(case) is not TestPhase.COVERAGE or random.random() < SHARE

    for found in schema.get_all_operations():
        operation = found.ok()
        project = operation.schema.config
        chosen = HypothesisTestConfig(project=project, modes=list(modes))
        create_test(operation=operation, test_func=kept, config=chosen)()
    assert TestPhase.FUZZING in tried
    assert (TestPhase.COVERAGE in tried) is (HypothesisTestMode.COVERAGE in modes)


@pytest.mark.parametrize("path", DOCUMENT["paths"])
def test_the_service_keeps_the_contract(path: str, service: Served, http: requests.Session) -> None:
    document = _whole_jobs(DOCUMENT) if path == CHANGE.path else DOCUMENT
    _cases_keep_the_contract(document, path, service, http, *HypothesisTestMode)


def test_the_service_keeps_the_contract_of_changes_of_any_job(
    service: Served, http: requests.Session
) -> None:
    chance = HypothesisTestMode.FUZZING
    _cases_keep_the_contract(DOCUMENT, CHANGE.path, service, http, chance)


@pytest.mark.parametrize("path", ["/v1/add-up", "/v1/batch/add-up"])
def test_the_service_keeps_the_contract_of_toys(
    path: str, toy_service: Served, http: requests.Session
) -> None:
    _cases_keep_the_contract(openapi.document(toys()), path, toy_service, http, *HypothesisTestMode)
