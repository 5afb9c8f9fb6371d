"""Programs of other ecosystems that judge what is served."""

import os
import shutil
import subprocess
from collections.abc import Mapping
from pathlib import Path

import pytest

from outside_programs import FRONT_ENDS, NODE_MODULES

needs_node = pytest.mark.needs_program("node", "node packages")


def workshop(folder: Path, files: Mapping[str, bytes]) -> Path:
    """A folder with the front ends' sources, the given files, and all packages."""
    for source in FRONT_ENDS.iterdir():
        shutil.copy(source, folder)
    for name, content in files.items():
        (folder / name).write_bytes(content)
    (folder / "node_modules").symlink_to(NODE_MODULES)
    return folder


def run(folder: Path, *command: str) -> str:
    """Output of a program, which must succeed; a package's own is found by its name."""
    path = os.pathsep.join([str(folder / "node_modules" / ".bin"), os.environ["PATH"]])
    done = subprocess.run(
        command,
        cwd=folder,
        env={**os.environ, "PATH": path},
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}\n{done.stderr}"
    return done.stdout
