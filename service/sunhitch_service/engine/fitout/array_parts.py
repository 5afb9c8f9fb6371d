"""String fuses, plugs and branch connectors of the wiring, as they are there or can be had."""

from collections.abc import Iterable, Sequence
from functools import cache

from msgspec.structs import replace

from sunhitch.texts import statement
from sunhitch.types.array import (
    ArrangedString,
    ArrayConfigurationAnswer,
    ControllerArray,
    HarnessItem,
)
from sunhitch.types.check import Check
from sunhitch.types.fitout import WorkPart
from sunhitch.types.parts import rated
from sunhitch.types.wiring import FuseFamily
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.circuit.devices import (
    device_kind,
    device_listed,
    families,
    family_named,
)
from sunhitch_service.engine.circuit.string_fuse import string_fuse
from sunhitch_service.engine.controller.settings import backfeed_a
from sunhitch_service.engine.rules.connectors import branch_connector_current, connector_current
from sunhitch_service.engine.rules.controllers import maximum_current_a
from sunhitch_service.engine.rules.limits import limit
from sunhitch_service.engine.rules.parts import part_available
from sunhitch_service.engine.rules.strings import StringFuse, fuse_rating_check
from sunhitch_service.engine.rules.weakest import weakest_rating

from .in_work import rating_for, ratings_beside, words_of
from .job import Job
from .part_states import Lot, PartStates, Taken, rating_of

_FUSE_CODES = ("string-fuse-rating", "device-listed")


def as_in_work(job: Job, answer: ArrayConfigurationAnswer) -> ArrayConfigurationAnswer:
    """Wirings of which the first has the parts that are there, judged as they are.

    Parameters
    ----------
    job : Job
        With what is fixed, owned and unavailable.
    answer : ArrayConfigurationAnswer
        Wirings by the rules alone.
    """
    if not any(one.part in ("fuse", "plug", "branch-connector") for one in job.request.parts):
        return answer
    best, *others = answer.arrangements
    arrays: list[ControllerArray] = []
    own: list[Check] = []
    harness, checks, whole = best.harness, best.checks, answer.checks
    for array in best.arrays:
        built = _ArrayInWork(job, array, harness)
        arrays.append(built.fused())
        harness = built.branched()
        checks, whole = built.without_replaced(checks), built.without_replaced(whole)
        own += built.checks
    checks = [*checks, *own]
    best = replace(best, arrays=arrays, harness=harness, checks=checks, verdict=verdict_of(checks))
    return replace(answer, arrangements=[best, *others], checks=[*whole, *own])


def controller_of(check: Check) -> str:
    """The controller that a check of the wiring is about."""
    return str(getattr(check.subject, "parameters", {}).get("controller", check.subject))


def string_lot(states: PartStates, part: WorkPart, array: ControllerArray, number: int) -> Lot:
    """What is said of fuse or plugs of a string, counted from 1."""
    names = [*array.strings[number - 1].panels, array.controller]
    return states.lot(part, "pv-output" if len(array.strings) == 1 else "pv-string", names)


def fuse_lot(states: PartStates, array: ControllerArray, number: int | None) -> Lot:
    """What is said of the fuse of a string, or without a number of what is plugged in.

    What is owned of a family that is made for other circuits is of no use there.
    """
    if number is not None:
        said = string_lot(states, "fuse", array, number)
    else:
        plugged = array.removable.panels if array.removable else []
        said = states.lot("fuse", "removable-panel", [array.controller, *plugged])
    return Lot([one for one in said.entries if one.state != "owned" or _for_strings(one.family)])


def _for_strings(family: FuseFamily | None) -> bool:
    return family is None or family_named(family).made_for(pv=True)


def branch_lot(states: PartStates, array: ControllerArray) -> Lot:
    """What is said of the branch connectors of an array."""
    panels = [panel for string in array.strings for panel in string.panels]
    return states.lot("branch-connector", "pv-output", [array.controller, *panels])


@cache
def _fuse_sizes_a() -> list[float]:
    """Every rating in which photovoltaic fuses come, rising."""
    made = (each for each in families() if each.for_pv and each.device == "fuse")
    return sorted({size for each in made for size in each.sizes_a})


def _rated_item(item: HarnessItem, rating_a: float) -> HarnessItem:
    """A part of the harness with another rating, in its key too where it has one [A]."""
    kind = item.part_key.rpartition(":")[0]
    key = f"{kind}:{rated(rating_a, 'a')}" if kind else ""
    return replace(item, rating_a=rating_a, part_key=key)


class _ArrayInWork:
    """One array with its own parts, and the checks on them."""

    def __init__(self, job: Job, array: ControllerArray, harness: list[HarnessItem]) -> None:
        self._job, self._array, self._harness = job, array, harness
        self._states = job.states
        given = job.request.connectors
        self._plug_a = given.plug_current_a or limit("plug-current")
        self._branch_a = given.branch_current_a or limit("branch-current")
        self._replaced: set[tuple[str, str]] = set()
        self.checks: list[Check] = []

    def without_replaced(self, checks: Iterable[Check]) -> list[Check]:
        """Checks of the array part without those that were judged anew."""
        return [one for one in checks if (one.code, str(one.subject)) not in self._replaced]

    def _subject(self, number: int) -> str:
        name = self._array.controller
        if len(self._array.strings) == 1:
            return name
        return statement("string-of-array", controller=name, number=number)

    def fused(self) -> ControllerArray:
        """The array with its fuses, and with plugs judged."""
        array, states = self._array, self._states
        strings = [
            replace(each, fuse_a=self._fuse_a(each, fuse_lot(states, array, n), self._subject(n)))
            for n, each in enumerate(array.strings, start=1)
        ]
        self._judge_plugs([self._plug(number) for number in range(1, len(strings) + 1)])
        plugged = array.removable
        if plugged is not None:
            panel = plugged.panels[0]
            subject = statement("removable-of", controller=array.controller, panel=panel)
            lot = fuse_lot(states, array, None)
            plugged = replace(plugged, fuse_a=self._fuse_a(plugged, lot, subject))
        self._harness = [self._with_fuse(item, strings) for item in self._harness]
        return replace(array, strings=strings, removable=plugged)

    def _with_fuse(self, item: HarnessItem, strings: list[ArrangedString]) -> HarnessItem:
        """The same for the fuse that its string gets: a holder bears what its fuse lets pass."""
        if (item.kind, item.controller) != ("string-fuse", self._array.controller):
            return item
        rating_a = strings[item.strings[0] - 1].fuse_a
        return item if rating_a is None else _rated_item(item, rating_a)

    def _fuse_a(self, string: ArrangedString, lot: Lot, subject: str) -> float | None:
        def fits(rating_a: float | None) -> bool:
            told = fuse_rating_check(self._found(string, rating_a), self._job.request.rules)
            return rating_a is not None and told.verdict != "fail"

        taken = lot.taken(rating_of, string.fuse_a, _fuse_sizes_a(), fits)
        self._judge_fuse(string, taken, subject)
        return taken.value

    def _judge_fuse(self, string: ArrangedString, taken: Taken[float | None], subject: str) -> None:
        rating_a, rules = taken.value, self._job.request.rules
        family = taken.there.family if taken.there else None
        if taken.missing and rating_a is not None:
            self.checks.append(part_available("fuse", subject, words_of((rating_a,))))
        elif rating_a is not None and (taken.there or rating_a != string.fuse_a):
            self._replaced |= {(code, str(subject)) for code in _FUSE_CODES}
            self.checks += [
                fuse_rating_check(self._found(string, rating_a), rules, subject),
                device_listed(rating_a, True, family, subject),
                *([] if family is None else [device_kind(family, rules, "pv", subject)]),
            ]

    def _found(self, string: ArrangedString, rating_a: float | None) -> StringFuse:
        request, array = self._job.request, self._array
        plugged = [each.electrical for each in request.removable if each.name == string.panels[0]]
        plates = plugged or [self._job.type_of(name).panel.electrical for name in string.panels]
        return string_fuse(
            string.i_sc_a,
            array.whole_i_sc_a - string.i_sc_a,
            weakest_rating(plate.max_series_fuse_a for plate in plates),
            request.rules,
            backfeed_a(self._job.controller(array.controller), request.battery, Assumptions()),
            rating_a,
        )

    def _plug(self, number: int) -> Taken[float]:
        """Rating of a string's plugs; none where nothing is said of them."""
        needed_a = rating_for(maximum_current_a(self._array.strings[number - 1].i_sc_a))
        return string_lot(self._states, "plug", self._array, number).taken(
            rating_of, self._plug_a, ratings_beside(self._plug_a), lambda one: one >= needed_a
        )

    def _judge_plugs(self, plugs: Sequence[Taken[float]]) -> None:
        """The string whose plugs are used most, if anything is said of them."""
        usual_a, array = self._plug_a, self._array
        if all(one == Taken(usual_a) for one in plugs):
            return
        used = [
            (maximum_current_a(string.i_sc_a) / taken.value, number, taken)
            for number, (string, taken) in enumerate(zip(array.strings, plugs, strict=True), 1)
        ]
        _, number, taken = max(used, key=lambda each: each[0])
        strong_a = maximum_current_a(array.strings[number - 1].i_sc_a)
        numbers = range(1, len(plugs) + 1)
        self._replaced |= {("connector-current", str(self._subject(n))) for n in numbers}
        subject = self._subject(number)
        self.checks.append(connector_current(subject, strong_a, taken.value, given=True))
        if any(one.missing for one in plugs):
            self.checks.append(part_available("plug", subject, words_of((usual_a,))))

    def branched(self) -> list[HarnessItem]:
        """The parts of all arrays, with the branch connectors of this one."""
        array, name = self._array, self._array.controller
        lot = branch_lot(self._states, array)
        if len(array.strings) < 2 or not lot.entries:
            return self._harness
        usual_a, needed_a = self._branch_a, rating_for(maximum_current_a(array.i_sc_a))
        taken = lot.taken(rating_of, usual_a, ratings_beside(usual_a), lambda one: one >= needed_a)
        rating_a = taken.value
        if taken.missing:
            self.checks.append(part_available("branch-connector", name, words_of((usual_a,))))
        self._replaced.add(("branch-connector-current", name))
        strongest_a = max(string.i_sc_a for string in array.strings)
        least_a = min(rating_a, self._plug_a)
        self.checks.append(
            branch_connector_current(name, array.i_sc_a, strongest_a, least_a, given=True)
        )
        return [
            _rated_item(item, rating_a)
            if (item.kind, item.controller) == ("branch-connector", name)
            else item
            for item in self._harness
        ]
