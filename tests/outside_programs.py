"""Programs of the machine that tests run; a test that needs an absent one is skipped.

Run as a script it prints the Debian packages of all that are absent. It needs nothing but Python.
"""

import json
import shutil
import subprocess
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent
FRONT_ENDS = HERE / "contract" / "front_ends"
NODE_MODULES = HERE.parent / ".ci" / "node" / "node_modules"
"""Where `.ci/node_packages` installs what `front_ends/package.json` lists."""


@dataclass(frozen=True)
class OutsideProgram:
    """A program that no Python package brings.

    Parameters
    ----------
    purpose : str
        What tests use it for.
    debian : tuple of str
        Debian packages that bring it.
    find : callable
        To its place; none where it is absent.
    command : str
        Brings what Debian has no package of.
    """

    purpose: str
    debian: tuple[str, ...]
    find: Callable[[], str | None]
    command: str = ""

    @property
    def remedy(self) -> str:
        """How to get it."""
        return f"apt-get install {' '.join(self.debian)}" if self.debian else self.command


def _python_with_uno() -> str | None:
    """A Python that can drive the office; it need not be the one that runs the tests."""
    for python in ("/usr/bin/python3", "/usr/lib/libreoffice/program/python"):
        if Path(python).exists():
            tried = subprocess.run([python, "-c", "import uno"], capture_output=True, check=False)
            if tried.returncode == 0:
                return python
    return None


def _node_packages() -> str | None:
    wanted = json.loads((FRONT_ENDS / "package.json").read_text("utf-8"))["devDependencies"]
    present = all((NODE_MODULES / name).is_dir() for name in wanted)
    return str(NODE_MODULES) if present else None


OUTSIDE_PROGRAMS = {
    "ngspice": OutsideProgram(
        "the circuit simulator", ("ngspice",), lambda: shutil.which("ngspice")
    ),
    "nginx": OutsideProgram(
        "the proxy",
        ("nginx-light",),
        lambda: shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin:/usr/local/sbin"),
    ),
    "curl": OutsideProgram(
        "the rolling restart asks with it", ("curl",), lambda: shutil.which("curl")
    ),
    "chromium": OutsideProgram(
        "the browser", ("chromium", "fonts-dejavu-core"), lambda: shutil.which("chromium")
    ),
    "soffice": OutsideProgram("the office", ("libreoffice-calc",), lambda: shutil.which("soffice")),
    "python3-uno": OutsideProgram("drives the office", ("python3-uno",), _python_with_uno),
    "node": OutsideProgram(
        "runs the node packages", ("nodejs", "npm"), lambda: shutil.which("node")
    ),
    "node packages": OutsideProgram(
        "check pages and schema, make clients", (), _node_packages, ".ci/node_packages"
    ),
}
"""By the name that the mark `needs_program` takes."""


@cache
def place_of(name: str) -> str | None:
    """Where a program is; none where it is absent."""
    return OUTSIDE_PROGRAMS[name].find()


def skipped_tests(absent: Iterable[str]) -> list[str]:
    """A line for every absent program, from its name once for every test that was skipped."""
    names = list(absent)
    lines = []
    for name, program in OUTSIDE_PROGRAMS.items():
        if count := names.count(name):
            lines.append(f"{count} without {name} ({program.purpose}): {program.remedy}")
    return lines


if __name__ == "__main__":
    absent = [one for name, one in OUTSIDE_PROGRAMS.items() if place_of(name) is None]
    print(*(package for one in absent for package in one.debian))  # noqa: T201
