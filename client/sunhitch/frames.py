"""Answers as pandas data frames; pandas is imported only when one is made."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

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
    try:
        import pandas as pd
    except ModuleNotFoundError as missing:
        raise ModuleNotFoundError(
            "Data frames need pandas; run pip install pandas.", name="pandas"
        ) from missing
    if isinstance(rows, msgspec.Struct):
        return pd.DataFrame(msgspec.structs.asdict(rows))
    return pd.json_normalize([msgspec.to_builtins(row) for row in rows])
