"""The published schema: valid, fresh, and kept by the service."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from contract_serving import Served
from contract_toys import toys
from hypothesis import HealthCheck, seed, settings
from openapi_spec_validator import validate
from schemathesis import Case
from schemathesis.config import SchemathesisConfig
from schemathesis.core.parameters import ParameterLocation
from schemathesis.specs.openapi.checks import negative_data_rejection

from sunhitch_service.calculations import calculations
from sunhitch_service.http import export, openapi

COMMITTED = Path(__file__).parents[2] / "openapi" / "openapi.json"
BOUNDED = settings(
    max_examples=6, deadline=None, suppress_health_check=list(HealthCheck), database=None
)
"""Random requests of each operation with each seed; above those, examples and edges."""


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
    height = request["properties"]["height_m"]["anyOf"][0]
    assert (height["minimum"], height["maximum"], height["x-unit"]) == (0.0, 10.0, "m")
    assert request["properties"]["height_m"]["description"] == "Height."
    assert "`round`" in schemas["Round"]["properties"]["kind"]["description"]
    assert request["properties"]["shapes"]["maxItems"] == 20
    assert "discriminator" in json.dumps(request["properties"]["shapes"])
    assert set(schemas["ToyAnswer"]["required"]) == set(schemas["ToyAnswer"]["properties"])


def _all_described(choices: list[dict[str, str]]) -> bool:
    return bool(choices) and all(
        "description" in choice for choice in choices if choice.get("type") != "null"
    )


def test_no_description_of_a_type_is_indented_as_code() -> None:
    """CommonMark: a line indented by four after an empty one is a code block."""
    schemas = openapi.document(calculations())["components"]["schemas"]
    assert not [name for name, one in schemas.items() if "\n    " in one.get("description", "")]


def test_every_field_is_described() -> None:
    schemas = openapi.document(calculations())["components"]["schemas"]
    silent = [
        f"{name}.{field}"
        for name, schema in schemas.items()
        for field, content in schema["properties"].items()
        if not content.get("description") and not _all_described(content.get("anyOf", []))
    ]
    assert silent == []


# Valid bodies come from the examples and by chance, since calculating each combination takes long.
# A schema cannot say which values contradict each other, so 422 is a right answer to a valid body.
# What does not depend on chance, the examples and the edges of the schema, is tried with the first
# seed only.
CHECKS = {"positive_data_acceptance": {"expected-statuses": ["2xx", 422]}}
PHASES: dict[int, dict[str, Any]] = {
    1: {"coverage": {"generation": {"mode": "negative"}}},
    2: {"coverage": {"enabled": False}, "examples": {"enabled": False}},
    3: {"coverage": {"enabled": False}, "examples": {"enabled": False}},
}
PATIENCE_S = 120.0
"""A year's harvest takes seconds, and more on a busy machine."""
DOCUMENT = openapi.document(calculations())
DOCUMENT_OF_TOYS = openapi.document(toys())
DOCUMENT_OF_TOYS["paths"] = {
    path: item for path, item in DOCUMENT_OF_TOYS["paths"].items() if path.endswith("/add-up")
}


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


def _keeps_the_contract(case: Case, url: str) -> None:
    if "text" not in str((case.query or {}).get("errors")):
        excluded = [negative_data_rejection] if _only_lines_are_wrong(case) else []
        case.call_and_validate(base_url=url, excluded_checks=excluded)
        return
    # Spreadsheets may ask for errors as readable text with status 200, which no check can tell from
    # an answer; so the same question must be refused rightly when it asks for problem documents.
    case.call_and_validate(base_url=url, excluded_checks=[negative_data_rejection])
    case.query = {**(case.query or {}), "errors": "problem"}
    case.call_and_validate(base_url=url)


def _tested(document: dict[str, Any], number: int, fixture: str) -> Callable[..., None]:
    """A test of every operation of a document, with random numbers of one seed."""
    config = SchemathesisConfig.from_dict(
        {"phases": PHASES[number], "checks": CHECKS, "request-timeout": PATIENCE_S}
    )

    @schemathesis.openapi.from_dict(document, config=config).parametrize()
    @seed(number)
    @BOUNDED
    def kept(case: Case, request: pytest.FixtureRequest) -> None:
        served: Served = request.getfixturevalue(fixture)
        _keeps_the_contract(case, served.url)

    return kept


test_the_service_keeps_the_contract = _tested(DOCUMENT, 1, "service")
test_the_service_keeps_the_contract_with_a_second_seed = _tested(DOCUMENT, 2, "service")
test_the_service_keeps_the_contract_with_a_third_seed = _tested(DOCUMENT, 3, "service")
test_the_service_keeps_the_contract_of_toys = _tested(DOCUMENT_OF_TOYS, 1, "toy_service")
