"""Means to switch the build off: as they are, owned, or to be bought."""

from collections.abc import Collection, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from sunhitch.types.check import Check
from sunhitch.types.fitout import LineKind
from sunhitch.types.parts import part_key, rated
from sunhitch.types.wiring import Disconnect
from sunhitch_service.engine.rules.parts import disconnect_rating, part_available
from sunhitch_service.engine.wiring import device as wiring
from sunhitch_service.engine.wiring.citation import group_of

from .cables import SizedLine
from .in_work import rating_for, ratings_beside, words_of
from .part_states import PartStates, rating_of
from .wording import about


class Switches(NamedTuple):
    """Every means to switch off, the line of each, and checks of what is there or not."""

    listed: list[Disconnect]
    lines: list[str]
    checks: list[Check]

    def poles_in(self, line: str) -> int:
        """Conductors that switches open in a line."""
        poles = {"positive": 1, "positive and negative": 2}
        return sum(
            poles[each.poles]
            for each, of in zip(self.listed, self.lines, strict=True)
            if of == line
        )


def switched(kinds: Collection[LineKind]) -> tuple[LineKind, LineKind]:
    """Kinds of lines that a disconnect sits in, of those of a build: of panels, of the battery.

    Strings and what is plugged in have theirs in the common line; at a bus bar one serves all.
    """
    bus = "bus-to-battery" in kinds
    return "pv-output", "bus-to-battery" if bus else "controller-to-battery"


def disconnects(states: PartStates, lines: Sequence[SizedLine]) -> Switches:
    """Means to switch off, one in each such line, in the order of the lines."""
    kinds = switched([line.kind for line in lines])
    own = [line for line in lines if line.kind in kinds]
    settled = [_settled(states, line, _switch(line)) for line in own]
    return Switches(
        [one for one, _ in settled],
        [line.line for line in own],
        [check for _, found in settled for check in found],
    )


def _switch(line: SizedLine) -> Disconnect:
    """The one of a line; to the battery it must carry whatever its fuse lets pass."""
    group, protection = group_of(line.request.circuit), line.answer.protection
    fuse_a = 0.0 if group == "pv" else protection.rating_a or 0.0
    least_a = max(protection.minimum_a, fuse_a)
    (found,) = wiring.disconnects(group, line.request.rules, least_a, line.highest_v)
    return found


def _key(switch: Disconnect, rating_a: float) -> str:
    _, group, _ = switch.part_key.split(":")
    return part_key("disconnect", group, rated(rating_a, "a"))


def _settled(
    states: PartStates, line: SizedLine, switch: Disconnect
) -> tuple[Disconnect, list[Check]]:
    """The one that is there, or another where the usual cannot be had."""
    needed_a = rating_for(switch.minimum_current_a)
    taken = states.lot("disconnect", line.kind, line.names).taken(
        rating_of, needed_a, ratings_beside(needed_a), lambda rating_a: rating_a >= needed_a
    )
    if taken.missing:
        return switch, about(line.name, [part_available("disconnect", "", words_of((needed_a,)))])
    if taken.there is None:
        return replace(switch, part_key=_key(switch, taken.value)), []
    own = replace(switch, at_hand_a=taken.value, part_key=_key(switch, taken.value))
    judged = disconnect_rating(switch.name, needed_a, taken.value, switch.minimum_voltage_v)
    return own, about(line.name, [judged])
