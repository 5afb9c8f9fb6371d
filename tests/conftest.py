"""Skips tests of absent programs and says so; keeps checks against figures from outside.

Among several processes each takes a row of tests and then some of another's (work stealing), so
that what a file prepares is prepared once; what is compiled, loops and bytecode, is compiled once
for all of them.
"""

import gc
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from time import monotonic, sleep
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from outside_figures import ROOMS, Outside, page, picture, rows_of, unchanging
from outside_programs import place_of, skipped_tests
from sunhitch_service.engine.pv import accelerate
from sunhitch_service.engine.reuse import reusing

COMPILE = """
from sunhitch_service.engine.pv import accelerate
from sunhitch_service.engine.shade.states import load_kernel
accelerate.load_loops()
load_kernel()
accelerate.keep()
"""
COMPILING_S = 60.0
GARBAGE = (20_000, 10, 10)
"""New objects, and rounds, between collections of each generation, as in a service."""
FIRST = "gw0"
COMPILING = pytest.StashKey[subprocess.Popen[bytes]]()
settings.register_profile(
    "steady",
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("steady")  # a busy machine and chance change no verdict
STRICT = Path(__file__).with_name("client") / "mypy.ini"
VALIDATION = Path(__file__).parents[1] / "service/sunhitch_service/guide/validation.md"


def pytest_addoption(parser: pytest.Parser) -> None:
    """Whether to write or check the validation page."""
    parser.addoption("--validation", choices=("write", "check"), help="the validation page")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """For the validation page, only tests that hold figures against others from outside."""
    if config.getoption("validation"):
        items[:] = [item for item in items if "outside" in getattr(item, "fixturenames", ())]


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One more than there are processors: some tests wait for what a service does."""
    return (os.cpu_count() or 1) + 1


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Rows of tests, and stealing."""
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log)


def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile beside the processes' collecting, where several of them are to come.

    They keep bytecode, whatever is usual on the machine: without it each of them, and each of the
    interpreters that tests start, would compile everything again, a sixth of the run's time.
    """
    gc.set_threshold(*GARBAGE)
    if getattr(session.config.option, "numprocesses", None):
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        if not _compiled():
            session.config.stash[COMPILING] = subprocess.Popen([sys.executable, "-c", COMPILE])


def pytest_unconfigure(config: pytest.Config) -> None:
    """Leave no compiler behind."""
    if (compiler := config.stash.get(COMPILING, None)) is not None:
        compiler.wait()


@pytest.hookimpl(tryfirst=True)
def pytest_collection(session: pytest.Session) -> None:
    """On a fresh machine the first of several processes leaves bytecode for the others."""
    if _process(session) not in ("", FIRST) and not _compiled():
        _wait_until(_mark_of_first(session).exists)


def pytest_collection_finish(session: pytest.Session) -> None:
    """One of several processes waits for the compiler, rather than do its work again.

    What was collected stays: to look through it for garbage again and again took a seventh of the
    run's time.
    """
    if _process(session) == FIRST:
        _mark_of_first(session).touch()
    if _process(session):
        _wait_until(_compiled)
    gc.collect()
    gc.freeze()


def _process(session: pytest.Session) -> str:
    """Name of this process among several; empty where it is alone or hands out the tests."""
    return str(getattr(session.config, "workerinput", {}).get("workerid", ""))


def _mark_of_first(session: pytest.Session) -> Path:
    """In the folder of the whole run."""
    return Path(session.config.option.basetemp).parent / "collected"


def _wait_until(done: Callable[[], bool]) -> None:
    end = monotonic() + COMPILING_S
    while not done() and monotonic() < end:
        sleep(0.1)


def _compiled() -> bool:
    return accelerate.kept() or not accelerate.installed()


@pytest.fixture(scope="session")
def mypy(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """The type checker, strict, which remembers across processes and copies what it has checked."""
    own = tmp_path_factory.getbasetemp()
    shared = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    return ["-m", "mypy", f"--config-file={STRICT}", f"--cache-dir={shared / 'mypy'}"]


@pytest.fixture(scope="module")
def parts_kept() -> Iterator[None]:
    """Layouts, wirings and mounts that several tests of a module need are worked out once.

    A fit-out and its changes do so themselves within one request.
    """
    with reusing():
        yield


@pytest.fixture
def outside(request: pytest.FixtureRequest) -> Outside:
    """Asserts figures against others from outside, and keeps them for the validation page."""
    room = request.path.stem.removeprefix("test_").split("_")[0]
    return Outside(ROOMS.get(room, room), request.node.user_properties)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Before any fixture, since those may start a program."""
    needed = [name for mark in item.iter_markers("needs_program") for name in mark.args]
    absent = [name for name in needed if place_of(name) is None]
    if absent:
        item.user_properties.append(("absent", absent))
        pytest.skip(f"absent: {', '.join(absent)}")


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """What was skipped, and how to get it."""
    skipped = terminalreporter.getreports("skipped")
    properties = [each for report in skipped for each in report.user_properties]
    absent = [name for key, names in properties if key == "absent" for name in names]
    if absent:
        terminalreporter.section("tests skipped for want of a program")
        for line in skipped_tests(absent):
            terminalreporter.line(line)


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Write or check the validation page."""
    wanted = session.config.getoption("validation")
    reporter: Any = session.config.pluginmanager.get_plugin("terminalreporter")
    if not wanted or reporter is None:
        return
    passed = reporter.getreports("passed")
    rows = [row for report in passed for row in rows_of(report.user_properties)]
    if wanted == "write":
        VALIDATION.write_text(page(rows), encoding="utf-8")
        VALIDATION.with_suffix(".svg").write_text(picture(rows), encoding="utf-8")
    elif unchanging(page(rows)) != unchanging(VALIDATION.read_text("utf-8")):
        reporter.line("The validation page is stale: run pytest --validation write")
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
