"""Cautions by key, read once from `cautions.toml`."""

import tomllib
from functools import cache
from importlib import resources

from sunhitch.types.basis import Caution


@cache
def all_cautions() -> dict[str, Caution]:
    """Every caution by its code."""
    text = resources.files("sunhitch_service.engine").joinpath("cautions.toml").read_text("utf-8")
    return {key: Caution(code=key, **entry) for key, entry in tomllib.loads(text).items()}


def cautions(*keys: str) -> list[Caution]:
    """Cautions in the given order.

    Raises
    ------
    KeyError
        If a key is unknown.
    """
    return [all_cautions()[key] for key in keys]
