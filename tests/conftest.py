"""Skips tests of absent programs and says so; keeps checks against figures from outside."""

from pathlib import Path
from typing import Any

import pytest

from outside_figures import ROOMS, Outside, page, picture, rows_of, unchanging
from outside_programs import place_of, skipped_tests

VALIDATION = Path(__file__).parents[1] / "service/sunhitch_service/guide/validation.md"


def pytest_addoption(parser: pytest.Parser) -> None:
    """Whether to write or check the validation page."""
    parser.addoption("--validation", choices=("write", "check"), help="the validation page")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """For the validation page, only tests that hold figures against others from outside."""
    if config.getoption("validation"):
        items[:] = [item for item in items if "outside" in getattr(item, "fixturenames", ())]


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
