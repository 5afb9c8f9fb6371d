"""Means to switch the build off: as they are, owned, or to be bought."""

from collections.abc import Sequence
from typing import NamedTuple

from msgspec.structs import replace

from sunhitch.types.check import Check
from sunhitch.types.fitout import PV_LINES
from sunhitch.types.parts import part_key, rated
from sunhitch.types.wiring import Disconnect
from sunhitch_service.engine.rules.parts import disconnect_rating, part_available

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


def disconnects(states: PartStates, lines: Sequence[SizedLine]) -> Switches:
    """Means to switch off, each once; the higher rating where several lines ask for the same."""
    found: dict[tuple[str, str], tuple[SizedLine, Disconnect]] = {}
    main = any(line.kind == "bus-to-battery" for line in lines)
    battery = "bus-to-battery" if main else "controller-to-battery"
    for line in (line for line in lines if line.kind in (*PV_LINES, battery)):
        for each in line.answer.disconnects:
            key = (each.name, line.controller)
            known = found.get(key)
            fuse_a = line.answer.protection.rating_a or 0.0
            if line.kind == battery and each.minimum_current_a < fuse_a:
                # It must carry whatever its fuse lets pass.
                each = replace(  # noqa: PLW2901
                    each, minimum_current_a=fuse_a, part_key=_key(each, fuse_a)
                )
            if known is None or each.minimum_current_a > known[1].minimum_current_a:
                found[key] = line, each
    settled = [_settled(states, line, each) for line, each in found.values()]
    return Switches(
        [one for one, _ in settled],
        [line.line for line, _ in found.values()],
        [check for _, own in settled for check in own],
    )


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
