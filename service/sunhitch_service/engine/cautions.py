"""Cautions by key, read once from `cautions.toml`."""

import tomllib
from functools import cache
from importlib import resources

from sunhitch.types.basis import Caution


@cache
def _all() -> dict[str, Caution]:
    text = resources.files("sunhitch_service.engine").joinpath("cautions.toml").read_text("utf-8")
    return {key: Caution(**entry) for key, entry in tomllib.loads(text).items()}


def cautions(*keys: str) -> list[Caution]:
    """Cautions in the given order.

    Raises
    ------
    KeyError
        If a key is unknown.
    """
    return [_all()[key] for key in keys]
