"""Contract types: what is sent and what comes back, one module per domain.

Every type can be had from here: ``from sunhitch.types import FitOutRequest, Panel, Check``.
"""

from collections.abc import Iterator
from importlib import import_module
from pkgutil import walk_packages
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .array import *
    from .bank import *
    from .base import *
    from .basis import *
    from .check import *
    from .commissioning import *
    from .documented import *
    from .fitout import *
    from .harvest import *
    from .mount import *
    from .panel import *
    from .parts import *
    from .place import *
    from .problem import *
    from .quick.arrays import *
    from .quick.fixings import *
    from .quick.fuses import *
    from .quick.readings import *
    from .quick.shades import *
    from .quick.winds import *
    from .quick.wires import *
    from .revision import *
    from .roof import *
    from .service import *
    from .shade import *
    from .stream import *
    from .system import *
    from .wiring import *
    from .work import *
else:

    def _modules() -> Iterator[ModuleType]:
        """Import one after the other."""
        for found in walk_packages(__path__, f"{__name__}."):
            yield import_module(found.name)

    def __getattr__(name: str) -> object:
        """A type, from the module that defines it."""
        if name.startswith("_"):
            raise AttributeError(name)
        for module in _modules():
            one = vars(module).get(name)
            if getattr(one, "__module__", "") == module.__name__:
                return one
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")

    def __dir__() -> list[str]:
        """Every type, for whoever looks for one."""
        return [
            name
            for module in _modules()
            for name, one in vars(module).items()
            if getattr(one, "__module__", "") == module.__name__
        ]
