"""Front ends generated from the schema: they compile, are strict, and get real answers."""

import importlib
import json
import re
import sys
from pathlib import Path
from typing import Any

import pytest
from contract_serving import Served
from contract_tools import needs_node, run, workshop

from outside_programs import FRONT_ENDS
from sunhitch import Client
from sunhitch.operations import WIRE_SIZING

REQUEST = {
    "circuit": "pv-output",
    "rules": "nec-2023",
    "voltage_v": 38.4,
    "length_m": 4.3,
    "panels_behind": {"i_sc_a": 6.4, "strings_in_parallel": 2},
}
GUIDE = Path(__file__).parents[2] / "service/sunhitch_service/guide/typescript.md"


@pytest.fixture
def schema(service: Served) -> bytes:
    """The schema as served."""
    return service.http.get("/openapi.json").content


SPECTRAL = ("spectral", "lint", "--ruleset", "spectral.yaml", "--fail-severity", "hint")
REDOCLY = ("node", "redocly.mjs")


@needs_node
def test_two_linters_find_nothing(schema: bytes, tmp_path: Path) -> None:
    """Spectral's OpenAPI rules and Redocly's strictest; hints count."""
    folder = workshop(tmp_path, {"openapi.json": schema})
    assert "No results" in run(folder, *SPECTRAL, "openapi.json")
    assert run(folder, *REDOCLY, "openapi.json") == ""


@needs_node
@pytest.mark.parametrize("linter", [SPECTRAL, REDOCLY], ids=["spectral", "redocly"])
def test_a_linter_finds_what_is_missing(linter: tuple[str, ...], tmp_path: Path) -> None:
    bare = {
        "openapi": "3.1.0",
        "info": {"title": "bare", "version": "1"},
        "paths": {"/a": {"get": {"responses": {"200": {"description": "Done."}}}}},
    }
    folder = workshop(tmp_path, {"bare.json": json.dumps(bare).encode()})
    with pytest.raises(AssertionError, match="operation-operationId"):
        run(folder, *linter, "bare.json")


@needs_node
def test_a_typescript_client_compiles_strictly_and_gets_answers(
    service: Served, schema: bytes, tmp_path: Path
) -> None:
    (snippet,) = re.findall(r"```ts\n(.*?)```", GUIDE.read_text("utf-8"), re.DOTALL)
    of_guide = f"{snippet.replace('./sunhitch', './schema.js')}\nexport {{ wireSizing }};\n"
    folder = workshop(tmp_path, {"openapi.json": schema, "guide.ts": of_guide.encode()})
    generate = ["openapi-typescript", "openapi.json", "--default-non-nullable=false"]
    run(folder, *generate, "-o", "schema.ts")
    run(folder, "tsc", "-p", ".")
    assert (folder / "guide.js").exists()
    told = json.loads(run(folder, "node", "call.js", service.url))
    with Client.embedded() as client:
        sized = client.wire_sizing(REQUEST)
        cold = client.quick.cold_voc(v_oc_v=22.9, lowest_ambient_c=-18.0)
    assert sized.awg.chosen is not None
    assert told == {
        "conductor": sized.awg.chosen.size,
        "verdict": sized.verdict,
        "volts": cold.string_v_oc_v,
        "pointer": "/length_ft",
    }


@needs_node
def test_another_generator_takes_the_schema_as_it_is(schema: bytes, tmp_path: Path) -> None:
    folder = workshop(tmp_path, {"openapi.json": schema})
    run(folder, "orval", "--input", "openapi.json", "--output", "made.ts")
    made = (folder / "made.ts").read_text("utf-8")
    assert "export type FitOutLine = ProgressLine | FitOutAnswerLine | ProblemLine;" in made
    assert "export const Verdict = {\n  pass: 'pass'," in made


def test_a_python_client_is_generated_without_a_warning_and_gets_answers(
    service: Served, schema: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "openapi.json").write_bytes(schema)
    generator = str(Path(sys.executable).with_name("openapi-python-client"))
    options = ["--meta", "none", "--output-path", "generated_client", "--fail-on-warning"]
    config = str(FRONT_ENDS / "python-client.yaml")
    run(tmp_path, generator, "generate", "--path", "openapi.json", "--config", config, *options)
    monkeypatch.syspath_prepend(tmp_path)

    def of(name: str) -> Any:
        return importlib.import_module(f"generated_client.{name}")

    body = of("models").WireSizingRequest.from_dict(REQUEST)
    wrong = of("models").WireSizingRequest.from_dict({**REQUEST, "voltage_v": -1.0})
    with of("client").Client(base_url=service.url) as client:
        sized = of("api.calculations.wire_sizing").sync(client=client, body=body)
        refused = of("api.calculations.wire_sizing").sync(client=client, body=wrong)
    with Client.embedded() as embedded:
        known = embedded.call(WIRE_SIZING, REQUEST)
    assert known.awg.chosen is not None
    assert sized.verdict.value == known.verdict
    assert sized.awg.chosen.size == known.awg.chosen.size
    assert sized.awg.chosen.drop_v == known.awg.chosen.drop_v
    assert isinstance(refused, of("models").Problem)
    assert refused.errors[0].pointer == "/voltage_v"
