"""Where on Earth, and when: shared by every call that asks for the sun."""

from typing import Annotated

from msgspec import Meta

from .base import Input
from .quantity import quantity

Moment = Annotated[
    str,
    Meta(
        pattern=r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?(Z|[+-]\d{2}:\d{2})$",
        max_length=32,
        description="Date and time with the offset from UTC, ISO 8601.",
        examples=["2027-06-21T12:30:00+02:00"],
        extra_json_schema={"format": "date-time"},
    ),
]


class Place(Input, kw_only=True):
    """A place on Earth."""

    latitude_deg: Annotated[float, quantity("°", -90.0, 90.0, "North positive.", 47.6)]
    longitude_deg: Annotated[float, quantity("°", -180.0, 180.0, "East positive.", 9.5)]
    altitude_m: Annotated[float, quantity("m", -430.0, 6000.0, "Above sea level.", 400.0)] = 0.0
