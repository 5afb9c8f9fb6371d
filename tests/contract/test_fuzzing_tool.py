"""The fuzzing tool's own command runs on the schema as it is served."""

import subprocess
import sys
from pathlib import Path

from contract_serving import Served

CHECKS = (
    *("not_a_server_error", "status_code_conformance", "content_type_conformance"),
    *("response_schema_conformance", "response_headers_conformance", "negative_data_rejection"),
)
"""All but one: a schema cannot say which values contradict each other, which is answered by 422."""


def test_the_fuzzing_tool_takes_the_schema_as_it_is(service: Served, tmp_path: Path) -> None:
    tool = Path(sys.executable).with_name("schemathesis")
    paths = "/v1/quick/cold-voc", "/v1/reference/{table}", "/v1/codes"
    included = [word for path in paths for word in ("--include-path", path)]
    phases = ["--phases", "examples,coverage", "--checks", ",".join(CHECKS)]
    run = subprocess.run(
        [tool, "run", f"{service.url}/openapi.json", *included, *phases, "--no-color"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    assert run.returncode == 0, run.stdout[-3000:] + run.stderr[-1000:]
    assert "Tested: 3" in run.stdout
