"""What computed an answer: version and a digest of the engine's data."""

import hashlib
from functools import cache
from pathlib import Path

from sunhitch._version import __version__
from sunhitch.types.basis import EngineStamp


@cache
def stamp() -> EngineStamp:
    """Version and digest over every table, source and caution, independent of file order."""
    digest, folder = hashlib.sha256(), Path(__file__).parent
    data = [path for path in folder.rglob("*") if path.suffix in (".toml", ".csv")]
    for name, path in sorted((f"/{path.relative_to(folder).as_posix()}", path) for path in data):
        content = path.read_bytes()
        digest.update(f"{name}\0{len(content)}\0".encode())
        digest.update(content)
    return EngineStamp(version=__version__, data_sha256=digest.hexdigest())
