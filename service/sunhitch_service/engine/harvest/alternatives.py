"""What a candidate changes of the study."""

import msgspec

from sunhitch.types.harvest import HarvestAlternative, HarvestRequest

MEMBERS = (
    "panel_types",
    "placements",
    "arrays",
    "parking",
    "mounting_heat",
    "battery",
    "battery_use",
)
"""Those of a request that a candidate has too, empty or absent where it leaves them alone."""


def changed(request: HarvestRequest, other: HarvestAlternative) -> HarvestRequest:
    """The study with what a candidate changes, but for the construction of its panels."""
    own = {member: getattr(other, member) or getattr(request, member) for member in MEMBERS}
    return msgspec.structs.replace(request, **own)
