"""How long a commissioning check takes, judged from its request."""

from sunhitch.types.commissioning import CommissioningCheckRequest

from .causes import MOST_DIAGNOSES, MOST_READINGS

_SETTLING_MS = 10.0
_PER_READING_MS = 2.5
_PER_SUSPECT_READING_AND_STRING_MS = 9.0


def expected_ms(request: CommissioningCheckRequest) -> float:
    """Time on one core [ms], rather too long than too short.

    The constants were fitted by hand on a 2-core machine: 1 to 400 readings of 2 strings and 4
    readings of 1 to 24 strings, by meter and by clear sky, on one day and on many (1 to 900 ms).
    Every reading is taken to be suspect, up to as many as are looked into.

    Parameters
    ----------
    request : CommissioningCheckRequest
        Decoded, perhaps contradictory.

    Returns
    -------
    float
        Time [ms].
    """
    readings, strings = len(request.readings), len(request.array.strings)
    suspect = min(readings, MOST_DIAGNOSES * MOST_READINGS)
    return (
        _SETTLING_MS
        + _PER_READING_MS * readings
        + _PER_SUSPECT_READING_AND_STRING_MS * suspect * strings
    )
