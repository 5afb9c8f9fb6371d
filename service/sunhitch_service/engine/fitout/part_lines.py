"""One line of the parts list, in its group."""

from collections.abc import Sequence

from msgspec.structs import replace

from sunhitch.types.parts import Part, PartGroup, PartKind

_GROUPS: dict[PartGroup, tuple[PartKind, ...]] = {
    "panels": ("panel",),
    "roof-wiring": (
        "branch-connector",
        "extension-lead",
        "string-fuse-holder",
        "plug-pair",
        "pv-cable",
        "cable-clip",
        "cable-gland",
        "entry-housing",
    ),
    "protection": ("fuse", "disconnect", "spare-fuse"),
    "consumables": ("abrasive-pad", "cleaner", "wipe", "primer", "sealant", "edge-trim"),
    "inside-wiring": (
        "battery-cable",
        "controller",
        "charger",
        "bus-bar",
        "removable-socket",
        "crimp-lug",
        "bonding-conductor",
        "label-set",
    ),
}
"""Where each kind is used; every other kind is mounting material."""

_GROUP_OF: dict[PartKind, PartGroup] = {
    kind: group for group, kinds in _GROUPS.items() for kind in kinds
}


def part_line(
    key: str,
    name: str,
    amount: float,
    needed_for: Sequence[str],
    **figures: str | float | bool | None,
) -> Part:
    """One line of the parts list.

    Parameters
    ----------
    key, name : str
        Its key, and what it is called.
    amount : float
        How much.
    needed_for : sequence of str
        What needs it.
    **figures : object
        Further fields of `Part`.
    """
    plain = Part(
        key=key,
        group="mounting",
        name=name,
        given_name="",
        amount=float(amount),
        unit="piece",
        needed_for=list(needed_for),
    )
    return replace(plain, group=_GROUP_OF.get(plain.kind, "mounting"), **figures)
