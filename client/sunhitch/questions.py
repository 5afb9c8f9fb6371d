"""Every flat question of the contract once: its name, words and types.

Clients, service, schema and command line are driven by these records.
"""

from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from inspect import Signature, signature
from typing import Any, Generic, ParamSpec, Self, TypeAlias, TypeVar, get_type_hints, overload

import msgspec

from .calls import InLoop, Waiting
from .types.base import Input, Output
from .types.quick import arrays, fixings, fuses, readings, shades, winds, wires

P = ParamSpec("P")
A = TypeVar("A", bound=Output)
R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class FlatQuestion(Generic[P, A]):
    """One flat question; as an attribute of `client.quick`, the call that asks it.

    Parameters
    ----------
    name : str
        Kebab-case name, the last part of the path.
    title, description : str
        What it answers, in a few words and in full.
    asked : callable
        Struct of its parameters.
    answered : type
        Struct of its answer; its first field is the one that is given alone.
    """

    name: str
    title: str
    description: str
    asked: Callable[P, Input]
    answered: type[A]

    @overload
    def __get__(self, holder: Waiting, owner: type) -> "QuestionCall[P, A]": ...

    @overload
    def __get__(self, holder: InLoop, owner: type) -> "QuestionCall[P, Coroutine[Any, Any, A]]": ...

    @overload
    def __get__(self, holder: object, owner: type) -> Self: ...

    def __get__(self, holder: Any, owner: type) -> Any:
        if holder is None or not issubclass(owner, Waiting | InLoop):
            return self
        return QuestionCall(self, holder.ask)

    @property
    def path(self) -> str:
        """Path of the GET call."""
        return f"/v1/quick/{self.name}"

    @property
    def fields(self) -> tuple[str, ...]:
        """Fields of the answer as a row, in order."""
        return tuple(name for name in self.answered.__struct_fields__ if name != "texts")


AnyQuestion: TypeAlias = FlatQuestion[..., Any]


def described(flat: Callable[..., Input | Output]) -> dict[str, dict[str, Any]]:
    """Unit, limits and meaning of every field of a question or of its answer.

    Parameters
    ----------
    flat : callable
        The Struct.

    Returns
    -------
    dict
        JSON Schema by field, without the null of what may be left out.
    """
    whole = msgspec.json.schema(flat)
    fields = whole["$defs"][whole["$ref"].rpartition("/")[2]]["properties"]
    plain = {name: [one, *one.get("anyOf", [])] for name, one in fields.items()}
    return {
        name: next((one for one in kinds if "type" in one or "enum" in one), kinds[0])
        for name, kinds in plain.items()
    }


class QuestionCall(Generic[P, R]):
    """A question as a method, which shows its parameters in notebooks and by `help`.

    Parameters
    ----------
    question : FlatQuestion
        What is asked.
    ask : callable
        `Quick.ask` or `AsyncQuick.ask`.
    """

    def __init__(self, question: FlatQuestion[P, Any], ask: Callable[..., R]) -> None:
        self._question = question
        self._ask = ask
        self.__name__ = question.name.replace("-", "_")
        self.__doc__ = f"{question.asked.__doc__} All parameters in SI units, by name."

    def __call__(self, *args: P.args, **given: P.kwargs) -> R:
        """Ask, with the parameters of the question's Struct."""
        return self._ask(self._question, *args, **given)

    @property
    def __signature__(self) -> Signature:
        plain = get_type_hints(self._question.asked)
        whole = signature(self._question.asked)
        named = [one.replace(annotation=plain[one.name]) for one in whole.parameters.values()]
        return whole.replace(parameters=named, return_annotation=self._question.answered)

    def __repr__(self) -> str:
        return f"<{self.__name__}{self.__signature__}>"


class Questions:
    """Every flat question in the order of the work; `client.quick` inherits them as its calls."""

    cold_voc = FlatQuestion(
        "cold-voc",
        "Open-circuit voltage in the cold",
        "Voltage of panels in series on the coldest morning, by the panel's own coefficient or by "
        "the table for panels without one, judged against the controller's input.",
        arrays.ColdVocQuestion,
        arrays.QuickColdVoc,
    )
    hot_vmp = FlatQuestion(
        "hot-vmp",
        "Voltage at maximum power in the heat",
        "Voltage of panels in series at noon on the hottest day, judged against what the "
        "controller needs to charge the battery full.",
        arrays.HotVmpQuestion,
        arrays.QuickHotVmp,
    )
    string_count = FlatQuestion(
        "string-count",
        "How many panels in series",
        "Most equal panels in series that a controller's input bears in the cold, and fewest that "
        "still charge the battery in the heat.",
        arrays.StringCountQuestion,
        arrays.QuickStringCount,
    )
    cell_temperature = FlatQuestion(
        "cell-temperature",
        "Cell temperature in the sun",
        "How hot the cells of a panel get in calm air, by how it is mounted.",
        arrays.CellTemperatureQuestion,
        arrays.QuickCellTemperature,
    )
    controller_current = FlatQuestion(
        "controller-current",
        "Is the array too large for the controller?",
        "Charging current that an array of equal panels gives in full sun against an MPPT "
        "controller's rating, with the power that is cut off, and its short-circuit current in "
        "strong sun against what the input bears.",
        arrays.ControllerCurrentQuestion,
        arrays.QuickControllerCurrent,
    )
    shaded_power = FlatQuestion(
        "shaded-power",
        "What is left in the shade?",
        "Power of equal panels with some cells of some of them in shade, solved cell by cell with "
        "their bypass diodes: with the worst pattern of these cells over bypass groups, paths and "
        "strings, and with the kindest.",
        shades.ShadedPowerQuestion,
        shades.QuickShadedPower,
    )
    wire_size = FlatQuestion(
        "wire-size",
        "Which wire?",
        "Smallest conductor that satisfies every rule for a current over a length, in American "
        "wire gauge and in square millimetres, with its fuse; by the whole wire-sizing "
        "calculation.",
        wires.WireSizeQuestion,
        wires.QuickWireSize,
    )
    wire_ampacity = FlatQuestion(
        "wire-ampacity",
        "What may this wire carry?",
        "Ampacity of a conductor by the table of the rules, with the factors for air and bundling, "
        "the limit of its terminals and the largest fuse that protects it.",
        wires.WireAmpacityQuestion,
        wires.QuickWireAmpacity,
    )
    voltage_drop = FlatQuestion(
        "voltage-drop",
        "What is lost on the way?",
        "Voltage drop and heat of a given conductor, there and back, and the length at which it "
        "just keeps the allowed drop.",
        wires.VoltageDropQuestion,
        wires.QuickVoltageDrop,
    )
    string_fuse = FlatQuestion(
        "string-fuse",
        "Do parallel strings need fuses?",
        "What the other strings can push into a faulty one against the panel's largest series "
        "fuse, and the stocked size that fits.",
        fuses.StringFuseQuestion,
        fuses.QuickStringFuse,
    )
    battery_fuse = FlatQuestion(
        "battery-fuse",
        "Which fuse at the battery?",
        "Family and size of the fuse at a battery's post for a current, its interrupting rating "
        "against what the battery can give into a short circuit, and how close it must sit.",
        fuses.BatteryFuseQuestion,
        fuses.QuickBatteryFuse,
    )
    foot_load = FlatQuestion(
        "foot-load",
        "How hard does a foot pull?",
        "Pull on the worst foot of a regular grid in any load case, at the place on the roof where "
        "it is hardest, as mount-check finds it; what is not asked here is as mount-check takes "
        "it. Strengths are for mount-check.",
        winds.FootLoadQuestion,
        winds.QuickFootLoad,
    )
    dynamic_pressure = FlatQuestion(
        "dynamic-pressure",
        "How hard does the wind push?",
        "Dynamic pressure of moving air at an altitude.",
        winds.DynamicPressureQuestion,
        winds.QuickDynamicPressure,
    )
    bond_strength = FlatQuestion(
        "bond-strength",
        "What does a glued pad hold?",
        "Design load of a full-grown bond by adhesive, surface, temperature and duration, evenly "
        "spread; peel at a pad's edge is for mount-check.",
        fixings.BondStrengthQuestion,
        fixings.QuickBondStrength,
    )
    cure_time = FlatQuestion(
        "cure-time",
        "When may it be driven?",
        "Rest until a bond has its full strength, and how much it has grown so far.",
        fixings.CureTimeQuestion,
        fixings.QuickCureTime,
    )
    bolt_torque = FlatQuestion(
        "bolt-torque",
        "How tight?",
        "Tightening torque and wrench of a nut, to three quarters of the proof load or to what "
        "the joint bears.",
        fixings.BoltTorqueQuestion,
        fixings.QuickBoltTorque,
    )
    meter_reading = FlatQuestion(
        "meter-reading",
        "What should my meter read now?",
        "Open-circuit voltage, short-circuit current, and voltage, current and power at work of a "
        "sound array in the light and heat of now, each with the band that a commissioning check "
        "lets pass.",
        readings.MeterReadingQuestion,
        readings.QuickMeterReading,
    )
    half_covered = FlatQuestion(
        "half-covered",
        "What with half of a panel covered?",
        "Power, voltage and current of a sound panel whose half is covered, light-tight: with the "
        "cover over whole bypass groups, and over half of the cells of each. With whole groups "
        "covered, first one half of them, then the other, a bypass diode that does not conduct "
        "shows next to nothing, in short circuit as in power.",
        readings.HalfCoveredQuestion,
        readings.QuickHalfCovered,
    )


QUESTIONS: tuple[AnyQuestion, ...] = tuple(
    getattr(Questions, name) for name in vars(Questions) if not name.startswith("_")
)

BY_NAME = {question.name: question for question in QUESTIONS}
