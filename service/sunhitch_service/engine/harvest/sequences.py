"""Years of clearness, day by day and hour by hour, out of twelve monthly means.

Days follow an exponential distribution between two bounds (P. Bendt, M. Collares-Pereira, A. Rabl,
Solar Energy 27 (1981); in J. A. Duffie, W. A. Beckman, 2.9.4 to 2.9.6) by a Gaussian that remembers
the day before (V. A. Graham, K. G. T. Hollands, T. E. Unny, Solar Energy 40 (1988)). Here they are
days of the clear sky's light, not of the light beyond the air: bounds, memory and the spread of
hours were fitted to measured and typical years of 14 places, and are drawn anew for every group of
years, since places differ.
"""

import numpy as np

from sunhitch_service.engine.sky import Array, Index

YEARS_IN_A_GROUP = 20
_LOWEST, _HIGHEST, _MEMORY = (0.06, 0.26), (0.98, 1.22), (0.10, 0.45)
_BELOW_MEAN, _ABOVE_MEAN = 0.5, 0.12
_HOURLY_MEMORY = 0.72
_DEVIATION = (
    (0.10, 0.27, 0.42, 0.57, 0.72, 0.87, 1.00),
    (0.07, 0.12, 0.22, 0.29, 0.33, 0.30, 0.20),
)
"""Standard deviation of hours about their day, over the day's clearness."""
_DARKEST, _CLEAREST = 0.02, 1.25
_PASSES, _HALVINGS = 5, 60
_STEEPEST, _FLAT = 400.0, 1e-4


def clearness(means: Array, month: Index, light: Array, years: int, seed: int) -> Array:
    """Share of the clear sky's light in every hour of invented years.

    Parameters
    ----------
    means : ndarray, shape (12,)
        Long-term means of the share, January first.
    month : ndarray of int, shape (days,)
        Month of every day, 1 to 12.
    light : ndarray, shape (days, 24)
        Clear sky's light in every hour, of any unit: how much an hour counts for its day.
    years : int
        How many.
    seed : int
        Of the random numbers; the same gives the same years.

    Returns
    -------
    ndarray, shape (days, 24, years)
        Months differ from their means as those of real years do.
    """
    random = np.random.default_rng(seed)
    groups = -(-years // YEARS_IN_A_GROUP)
    of_year = np.arange(years) // YEARS_IN_A_GROUP
    low, high, memory = (
        random.uniform(*span, (groups, 1)) for span in (_LOWEST, _HIGHEST, _MEMORY)
    )
    low = np.minimum(low, _BELOW_MEAN * means)
    high = np.maximum(high, means + _ABOVE_MEAN)
    slope = _slope((means - low) / (high - low))
    normal = _remembering(random.standard_normal((len(month), years)), memory[of_year, 0])
    share = _share(normal, slope[of_year[:, None], month - 1].T)
    bottom, top = (each[of_year[:, None], month - 1].T for each in (low, high))
    daily = bottom + (top - bottom) * share
    swing = _remembering(random.standard_normal((24 * len(month), years)), _HOURLY_MEMORY)
    hourly = daily[:, None] + np.interp(daily, *_DEVIATION)[:, None] * swing.reshape(-1, 24, years)
    return _of_days(hourly, daily, light)


def _of_days(hourly: Array, daily: Array, light: Array) -> Array:
    """Shift hours within their bounds until they give their day's light."""
    whole = np.maximum(light.sum(axis=1, keepdims=True), 1e-9)
    weight = (light / whole)[:, None]
    for _ in range(_PASSES):
        np.clip(hourly, _DARKEST, _CLEAREST, out=hourly)
        hourly += daily[:, None] - weight @ hourly
    return np.clip(hourly, _DARKEST, _CLEAREST, out=hourly)


def _remembering(noise: Array, memory: Array | float) -> Array:
    """Rows that take over some of the row before; noise of unit variance keeps it."""
    fresh = np.sqrt(1.0 - np.square(memory))
    for row in range(1, len(noise)):
        noise[row] = fresh * noise[row] + memory * noise[row - 1]
    return noise


def _slope(mean: Array) -> Array:
    """Exponent of a density on 0 to 1 that has this mean, by halving."""
    low, high = np.full(mean.shape, -_STEEPEST), np.full(mean.shape, _STEEPEST)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        steep = np.where(np.abs(middle) < _FLAT, _FLAT, middle)
        own = np.where(middle == steep, -1.0 / np.expm1(-steep) - 1.0 / steep, 0.5 + middle / 12.0)
        low, high = np.where(own < mean, middle, low), np.where(own < mean, high, middle)
    return np.asarray(0.5 * (low + high))


def _share(normal: Array, slope: Array) -> Array:
    """Where a Gaussian value lies under a density of a slope, from 0 to 1."""
    from scipy.special import ndtr

    steep = np.where(np.abs(slope) < _FLAT, _FLAT, slope)
    return np.asarray(np.log1p(ndtr(normal) * np.expm1(steep)) / steep)
