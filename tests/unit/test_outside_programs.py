"""Tests that need a program of the machine say so in one way, and at the end of the run."""

import os
import re
import subprocess
import sys
from pathlib import Path

from outside_programs import OUTSIDE_PROGRAMS, skipped_tests

TESTS = Path(__file__).parents[1]
SIMULATED = TESTS / "reference" / "test_shade_simulator.py"


def test_no_other_way_to_skip_for_want_of_a_program() -> None:
    way = re.compile(r"shutil\.which|importorskip|from shutil import")
    mine = {Path(__file__), TESTS / "outside_programs.py", *TESTS.glob("load/*.py")}
    others = {
        file.name
        for file in TESTS.rglob("*.py")
        if file not in mine and way.search(file.read_text())
    }
    assert others == set()


def test_marks_name_known_programs() -> None:
    marks = [
        re.findall(r"needs_program\(([^)]*)\)", file.read_text("utf-8"))
        for file in TESTS.rglob("*.py")
        if file != Path(__file__)
    ]
    named = {name for found in marks for one in found for name in re.findall(r'"([^"]+)"', one)}
    assert named == set(OUTSIDE_PROGRAMS)


def test_skipped_tests_are_counted_with_the_way_to_run_them() -> None:
    (proxy, packages) = skipped_tests(["nginx", "node packages", "nginx"])
    assert proxy == "2 without nginx (the proxy): apt-get install nginx-light"
    assert packages.startswith("1 without node packages")
    assert (TESTS.parent / packages.rpartition(": ")[2]).exists()


def test_the_end_of_a_run_tells_what_was_skipped() -> None:
    bare = os.environ | {"PATH": "/nowhere", "SUNHITCH_NETWORKS": "3"}
    command = [sys.executable, "-m", "pytest", "-n", "1", "-p", "no:cacheprovider", str(SIMULATED)]
    done = subprocess.run(command, env=bare, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "3 without ngspice (the circuit simulator): apt-get install ngspice" in done.stdout
    assert "3 skipped" in done.stdout
