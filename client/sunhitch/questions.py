"""Every flat question of the contract; clients and tests are driven by this table."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, ParamSpec, TypeAlias, TypeVar

from .types.base import Input, Output
from .types.quick import drops, fixings, fuses, heat, shades, voltages, winds, wires

P = ParamSpec("P")
A = TypeVar("A", bound=Output)


@dataclass(frozen=True, slots=True)
class Question(Generic[P, A]):
    """One question.

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

    @property
    def path(self) -> str:
        """Path of the GET call."""
        return f"/v1/quick/{self.name}"


AnyQuestion: TypeAlias = Question[..., Any]

COLD_VOC = Question("cold-voc", voltages.ColdVocQuestion, voltages.QuickColdVoc)
HOT_VMP = Question("hot-vmp", voltages.HotVmpQuestion, voltages.QuickHotVmp)
STRING_COUNT = Question("string-count", voltages.StringCountQuestion, voltages.QuickStringCount)
CELL_TEMPERATURE = Question(
    "cell-temperature", heat.CellTemperatureQuestion, heat.QuickCellTemperature
)
SHADED_POWER = Question("shaded-power", shades.ShadedPowerQuestion, shades.QuickShadedPower)
WIRE_SIZE = Question("wire-size", wires.WireSizeQuestion, wires.QuickWireSize)
WIRE_AMPACITY = Question("wire-ampacity", wires.WireAmpacityQuestion, wires.QuickWireAmpacity)
VOLTAGE_DROP = Question("voltage-drop", drops.VoltageDropQuestion, drops.QuickVoltageDrop)
STRING_FUSE = Question("string-fuse", fuses.StringFuseQuestion, fuses.QuickStringFuse)
BATTERY_FUSE = Question("battery-fuse", fuses.BatteryFuseQuestion, fuses.QuickBatteryFuse)
FOOT_LOAD = Question("foot-load", winds.FootLoadQuestion, winds.QuickFootLoad)
DYNAMIC_PRESSURE = Question(
    "dynamic-pressure", winds.DynamicPressureQuestion, winds.QuickDynamicPressure
)
BOND_STRENGTH = Question("bond-strength", fixings.BondStrengthQuestion, fixings.QuickBondStrength)
CURE_TIME = Question("cure-time", fixings.CureTimeQuestion, fixings.QuickCureTime)
BOLT_TORQUE = Question("bolt-torque", fixings.BoltTorqueQuestion, fixings.QuickBoltTorque)
