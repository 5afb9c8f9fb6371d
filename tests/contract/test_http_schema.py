"""The published schema: valid, fresh, and kept by the service."""

import json
from pathlib import Path

import pytest
import schemathesis
from contract_serving import Served
from contract_toys import toys
from hypothesis import HealthCheck, settings
from openapi_spec_validator import validate
from schemathesis import Case
from schemathesis.config import SchemathesisConfig
from schemathesis.specs.openapi.checks import negative_data_rejection

from sunhitch_service.http import export, openapi
from sunhitch_service.http.catalogue import catalogue

COMMITTED = Path(__file__).parents[2] / "openapi" / "openapi.json"
BOUNDED = settings(
    max_examples=10, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True
)


def test_the_committed_schema_is_fresh() -> None:
    fresh = openapi.encoded(catalogue())
    assert COMMITTED.read_bytes() == fresh, (
        "run: python -m sunhitch_service.http.export openapi/openapi.json"
    )


def test_the_export_writes_what_the_service_publishes(service: Served, tmp_path: Path) -> None:
    target = tmp_path / "openapi.json"
    assert export.main([str(target)]) == 0
    assert target.read_bytes() == service.http.get("/openapi.json").content


@pytest.mark.parametrize("endpoints", [catalogue(), toys()], ids=["contract", "toys"])
def test_the_schema_is_valid_openapi(endpoints: tuple[openapi.Endpoint, ...]) -> None:
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


def test_every_field_is_described() -> None:
    schemas = openapi.document(catalogue())["components"]["schemas"]
    silent = [
        f"{name}.{field}"
        for name, schema in schemas.items()
        for field, content in schema["properties"].items()
        if not content.get("description") and not _all_described(content.get("anyOf", []))
    ]
    assert silent == []


# Valid bodies come from the examples and by chance, since calculating each combination takes long.
# A schema cannot say which values contradict each other, so 422 is a right answer to a valid body;
# and no body of a batch is wrong as a whole, since each line is judged by itself.
RULES = SchemathesisConfig.from_dict(
    {
        "request-timeout": 60.0,
        "phases": {"coverage": {"generation": {"mode": "negative"}}},
        "checks": {"positive_data_acceptance": {"expected-statuses": ["2xx", 422]}},
        "operations": [
            {
                "include-path-regex": "^/v1/batch/",
                "checks": {"negative_data_rejection": {"enabled": False}},
            }
        ],
    }
)
CONTRACT = schemathesis.openapi.from_dict(openapi.document(catalogue()), config=RULES)
DOCUMENT_OF_TOYS = openapi.document(toys())
DOCUMENT_OF_TOYS["paths"] = {
    path: item for path, item in DOCUMENT_OF_TOYS["paths"].items() if path.endswith("/add-up")
}
TOYS = schemathesis.openapi.from_dict(DOCUMENT_OF_TOYS, config=RULES)


@schemathesis.serializer("application/x-ndjson")
def as_lines(_context: object, value: object) -> bytes:
    """Any text is a batch: lines that do not fit are answered by problems."""
    return str(value).encode()


@CONTRACT.parametrize()
@BOUNDED
def test_the_service_keeps_the_contract(case: Case, service: Served) -> None:
    # Spreadsheets may ask for errors as readable text, which then comes with status 200.
    as_text = "text" in str((case.query or {}).get("errors"))
    excluded = [negative_data_rejection] if as_text else []
    case.call_and_validate(base_url=service.url, excluded_checks=excluded)


@TOYS.parametrize()
@BOUNDED
def test_the_service_keeps_the_contract_of_toys(case: Case, toy_service: Served) -> None:
    case.call_and_validate(base_url=toy_service.url)
