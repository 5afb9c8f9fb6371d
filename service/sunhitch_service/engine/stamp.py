"""What computed an answer: version and a digest of the engine's data."""

import hashlib
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable

from sunhitch._version import __version__
from sunhitch.types.basis import EngineStamp


@cache
def stamp() -> EngineStamp:
    """Version and digest over every table, source and caution, independent of file order."""
    digest = hashlib.sha256()
    for name, content in sorted(_data(resources.files("sunhitch_service.engine"), "")):
        digest.update(f"{name}\0{len(content)}\0".encode())
        digest.update(content)
    return EngineStamp(version=__version__, data_sha256=digest.hexdigest())


def _data(folder: Traversable, prefix: str) -> list[tuple[str, bytes]]:
    found: list[tuple[str, bytes]] = []
    for entry in folder.iterdir():
        name = f"{prefix}/{entry.name}"
        if entry.is_dir():
            found += _data(entry, name)
        elif entry.name.endswith((".toml", ".csv")):
            found.append((name, entry.read_bytes()))
    return found
