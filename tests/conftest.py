"""Skips tests of absent programs, and says so at the end of the run."""

from typing import Any

import pytest

from outside_programs import place_of, skipped_tests


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
