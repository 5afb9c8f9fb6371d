"""What callers may rely on: names, types, a quick and light import."""

import ast
import inspect
import pickle
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import sunhitch
from sunhitch import AsyncClient, Client, errors
from sunhitch.faults import fault_at
from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation
from sunhitch.texts import Text
from sunhitch.types.problem import Problem

HERE = Path(__file__).parent
PROBLEM = Problem(
    type="urn:sunhitch:problem:some",
    title="Some problem",
    status=503,
    detail="What to do.",
    instance="",
    errors=[fault_at("/a", Text("Mend it.", "mend", {}))],
    error_count=1,
)


def fresh(code: str) -> str:
    """Output of a new interpreter."""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return done.stdout


def test_public_names_are_those_listed() -> None:
    """`__all__` names everything that `sunhitch` itself imports, sorted, and nothing else."""
    tree = ast.parse(Path(sunhitch.__file__).read_text("utf-8"))
    ours = [n for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.module and n.level]
    assert sorted(alias.name for node in ours for alias in node.names) == sunhitch.__all__
    assert all(hasattr(sunhitch, name) for name in sunhitch.__all__)
    assert not hasattr(sunhitch, "Clients")


def test_every_error_of_the_tree_is_public_and_drawn() -> None:
    tree = {
        name
        for name, value in vars(errors).items()
        if inspect.isclass(value) and issubclass(value, errors.SunhitchError)
    }
    assert tree == {name for name in sunhitch.__all__ if name.endswith("Error")}
    drawn = [line for line in (errors.__doc__ or "").splitlines() if "Error" in line]
    assert all(any(f"{name} " in f"{line} " for line in drawn) for name in tree)


@pytest.mark.parametrize(
    "error",
    [
        errors.ConnectionFailedError("No connection.", "r1"),
        errors.OverloadedError(PROBLEM, "r2", 3.0),
        errors.ServiceNotInstalledError("Missing."),
    ],
    ids=lambda error: type(error).__name__,
)
def test_errors_survive_the_way_between_processes(error: errors.SunhitchError) -> None:
    again = pickle.loads(pickle.dumps(error))  # noqa: S301
    assert type(again) is type(error)
    assert str(again) == str(error)
    assert vars(again) == vars(error)


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.name)
@pytest.mark.parametrize("kind", [Client, AsyncClient])
def test_every_operation_is_a_call_of_both_clients(
    kind: type[Client] | type[AsyncClient], operation: Operation
) -> None:
    """Of the class it is the record, of a client the call, which says what it asks."""
    name = operation.name.replace("-", "_")
    assert getattr(kind, name) is operation
    call = getattr(kind("http://service.test"), name)
    assert operation.description in call.__doc__
    assert repr(call) == f"<{name}({operation.request.__name__}) -> {operation.answer.__name__}>"
    asked = ["request", "progress", "views", "checks", "fields"]
    assert list(inspect.signature(call).parameters) == asked
    assert inspect.iscoroutinefunction(kind.call) is (kind is AsyncClient)


def test_the_client_pulls_no_server_package_and_no_connection_library() -> None:
    heavy = ("sunhitch_service", "litestar", "uvicorn", "numpy", "scipy", "pvlib", "httpx", "anyio")
    loaded = fresh("import sys; from sunhitch import *; print(*sys.modules)").split()
    assert [name for name in loaded if name.split(".")[0] in heavy] == []


def test_types_are_listed_for_whoever_looks_for_one() -> None:
    asked = {operation.request.__name__ for operation in OPERATIONS}
    assert asked | {"Panel", "RoundObstacle", "PartInWork"} <= set(dir(sunhitch.types))


def test_errors_and_units_do_without_the_types_of_every_calculation() -> None:
    loaded = fresh("import sys, sunhitch, sunhitch.errors; print(*sys.modules)").split()
    assert "sunhitch.types.mount" not in loaded
    assert "sunhitch.types.mount" in fresh(
        "import sys; from sunhitch import Client; print(*sys.modules)"
    )


def test_a_client_of_a_service_pulls_no_server_package() -> None:
    heavy = ("sunhitch_service", "litestar", "uvicorn", "numpy", "scipy", "pvlib")
    loaded = fresh(
        "import sys, sunhitch; sunhitch.Client('http://service.test').close(); print(*sys.modules)"
    ).split()
    assert [name for name in loaded if name.split(".")[0] in heavy] == []


@pytest.mark.parametrize("checker", ["mypy", "pyright"])
def test_programs_that_use_the_client_are_type_checked(checker: str, mypy: list[str]) -> None:
    """The usage file is right, but in the lines that expect an error; the script in all of them."""
    usage = [str(HERE / "typed_usage.py"), str(HERE / "fleet.py")]
    command = {
        "mypy": [sys.executable, *mypy, *usage],
        "pyright": [
            str(Path(sys.executable).parent / "pyright"),
            *("--pythonpath", sys.executable, "-p", str(HERE)),
        ],
    }[checker]
    done = subprocess.run(
        command,
        capture_output=True,
        text=True,
        check=False,
        cwd=HERE,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_licence_goes_into_both_distributions() -> None:
    """It lies inside `client/`, which the sdist includes whole, and is named for the wheel."""
    top = Path(__file__).parents[2]
    packed = tomllib.loads((top / "pyproject.toml").read_text("utf-8"))
    (licence,) = packed["project"]["license-files"]
    assert licence.startswith("client/")
    included = packed["tool"]["hatch"]["build"]["targets"]["sdist"]["include"]
    assert {"/client", "/service", "/tests"} <= set(included)
    told = (top / licence).read_text("utf-8")
    assert told.startswith(f"{packed['project']['license']} License")
    assert set(packed["project"]["urls"]) >= {"Homepage", "Documentation", "Changelog"}
