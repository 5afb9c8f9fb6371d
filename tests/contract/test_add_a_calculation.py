"""DEVELOPERS.md, "Add a calculation", carried out in a copy: nothing else registers one."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

ADDED = {
    "client/sunhitch/types/cable.py": '''
"""Contract of the cable mass."""

from typing import Annotated

from .base import Input
from .check import Answer
from .quantity import quantity


class CableMassRequest(Input, kw_only=True):
    """A copper conductor."""

    length_m: Annotated[float, quantity("m", 0.0, 1000.0, "Length.", 10.0)]
    area_mm2: Annotated[float, quantity("mm²", 0.1, 1000.0, "Cross-section.", 6.0)]


class CableMassAnswer(Answer, kw_only=True):
    """Its metal."""

    mass_kg: Annotated[float, quantity("kg", 0.0, 1e5, "Mass of the copper.", 0.53)]
''',
    "client/sunhitch/operations/cable_mass.py": '''
"""The mass of a cable."""

from sunhitch.report.amounts import both
from sunhitch.report.layout import Page
from sunhitch.types.cable import CableMassAnswer, CableMassRequest

from .operation import Operation


def present(page: Page, answer: CableMassAnswer) -> list[str]:
    """The mass."""
    return [page.heading("Copper"), *page.bullets([both(answer.mass_kg, "kg")])]


CABLE_MASS = Operation(
    "cable-mass", CableMassRequest, CableMassAnswer, "Mass of a cable", "The copper in it.", present
)
''',
    "client/sunhitch/examples/cable-mass.json": '{"length_m": 10.0, "area_mm2": 6.0}',
    "service/sunhitch_service/engine/cable/__init__.py": '"""Cables."""',
    "service/sunhitch_service/engine/cable/calculation.py": '''
"""`cable-mass`: the copper in a cable."""

from sunhitch.types.cable import CableMassAnswer, CableMassRequest
from sunhitch_service.engine.answering import common
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import Faults


def cable_mass(request: CableMassRequest) -> CableMassAnswer:
    """Mass at 8890 kg/m³."""
    faults = Faults()
    faults.add_if(request.length_m == 0.0, "/length_m", "below-own-base", base_m=0.0)
    faults.raise_any()
    return CableMassAnswer(
        **common(request, [], Assumptions(), []),
        mass_kg=8890.0 * 1e-6 * request.area_mm2 * request.length_m,
    )
''',
    "service/sunhitch_service/engine/cable/computing_time.py": '''
"""How long a cable mass takes."""


def expected_ms(_request: object) -> float:
    """Next to nothing [ms]."""
    return 0.1
''',
    "service/sunhitch_service/calculations/cable_mass.py": '''
"""The mass of a cable."""

from sunhitch.operations import CABLE_MASS
from sunhitch_service.engine.cable.calculation import cable_mass
from sunhitch_service.engine.cable.computing_time import expected_ms

from .calculation import Calculation, ComputingTime, sheet

CALCULATION = Calculation(
    CABLE_MASS, cable_mass, ComputingTime(expected_ms, "Give less."), (sheet(),)
)
''',
    "usage.py": '''
"""How a program uses it."""

from typing import assert_type

from sunhitch import AsyncClient, Client
from sunhitch.types.cable import CableMassAnswer, CableMassRequest


def waits(client: Client) -> None:
    """A call with its types."""
    assert_type(
        client.cable_mass(CableMassRequest(length_m=1.0, area_mm2=6.0)), CableMassAnswer
    )


async def awaits(client: AsyncClient) -> None:
    """The same in an event loop."""
    assert_type(await client.cable_mass({"length_m": 1.0}), CableMassAnswer)
''',
}
"""Files that are added; the rest of the recipe is two lines in the list of operations."""

OPERATIONS = "client/sunhitch/operations/__init__.py"
MASS_KG = 0.5334
"""10 m of 6 mm² at 8.89 g/cm³, the density of annealed copper after IEC 60028 (from memory)."""

OVER_HTTP = """
import json
from hostile import Hostile
from in_process import in_process

def ask(path, body, accept="application/json", sent="application/json"):
    headers = {"Content-Type": sent, "Accept": accept}
    reply = service.call(Hostile("POST", path, body.encode(), headers))
    return reply.status, reply.body.decode()

good, bad = '{"length_m": 10.0, "area_mm2": 6.0}', '{"length_m": 0.0, "area_mm2": 6.0}'
lines = "application/x-ndjson"
with in_process(compiled=False) as service:
    print(json.dumps([
        ask("/v1/cable-mass", good),
        ask("/v1/cable-mass", bad),
        ask("/v1/cable-mass", good, "text/html"),
        ask("/v1/batch/cable-mass", good + chr(10) + bad, lines, lines),
    ]))
"""


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The project with one calculation more."""
    root = tmp_path_factory.mktemp("project")
    unwanted = shutil.ignore_patterns("__pycache__", "*.pyc")
    for part in ("client", "service", "openapi", "tests/fuzz"):
        shutil.copytree(ROOT / part, root / part, ignore=unwanted)
    for path, text in ADDED.items():
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_text(text.lstrip(), "utf-8")
    listing = root / OPERATIONS
    whole = listing.read_text("utf-8")
    whole = whole.replace(
        "from .commissioning_check",
        "from .cable_mass import CABLE_MASS as CABLE_MASS\nfrom .commissioning_check",
    ).replace("    harvest = HARVEST\n", "    harvest = HARVEST\n    cable_mass = CABLE_MASS\n")
    listing.write_text(whole, "utf-8")
    return root


def run(root: Path, *words: str) -> str:
    """Output of a program on the copy."""
    paths = [str(root / part) for part in ("client", "service", "tests/fuzz")]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(paths)}
    done = subprocess.run(
        [sys.executable, *words],
        capture_output=True,
        text=True,
        check=False,
        cwd=root,
        env=environment,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_the_recipe_names_every_folder_that_is_written_to() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    recipe = text.partition("## Add a calculation")[2].partition("\n## ")[0]
    named = re.findall(r"`([\w/<>.]+)`", recipe)
    for path in (*ADDED, OPERATIONS):
        shaped = path.replace("cable_mass", "<name>").replace("cable-mass", "<name>")
        shaped = shaped.replace("cable", "<domain>")
        assert path == "usage.py" or any(one in shaped for one in named), path


def test_the_schema_holds_it(copy: Path) -> None:
    run(copy, "-m", "sunhitch_service.http.export", "openapi/openapi.json")
    document = json.loads((copy / "openapi/openapi.json").read_text("utf-8"))
    assert {"/v1/cable-mass", "/v1/batch/cable-mass"} <= set(document["paths"])
    assert document["components"]["schemas"]["CableMassRequest"]["properties"]["length_m"]


def test_the_client_calls_it(copy: Path) -> None:
    told = run(
        copy,
        "-c",
        "from sunhitch import Client, operations\n"
        "client = Client.embedded()\n"
        "answer = client.cable_mass({'length_m': 10.0, 'area_mm2': 6.0})\n"
        "print(answer.mass_kg, operations.operation_of(answer).title)",
    )
    mass, _, title = told.strip().partition(" ")
    assert float(mass) == pytest.approx(MASS_KG, rel=1e-12)
    assert title == "Mass of a cable"


def test_type_checkers_know_it(copy: Path, mypy: list[str]) -> None:
    assert "Success" in run(copy, *mypy, "usage.py")


def test_the_command_line_has_its_verb(copy: Path) -> None:
    told = run(copy, "-m", "sunhitch", "cable-mass")
    assert told.startswith("VERDICT: PASS  Mass of a cable")
    assert "0.533 kg" in told
    assert "cable-mass" in run(copy, "-m", "sunhitch", "--help")


def test_the_service_answers_it(copy: Path) -> None:
    answered, refused, drawn, batch = json.loads(run(copy, "-c", OVER_HTTP))
    assert answered[0] == 200
    assert json.loads(answered[1])["mass_kg"] == pytest.approx(MASS_KG, rel=1e-12)
    assert refused[0] == 422
    assert json.loads(refused[1])["errors"][0]["pointer"] == "/length_m"
    assert drawn[0] == 200
    assert "Mass of a cable" in drawn[1]
    first, second = (json.loads(line) for line in batch[1].splitlines())
    assert first["answer"]["mass_kg"] == pytest.approx(MASS_KG, rel=1e-12)
    assert second["problem"]["status"] == 422
