"""Programs of other ecosystems that judge what is served; each may be absent."""

import json
import os
import shutil
import subprocess
from collections.abc import Mapping
from pathlib import Path

import pytest

FRONT_ENDS = Path(__file__).with_name("front_ends")
NODE_MODULES = Path(__file__).parents[2] / ".ci" / "node" / "node_modules"
"""Where `.ci/run` installs what `front_ends/package.json` lists."""

_WANTED = json.loads((FRONT_ENDS / "package.json").read_text("utf-8"))["devDependencies"]


def _has_node() -> bool:
    present = all((NODE_MODULES / name).is_dir() for name in _WANTED)
    return shutil.which("node") is not None and present


needs_node = pytest.mark.skipif(
    not _has_node(), reason="no node here, or front_ends/package.json is not installed in .ci/node"
)


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
