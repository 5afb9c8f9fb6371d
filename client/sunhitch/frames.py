"""Answers as data frames of pandas or polars, imported only when one is made."""

from collections.abc import Iterable, Iterator
from importlib import import_module
from typing import TYPE_CHECKING, Any, cast

import msgspec

if TYPE_CHECKING:
    import pandas as pd


def frame(rows: "msgspec.Struct | Iterable[msgspec.Struct]") -> "pd.DataFrame":
    """One row for each Struct, one column for each number or word in it.

    Parameters
    ----------
    rows : Struct or iterable of Struct
        Checks, panels, answers of a batch; or one Struct of equally long lists, such as a curve,
        whose lists become the columns.

    Returns
    -------
    pandas.DataFrame
        Fields of inner Structs are named with dots: ``maximum_power_point.power_w``.

    Raises
    ------
    ModuleNotFoundError
        pandas is not installed.

    Examples
    --------
    >>> frame(answer.checks).sort_values("utilisation_fraction")  # doctest: +SKIP
    >>> frame(answer.curve).plot("voltage_v", "current_a")  # doctest: +SKIP
    """
    made: pd.DataFrame = _library("pandas").DataFrame(_columns(rows))
    return made


def polars_frame(rows: "msgspec.Struct | Iterable[msgspec.Struct]") -> Any:  # noqa: ANN401
    """As `frame`, as a polars.DataFrame.

    Raises
    ------
    ModuleNotFoundError
        polars is not installed.
    """
    return _library("polars").DataFrame(_columns(rows), strict=False)


def _library(name: str) -> Any:  # noqa: ANN401
    try:
        return import_module(name)
    except ModuleNotFoundError as missing:
        raise ModuleNotFoundError(
            f"Data frames need {name}; run pip install {name}.", name=name
        ) from missing


def _columns(rows: "msgspec.Struct | Iterable[msgspec.Struct]") -> dict[str, list[Any]]:
    if isinstance(rows, msgspec.Struct):
        return msgspec.structs.asdict(rows)
    flat = [dict(_cells("", msgspec.to_builtins(row, enc_hook=str.__str__))) for row in rows]
    names = dict.fromkeys(name for row in flat for name in row)
    return {name: [row.get(name) for row in flat] for name in names}


def _cells(prefix: str, inner: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    """Figures and words by dotted names."""
    for name, value in inner.items():
        if isinstance(value, dict):
            yield from _cells(f"{prefix}{name}.", cast("dict[str, Any]", value))
        else:
            yield f"{prefix}{name}", value
