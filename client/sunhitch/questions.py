"""Every flat question of the contract once; clients and tests are driven by these records."""

from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from inspect import Signature, signature
from typing import Any, Generic, ParamSpec, Self, TypeAlias, TypeVar, get_type_hints, overload

import msgspec

from .calls import InLoop, Waiting
from .types.base import Input, Output
from .types.quick import (
    controllers,
    drops,
    fixings,
    fuses,
    heat,
    readings,
    shades,
    voltages,
    winds,
    wires,
)

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
    asked : callable
        Struct of its parameters.
    answered : type
        Struct of its answer.
    """

    name: str
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
    """Every flat question; `client.quick` inherits them as its calls."""

    cold_voc = FlatQuestion("cold-voc", voltages.ColdVocQuestion, voltages.QuickColdVoc)
    hot_vmp = FlatQuestion("hot-vmp", voltages.HotVmpQuestion, voltages.QuickHotVmp)
    string_count = FlatQuestion(
        "string-count", voltages.StringCountQuestion, voltages.QuickStringCount
    )
    cell_temperature = FlatQuestion(
        "cell-temperature", heat.CellTemperatureQuestion, heat.QuickCellTemperature
    )
    controller_current = FlatQuestion(
        "controller-current",
        controllers.ControllerCurrentQuestion,
        controllers.QuickControllerCurrent,
    )
    shaded_power = FlatQuestion("shaded-power", shades.ShadedPowerQuestion, shades.QuickShadedPower)
    wire_size = FlatQuestion("wire-size", wires.WireSizeQuestion, wires.QuickWireSize)
    wire_ampacity = FlatQuestion(
        "wire-ampacity", wires.WireAmpacityQuestion, wires.QuickWireAmpacity
    )
    voltage_drop = FlatQuestion("voltage-drop", drops.VoltageDropQuestion, drops.QuickVoltageDrop)
    string_fuse = FlatQuestion("string-fuse", fuses.StringFuseQuestion, fuses.QuickStringFuse)
    battery_fuse = FlatQuestion("battery-fuse", fuses.BatteryFuseQuestion, fuses.QuickBatteryFuse)
    foot_load = FlatQuestion("foot-load", winds.FootLoadQuestion, winds.QuickFootLoad)
    dynamic_pressure = FlatQuestion(
        "dynamic-pressure", winds.DynamicPressureQuestion, winds.QuickDynamicPressure
    )
    bond_strength = FlatQuestion(
        "bond-strength", fixings.BondStrengthQuestion, fixings.QuickBondStrength
    )
    cure_time = FlatQuestion("cure-time", fixings.CureTimeQuestion, fixings.QuickCureTime)
    bolt_torque = FlatQuestion("bolt-torque", fixings.BoltTorqueQuestion, fixings.QuickBoltTorque)
    meter_reading = FlatQuestion(
        "meter-reading", readings.MeterReadingQuestion, readings.QuickMeterReading
    )
    half_covered = FlatQuestion(
        "half-covered", readings.HalfCoveredQuestion, readings.QuickHalfCovered
    )


QUESTIONS: tuple[AnyQuestion, ...] = tuple(
    getattr(Questions, name) for name in vars(Questions) if not name.startswith("_")
)
