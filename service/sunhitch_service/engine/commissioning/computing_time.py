"""How long a commissioning check takes, judged from its request."""

from sunhitch.types.commissioning import CommissioningCheckRequest

from .diagnosis import MOST_DIAGNOSES

_SETTLING_MS = 15.0
_PER_READING_MS = 1.2
_PER_DAY_MS = 14.0
_PER_CIRCUIT_AND_STRING_MS = 1.0


def expected_ms(request: CommissioningCheckRequest) -> float:
    """Time on one core [ms], rather too long than too short.

    The constants were fitted by hand on a 2-core machine: 1 to 400 readings of 2 strings and 1 to
    230 readings of 24 strings, on one day and on many (12 ms to 5.4 s).

    Parameters
    ----------
    request : CommissioningCheckRequest
        Decoded, perhaps contradictory.

    Returns
    -------
    float
        Time [ms].
    """
    strings = len(request.array.strings)
    circuits = len({reading.of for reading in request.readings})
    days = min(MOST_DIAGNOSES, len({reading.taken_at[:10] for reading in request.readings}))
    per_day = _PER_DAY_MS + _PER_CIRCUIT_AND_STRING_MS * (circuits + 1) * strings
    return _SETTLING_MS + _PER_READING_MS * len(request.readings) + days * per_day
