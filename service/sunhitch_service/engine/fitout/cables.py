"""From the chosen arrangement to sized cables: string lines, output lines, battery lines."""

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec

from sunhitch.texts import Text, statement, together
from sunhitch.types.array import (
    ArrangedString,
    Arrangement,
    ControllerArray,
    HarnessItem,
    RemovablePanel,
)
from sunhitch.types.check import Check
from sunhitch.types.fitout import PV_LINES, LineKind, PartInWork, WireLine, WorkPart
from sunhitch.types.mount import RoofSkin, SkinMaterial
from sunhitch.types.panel import PanelElectrical
from sunhitch.types.parts import PartKind, part_key, worded
from sunhitch.types.wiring import (
    Conductor,
    ConductorSize,
    EntryRequest,
    LadderResult,
    PanelsBehind,
    Run,
    SheetMaterial,
    SizeResult,
    WireSizingAnswer,
    WireSizingRequest,
    WiringNote,
)
from sunhitch_service.engine.assumptions import Assumptions, reason_of
from sunhitch_service.engine.battery.cold import battery_c
from sunhitch_service.engine.battery.settings import PRACTICE as BATTERY_PRACTICE
from sunhitch_service.engine.battery.settings import fault_current_a, highest_charge_v
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.circuit.rule_figures import STRONG_SUN
from sunhitch_service.engine.controller.settings import backfeed_a
from sunhitch_service.engine.pv.voltage import coldest_factor
from sunhitch_service.engine.roof.practice import PRACTICE
from sunhitch_service.engine.rules.roof import cable_length
from sunhitch_service.engine.rules.weakest import weakest_rating
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.engine.wiring.practice import PRACTICE as WIRING_PRACTICE
from sunhitch_service.engine.wiring.terminals import terminal_torque

from .bank import AskedLine, BankCircuits, Behind, has_bus, meeting_point
from .in_work import Sized, device_of, fixed_m, names_of, refuse_lines, sized
from .job import Job
from .pointers import Translate, moved

DROP_SHARE_WHY = statement("drop-shared-by-length")
STRING_LINES = ("pv-string", "removable-panel")
"""Lines of one string each, whose fuse sits where strings join."""


_CARRIES_STRINGS = ("pv-string", "pv-output")
_USUAL_LEAD = ConductorSize(area_mm2=4.0)
"""Leads that are sold with plugs; common practice, no source."""


@dataclass(frozen=True, slots=True)
class SizedLine:
    """One cable with its sizing answer.

    Parameters
    ----------
    line : str
        Number on plan and diagram.
    kind : LineKind
        What it connects.
    start, end : str
        In words.
    conductors : int
        Conductors of this length.
    controller : str
        Controller, charger or load that it belongs to.
    strings : tuple of int
        Strings whose current it carries, counted from 1.
    panels : tuple of str
        Panels behind it.
    names : list of str
        By which it is told from others of its kind.
    sized : Sized
        What was asked and answered, and what of it is there.
    way_m : float
        The way that it must reach along [m].
    leads : dict of int to SizeResult
        Leads between the panels of its strings that are told of here, by the string's number.
    """

    line: str
    kind: LineKind
    start: str
    end: str
    conductors: int
    controller: str
    strings: tuple[int, ...]
    panels: tuple[str, ...]
    names: list[str]
    sized: Sized
    way_m: float
    leads: dict[int, SizeResult]

    @property
    def request(self) -> WireSizingRequest:
        """What was asked."""
        return self.sized.request

    @property
    def answer(self) -> WireSizingAnswer:
        """What was answered."""
        return self.sized.answer

    @property
    def there(self) -> Sequence[PartInWork]:
        """What of it is fixed or owned."""
        return self.sized.there

    def has(self, part: WorkPart) -> bool:
        """Whether its cable, or what sits in it, is there already."""
        return any(one.part == part for one in self.there)

    @property
    def lies(self) -> bool:
        """Whether its cable is built in."""
        return any(one.part == "cable" and one.state == "fixed" for one in self.there)

    @property
    def checks(self) -> list[Check]:
        """Those of its size, of what cannot be had, and whether it reaches where it lies.

        What the array or the whole circuit tells of it is told there alone.
        """
        lying = [one for one in self.there if one.length_m]
        reach = [cable_length(self.way_m, self.length_m) for _ in lying]
        own = [check for check in self.answer.checks if not _handed_on(self, check)]
        return [*own, *self.sized.checks, *reach]

    @property
    def name(self) -> str:
        """Number with both ends."""
        return statement("line-with-ends", line=self.line, start=self.start, end=self.end)

    @property
    def length_m(self) -> float:
        """One way [m]."""
        return self.request.length_m

    @property
    def own_ladder(self) -> LadderResult:
        """Result in the ladder that the rules are written for."""
        return self.answer.awg if self.answer.rules_ladder == "awg" else self.answer.metric

    @property
    def size(self) -> SizeResult:
        """Size at hand, else that which the rules choose; the largest where none passes."""
        return self.answer.at_hand or self.own_ladder.shown

    @property
    def drop_v(self) -> float:
        """Lost in it and in the leads of the string that loses most there, in full sun [V]."""
        return self.size.drop_v + max((one.drop_v for one in self.leads.values()), default=0.0)

    @property
    def loss_w(self) -> float:
        """Heat in it and in all leads before it, in full sun [W]."""
        return self.size.loss_w + sum(one.loss_w for one in self.leads.values())

    @property
    def highest_v(self) -> float:
        """Voltage that its insulation and what sits in it must bear [V]."""
        return self.answer.protection.needed_voltage_v

    @property
    def plug_a(self) -> float:
        """Rating of plugs that it needs: what it was judged with, more where that fails [A]."""
        judged = (c.capacity for c in self.answer.checks if c.code == "connector-current")
        return max(next(judged, None) or 0.0, self.answer.currents.maximum_a)

    @property
    def insulation(self) -> str:
        """Insulation that it was sized with."""
        chosen = (a.value for a in self.answer.assumptions if a.field == "/insulation")
        return self.request.insulation or str(next(chosen))


@dataclass(frozen=True, slots=True)
class _Plan:
    job: Job
    assumptions: Assumptions
    harness: list[HarnessItem]
    roof_length_m: dict[str, float]
    highest_v: float


def size_cables(
    job: Job,
    arrangement: Arrangement,
    roof_length_m: dict[str, float],
    charge_voltage_v: float,
    assumptions: Assumptions,
) -> list[SizedLine]:
    """Size every cable of an arrangement.

    Parameters
    ----------
    job : Job
        The resolved request.
    arrangement : Arrangement
        How the panels are wired.
    roof_length_m : dict of str to float
        Way along the roof from each panel to the cable entry [m], slack included.
    charge_voltage_v : float
        Highest charging voltage at 25 °C [V].
    assumptions : Assumptions
        Takes what is chosen for the caller.

    Returns
    -------
    list of SizedLine
        String lines first, then per controller its output line and its battery line.
    """
    highest_v = _highest_charge_v(job, charge_voltage_v, assumptions)
    plan = _Plan(job, assumptions, arrangement.harness, roof_length_m, highest_v)
    requests = [asked for array in arrangement.arrays for asked in _array_requests(plan, array)]
    if has_bus(job.request):
        outputs = [a.request for a in requests if a.kind == "controller-to-battery"]
        solar_a = sum(request.controller_output_a or 0.0 for request in outputs)
        bank = BankCircuits(job.request, charge_voltage_v, solar_a, outputs[0], assumptions)
        requests += bank.lines()
    refuse_lines(job.states, requests, arrangement.arrays)
    leads = {array.controller: _leads(plan, array) for array in arrangement.arrays}
    lines: list[SizedLine] = []
    for number, line in enumerate(requests, start=1):
        pointers = _pointers(line.kind)
        found = sized(job.states, _as_long(job, line), pointers)
        own = leads.get(line.behind.equipment, {}) if line.kind in _CARRIES_STRINGS else {}
        lines.append(
            SizedLine(
                f"W{number}",
                line.kind,
                line.start,
                line.end,
                2,
                *line.behind,
                names_of(line),
                found,
                line.way_m or line.request.length_m,
                # A string with a cable of its own comes before the line that carries them all.
                {n: own.pop(n) for n in line.behind.strings if n in own},
            )
        )
        chosen = [made for made in found.answer.assumptions if made.field not in _DERIVED]
        assumptions.merge(chosen, pointers)
    _note_terminals(job, lines, assumptions)
    return lines


def _handed_on(line: SizedLine, check: Check) -> bool:
    """Whether the array part, or the whole circuit, tells this check of a cable already."""
    if check.code == "connector-current" and line.has("plug"):
        return False
    if check.code == "device-interrupting":
        return line.kind in STRING_LINES and line.request.fuse_rating_a is not None
    if check.code == "overcurrent-protection":
        return True
    return line.kind in PV_LINES and check.code in (
        "string-reverse-current",
        "string-fuse-rating",
        "connector-current",
        "device-listed",
    )


def _highest_charge_v(job: Job, charge_v: float, notes: Assumptions) -> float:
    battery, air_c = job.request.battery, job.request.site.lowest_ambient_c
    coldest_c = float(battery_c(battery, air_c))
    highest_v = highest_charge_v(battery, charge_v, coldest_c)
    if highest_v > charge_v:
        why = statement("charged-higher-in-the-cold", coldest_c=coldest_c)
        notes.note("/battery/chemistry", round(highest_v, 1), why)
    return highest_v


def _as_long(job: Job, line: AskedLine) -> AskedLine:
    """A line inside the vehicle as long as it lies; those of panels are so already."""
    if line.kind in PV_LINES:
        return line
    length_m = fixed_m(job.states, line.kind, names_of(line)) or line.request.length_m
    return line._replace(request=msgspec.structs.replace(line.request, length_m=length_m))


def _pointers(kind: LineKind) -> Translate:
    """Where the fit-out request sets what the wire sizing chose."""
    side, drop = ("roof", "pv") if kind in PV_LINES else ("inside", "battery")
    return moved(
        {
            "/insulation": f"/cables/{side}_insulation",
            "/ambient_c": "/cables/inside_ambient_c",
            "/allowed_drop_fraction": f"/cables/{drop}_drop_fraction",
            "/conductor": "/cables/conductor",
            "/connector_rating_a": "/connectors/plug_current_a",
            "/connector_largest_mm2": "/connectors/largest_conductor_mm2",
            "/entry/cable_diameters_mm": "/cables/cable_diameter_mm",
            "/runs/0/height_above_roof_m": "/cables/height_above_roof_m",
        }
    )


def _note_terminals(job: Job, lines: list[SizedLine], assumptions: Assumptions) -> None:
    """Note terminals that nobody described: the lowest figure, and every reason for one.

    Input and output of one controller may differ by their current.
    """
    found: dict[str, dict[float, Text]] = {}
    known = [controller.name for controller in job.request.controllers]
    for line in (line for line in lines if line.controller in known):
        for made in line.answer.assumptions:
            if made.field == "/terminal_temperature_c":
                found.setdefault(_terminals(job, line), {}).setdefault(
                    float(made.value), reason_of(made)
                )
    for pointer, reasons in found.items():
        told = [
            statement("terminals-at", terminal_c=celsius, why=reasons[celsius])
            for celsius in sorted(reasons)
        ]
        assumptions.note(pointer, min(reasons), together("semicolon", told))


def _terminals(job: Job, line: SizedLine) -> str:
    """Where a line's terminals are set: a string ends in plugs, other lines at the controller."""
    if line.kind in STRING_LINES:
        return "/cables/plug_temperature_c"
    controller = [c.name for c in job.request.controllers].index(line.controller)
    return f"/controllers/{controller}/terminal_temperature_c"


_DERIVED = ("/terminal_temperature_c", "/operating_current_a", "/fault_current_a")
"""What terminals, panels and arrangement decide: noted elsewhere, or no caller's to set."""


def _array_requests(plan: _Plan, array: ControllerArray) -> list[AskedLine]:
    name, numbers = array.controller, tuple(range(1, len(array.strings) + 1))
    panels = _panels(array)
    every, request = Behind(name, numbers, panels), plan.job.request
    inside_m, roof_m = request.cables.entry_to_controller_m, _roof_m(plan, array)
    slack = 1.0 + request.cables.slack_fraction
    lying_m = fixed_m(plan.job.states, "pv-output", [name, *panels])
    output_m = inside_m + roof_m if lying_m is None else lying_m
    string_m = {n: _string_m(plan, array, n) for n in numbers}
    allowed = _pv_budget(plan)
    budget = allowed / _pv_way_m(plan, array)
    names = [string_words(array, number) for number in numbers]
    made: list[AskedLine] = [
        AskedLine(
            "pv-string",
            names[number - 1],
            statement("branch-connectors-here"),
            Behind(name, (number,), tuple(array.strings[number - 1].panels)),
            _pv_request(plan, array, number, length_m, budget),
            _extension_m(plan, array, number) / slack,
        )
        for number, length_m in string_m.items()
        if length_m > 0.0
    ]
    start = statement("branch-connectors-of", strings=[*names]) if len(names) > 1 else names[0]
    output = _pv_request(plan, array, None, output_m, budget)
    battery = _battery_request(plan, array)
    return [
        *made,
        AskedLine("pv-output", start, name, every, output, inside_m + roof_m / slack),
        *_removable(plan, array, allowed),
        AskedLine("controller-to-battery", name, meeting_point(request), every, battery),
    ]


def _removable(plan: _Plan, array: ControllerArray, allowed_fraction: float) -> list[AskedLine]:
    """Lead of what is plugged in beside the array, all of its way; none where nothing is."""
    own, request = array.removable, plan.job.request
    if own is None:
        return []
    asked = _asked_removable(plan, array)
    behind = msgspec.structs.replace(
        _panels_behind(plan, array, array.strings[0], joined=False),
        i_sc_a=own.i_sc_a,
        i_mp_a=own.i_mp_a,
        other_strings_i_sc_a=array.i_sc_a,
        max_series_fuse_a=asked.electrical.max_series_fuse_a,
    )
    lead = WireSizingRequest(
        circuit="pv-string",
        rules=request.rules,
        voltage_v=asked.in_series * asked.electrical.v_mp_v,
        length_m=asked.lead_m,
        panels_behind=behind,
        fuse_rating_a=own.fuse_a,
        fuse_needed=True if own.fuse_a is not None else None,
        max_voltage_v=_highest_v(plan, array),
        allowed_drop_fraction=allowed_fraction,
        conductor=request.cables.conductor,
        insulation=request.cables.roof_insulation,
        runs=[Run(where="free-air")],
        ambient_c=request.site.highest_ambient_c,
        terminal_temperature_c=request.cables.plug_temperature_c,
        connector_rating_a=asked.plug_current_a or request.connectors.plug_current_a,
        connector_largest_mm2=request.connectors.largest_conductor_mm2,
    )
    end, where = array.controller, Behind(array.controller)
    return [AskedLine("removable-panel", asked.name, end, where, lead)]


def _asked_removable(plan: _Plan, array: ControllerArray) -> RemovablePanel:
    return next(each for each in plan.job.request.removable if each.controller == array.controller)


def string_words(array: ControllerArray, number: int) -> str:
    """A string with its panels, as schedules name it."""
    return statement(
        "string-with-panels", number=number, panels=[*array.strings[number - 1].panels]
    )


def _string_m(plan: _Plan, array: ControllerArray, number: int) -> float:
    """Cable from one string's ends to where the strings join; 0 where its own leads reach [m]."""
    if len(array.strings) == 1:
        return 0.0
    own = [array.controller, *array.strings[number - 1].panels]
    lying_m = fixed_m(plan.job.states, "pv-string", own)
    return _extension_m(plan, array, number) if lying_m is None else lying_m


def _extension_m(plan: _Plan, array: ControllerArray, number: int) -> float:
    """Cable beyond the leads of one string, slack included [m]."""
    extensions = (
        item.length_m or 0.0
        for item in plan.harness
        if (item.kind, item.controller, item.strings) == ("extension", array.controller, [number])
        and item.polarity != "between-panels"
    )
    return max(extensions, default=0.0)


def _leads_m(plan: _Plan, array: ControllerArray, number: int) -> float:
    """Leads between the panels of a string beyond the panels' own [m].

    A nameplate is measured at the plugs of a panel's own leads (IEC 60904-1, from memory), so that
    what these lose is in it.
    """
    return sum(
        item.length_m or 0.0
        for item in plan.harness
        if (item.kind, item.polarity) == ("extension", "between-panels")
        and (item.controller, item.strings) == (array.controller, [number])
    )


def _leads(plan: _Plan, array: ControllerArray) -> dict[int, SizeResult]:
    """Size of the leads between panels, drop and loss by the number of the string."""
    lengths_m = {n: _leads_m(plan, array, n) for n in range(1, len(array.strings) + 1)}
    budget = _pv_budget(plan) / _pv_way_m(plan, array)
    return {
        number: _lead_size(_pv_request(plan, array, number, length_m / 2.0, budget))
        for number, length_m in lengths_m.items()
        if length_m > 0.0
    }


def _lead_size(asked: WireSizingRequest) -> SizeResult:
    """The usual size where the rules admit it, else the smallest that they do."""
    asked = msgspec.structs.replace(asked, conductor=Conductor(tinned=True))
    usual = wire_sizing(msgspec.structs.replace(asked, conductor_at_hand=_USUAL_LEAD))
    least = usual.metric.shown
    if usual.at_hand is None or least.area_mm2 > usual.at_hand.area_mm2:
        return least
    return usual.at_hand


def _pv_way_m(plan: _Plan, array: ControllerArray) -> float:
    """Longest way from the panels of a string to the controller; leads lie in one conductor [m]."""
    lying_m = fixed_m(plan.job.states, "pv-output", [array.controller, *_panels(array)])
    inside_m = plan.job.request.cables.entry_to_controller_m
    output_m = inside_m + _roof_m(plan, array) if lying_m is None else lying_m
    numbers = range(1, len(array.strings) + 1)
    return output_m + max(
        _string_m(plan, array, n) + _leads_m(plan, array, n) / 2.0 for n in numbers
    )


def _panels(array: ControllerArray) -> tuple[str, ...]:
    return tuple(panel for string in array.strings for panel in string.panels)


def _roof_m(plan: _Plan, array: ControllerArray) -> float:
    """Cable on the roof from where the strings join to the entry, around what is in the way [m].

    Strings join at the panel next to the entry; a single string has nothing to join, and its own
    leads are the first part of the way.
    """
    alone = len(array.strings) == 1
    lengths: list[float] = []
    for end in (0, -1):
        ends = [string.panels[end] for string in array.strings]
        meeting = min(ends, key=plan.roof_length_m.__getitem__)
        given = plan.job.type_of(meeting).lead_length_m
        lead = PRACTICE.figure("lead-length") if given is None else given
        lengths.append(max(0.0, plan.roof_length_m[meeting] - (lead if alone else 0.0)))
    return max(lengths)


def _pv_budget(plan: _Plan) -> float:
    budget = plan.assumptions.choose(
        "/cables/pv_drop_fraction",
        plan.job.request.cables.pv_drop_fraction,
        0.03,
        statement("drop-to-controller", why=DROP_SHARE_WHY),
    )
    plan.assumptions.note("/cables/pv_drop_fraction", "shared by length", DROP_SHARE_WHY)
    return budget


def _panels_behind(
    plan: _Plan, array: ControllerArray, string: ArrangedString, *, joined: bool
) -> PanelsBehind:
    """One string, what is beside it, and the battery behind the controller.

    The line that carries all strings does not carry what is plugged in at the controller, which
    feeds back into a string of several all the same.
    """
    beside = array.strings if joined else array.whole
    controller, battery = plan.job.controller(array.controller), plan.job.request.battery
    fuses = (plan.job.type_of(n).panel.electrical.max_series_fuse_a for n in string.panels)
    return PanelsBehind(
        i_sc_a=string.i_sc_a,
        i_mp_a=string.i_mp_a,
        strings_in_parallel=len(beside),
        other_strings_i_sc_a=(
            sum(each.i_sc_a for each in beside) - string.i_sc_a if len(beside) > 1 else None
        ),
        max_series_fuse_a=weakest_rating(fuses).against(string.reverse_current_a),
        battery_backfeed_a=backfeed_a(controller, battery, plan.assumptions),
    )


def _plates(plan: _Plan, array: ControllerArray) -> list[list[PanelElectrical]]:
    """Nameplates of the panels of every string."""
    return [
        [plan.job.type_of(name).panel.electrical for name in string.panels]
        for string in array.strings
    ]


def _highest_v(plan: _Plan, array: ControllerArray) -> float:
    """Highest open-circuit voltage in the cold of all that meets at a controller [V].

    Colder than the rules' table and without a coefficient, the table's last factor stands in for
    the voltage class of cables and devices only; the array's own check stays not assessed.
    """
    plates = _plates(plan, array)
    if array.removable is not None:
        plates.append([_asked_removable(plan, array).electrical] * len(array.removable.panels))
    return max(
        string.cold_voc_v or coldest_factor() * sum(plate.v_oc_v for plate in own)
        for string, own in zip(array.whole, plates, strict=True)
    )


def _pv_request(
    plan: _Plan, array: ControllerArray, number: int | None, length_m: float, budget: float
) -> WireSizingRequest:
    """Cable of one string, or that which carries them all; the budget is per metre."""
    request, joined = plan.job.request, number is None
    alone = len(array.strings) == 1
    cables, connectors = request.cables, request.connectors
    controller = plan.job.controller(array.controller)
    string = array.strings[(number or 1) - 1]
    v_mp_v = [sum(plate.v_mp_v for plate in own) for own in _plates(plan, array)]
    height = cables.height_above_roof_m
    runs = [Run(where="on-roof", current_carrying_conductors=2, height_above_roof_m=height)]
    if joined:
        runs.append(Run(where="raceway", current_carrying_conductors=2, ambient_c=_inside(plan)))
    # A single string has no other place for its fuse than the cable to the controller, and what is
    # plugged in beside it there feeds back into that cable.
    own_fuse = not joined or alone
    return WireSizingRequest(
        circuit="pv-string" if not joined or (alone and array.removable) else "pv-output",
        rules=request.rules,
        voltage_v=min(v_mp_v) if number is None else v_mp_v[number - 1],
        length_m=length_m,
        panels_behind=_panels_behind(plan, array, string, joined=joined and not alone),
        operating_current_a=sum(each.i_mp_a for each in array.strings) if joined else None,
        fuse_rating_a=string.fuse_a if own_fuse else None,
        # Where a fuse is needed and none fits, the cable is still judged with one.
        fuse_needed=True if own_fuse and string.fuse_a is not None else None,
        max_voltage_v=_highest_v(plan, array),
        allowed_drop_fraction=budget * length_m,
        conductor=cables.conductor,
        insulation=cables.roof_insulation,
        runs=runs,
        ambient_c=request.site.highest_ambient_c,
        terminal_temperature_c=(
            controller.terminal_temperature_c if joined else cables.plug_temperature_c
        ),
        connector_rating_a=connectors.plug_current_a,
        connector_largest_mm2=connectors.largest_conductor_mm2,
        entry=_entry(plan) if joined else None,
    )


def _entry(plan: _Plan) -> EntryRequest:
    diameter, skin = plan.job.request.cables.cable_diameter_mm, plan.job.request.skin
    if skin is None:
        plan.assumptions.note("/skin", "unknown, 1.0 mm", statement("unknown-skin"))
        skin = RoofSkin(material="unknown", thickness_m=0.001)
    return EntryRequest(
        cable_diameters_mm=[] if diameter is None else [diameter] * 2,
        sheet=_SHEETS[skin.material],
        thickness_mm=skin.thickness_m * 1000.0,
    )


def _battery_request(plan: _Plan, array: ControllerArray) -> WireSizingRequest:
    request = plan.job.request
    controller = plan.job.controller(array.controller)
    rated_a, is_switch = controller.max_output_current_a, controller.kind == "pwm"
    # With what is plugged in a plain switch adds currents, a tracker powers.
    amperes, watts = array.whole_i_sc_a / array.i_sc_a, array.whole_p_mp_w / array.p_mp_w
    more = amperes if is_switch else watts
    return WireSizingRequest(
        circuit="controller-to-battery",
        rules=request.rules,
        voltage_v=float(request.battery.nominal_voltage_v),
        length_m=request.cables.controller_to_battery_m,
        # A plain switch passes strong sun on.
        controller_output_a=max(rated_a, STRONG_SUN * array.whole_i_sc_a) if is_switch else rated_a,
        operating_current_a=min(more * array.output_current_a, rated_a),
        max_voltage_v=plan.highest_v,
        allowed_drop_fraction=request.cables.battery_drop_fraction,
        conductor=request.cables.conductor,
        insulation=request.cables.inside_insulation,
        runs=[Run(where="raceway", current_carrying_conductors=2)],
        ambient_c=_inside(plan),
        terminal_temperature_c=controller.terminal_temperature_c,
        fault_current_a=fault_current_a(
            request.battery.short_circuit_current_a,
            request.battery.capacity_ah,
            "/battery/short_circuit_current_a",
            plan.assumptions,
        ),
    )


_SHEETS: dict[SkinMaterial, SheetMaterial] = {
    "aluminium-3003-h14": "aluminium",
    "aluminium-5052-h32": "aluminium",
    "aluminium-5754-h111": "aluminium",
    "steel": "steel",
    "glass-fibre": "glass-fibre",
    "sandwich": "sandwich",
    "plywood": "sandwich",
    "unknown": "steel",
}
"""How each skin behaves around a cable entry; an unknown one counts as sharp and rusting."""


def _inside(plan: _Plan) -> float:
    least_c, hotter_k = (
        WIRING_PRACTICE.figure("air-inside"),
        BATTERY_PRACTICE.figure("inside-hotter"),
    )
    return plan.assumptions.choose(
        "/cables/inside_ambient_c",
        plan.job.request.cables.inside_ambient_c,
        max(least_c, plan.job.request.site.highest_ambient_c + hotter_k),
        statement("hotter-inside"),
    )


def cable_keys(line: SizedLine) -> list[str]:
    """Keys of its cable on the parts list, plus and minus."""
    kind: PartKind = "pv-cable" if line.kind in PV_LINES else "battery-cable"
    chosen, metal = line.answer.at_hand or line.own_ladder.chosen, line.request.conductor
    size = worded(chosen.size) if chosen else "none-passes"
    details = metal.material, metal.stranding or "", size, line.insulation
    return [part_key(kind, *details, colour) for colour in ("red", "black")]


def schedule(lines: list[SizedLine]) -> list[WireLine]:
    """The wire schedule, one entry a line."""
    return [
        WireLine(
            line=line.line,
            kind=line.kind,
            start=line.start,
            end=line.end,
            device=device_of(line.kind, line.controller, line.panels),
            length_m=line.length_m,
            conductors=line.conductors,
            maximum_current_a=line.answer.currents.maximum_a,
            operating_current_a=line.answer.currents.operating_a,
            awg=awg.size if awg else "",
            awg_area_mm2=awg.area_mm2 if awg else 0.0,
            metric_mm2=metric.area_mm2 if metric else 0.0,
            at_hand=line.answer.at_hand.size if line.answer.at_hand else "",
            governing=line.answer.governing,
            drop_of=line.size.size,
            ampacity_a=line.size.ampacity_a,
            largest_device_a=line.size.largest_device_a,
            slotted_torque_n_m=torque.slotted_n_m,
            hexagon_torque_n_m=torque.hexagon_n_m,
            drop_v=line.drop_v,
            drop_fraction=line.drop_v / line.request.voltage_v,
            loss_w=line.loss_w,
            verdict=verdict_of(line.checks),
            part_keys=cable_keys(line),
        )
        for line in lines
        for awg, metric in [(line.answer.awg.chosen, line.answer.metric.chosen)]
        for torque in [terminal_torque(line.size.area_mm2)]
    ]


def notes(lines: list[SizedLine]) -> list[WiringNote]:
    """What the rules ask for beside the sizes, each note once."""
    return list({note.text: note for line in lines for note in line.answer.notes}.values())
