"""The steps of time of a study and their place in day and year."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sunhitch_service.engine.sky import Array, Index, seconds_of

HOUR_S = 3600.0
_FIRST_SUNDAY = 3
"""The fourth of January 1970."""
_DIGITS = 9
"""Of a share of a step: hours are not exact in binary."""


@dataclass(frozen=True)
class Clock:
    """Equal steps in local standard time.

    Parameters
    ----------
    start_unix_s : float
        Begin of the first step.
    step_s : int
        Length of a step [s].
    steps : int
        How many.
    offset_s : float
        Local time minus UTC [s].
    """

    start_unix_s: float
    step_s: int
    steps: int
    offset_s: float

    @property
    def step_h(self) -> float:
        """Length of a step [h]."""
        return self.step_s / HOUR_S

    @cached_property
    def middle_unix_s(self) -> Array:
        """Middle of every step, seconds since 1970 UTC."""
        middles = self.start_unix_s + self.step_s * (np.arange(self.steps) + 0.5)
        return np.asarray(middles, dtype=np.float64)

    @cached_property
    def _local(self) -> NDArray[np.datetime64]:
        return (self.middle_unix_s + self.offset_s).astype("datetime64[s]")

    @cached_property
    def month(self) -> Index:
        """Month of every step, 1 to 12."""
        return self._local.astype("datetime64[M]").astype(np.int64) % 12 + 1

    @cached_property
    def month_number(self) -> Index:
        """Months since January 1970."""
        return self._local.astype("datetime64[M]").astype(np.int64)

    @cached_property
    def day_number(self) -> Index:
        """Days since 1970."""
        return self._local.astype("datetime64[D]").astype(np.int64)

    def sunday(self, month: int, day: int) -> Index:
        """First Sunday on or after a day of every step's year, days since 1970."""
        of_year = self._local.astype("datetime64[Y]").astype("datetime64[M]") + (month - 1)
        days = of_year.astype("datetime64[D]").astype(np.int64) + day - 1
        return np.asarray(days + (_FIRST_SUNDAY - days) % 7, dtype=np.int64)

    @cached_property
    def hour(self) -> Array:
        """Hour of the day at every step's middle, 0 to 24."""
        seconds = (self.middle_unix_s + self.offset_s) % 86_400.0
        return np.asarray(seconds / HOUR_S, dtype=np.float64)

    def share(self, from_hour: float, to_hour: float, months: list[int]) -> Array:
        """Share of every step that lies in some hours of some months.

        Parameters
        ----------
        from_hour, to_hour : float
            Local time [h]; hours may run over midnight, equal ones mean the whole day.
        months : list of int
            Months, by the step's middle; all if empty.

        Returns
        -------
        ndarray, shape (steps,)
            From 0 to 1.
        """
        length = (to_hour - from_hour) % 24.0 or 24.0
        begin = (self.hour - 0.5 * self.step_h - from_hour) % 24.0
        end = begin + self.step_h
        today, tomorrow = np.minimum(end, length) - begin, np.minimum(end - 24.0, length)
        inside = (np.maximum(today, 0.0) + np.maximum(tomorrow, 0.0)) / self.step_h
        inside = np.round(inside, _DIGITS)
        return inside * np.isin(self.month, months) if months else inside

    def moment(self, step: int) -> str:
        """Begin of a step, ISO 8601 with offset."""
        zone = timezone(timedelta(seconds=self.offset_s))
        seconds = self.start_unix_s + self.step_s * step
        return datetime.fromtimestamp(seconds, UTC).astimezone(zone).isoformat()


def midnight(day: str, offset_s: float) -> float:
    """Begin of a day `YYYY-MM-DD` in local time, seconds since 1970 UTC.

    Raises
    ------
    ValueError
        If there is no such day.
    """
    return seconds_of(datetime.strptime(day, "%Y-%m-%d").replace(tzinfo=UTC)) - offset_s
