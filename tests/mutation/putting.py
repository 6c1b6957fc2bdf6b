"""Puts a mutant into the running program: nothing is imported again, so whoever imported the function gets the change."""

from __future__ import annotations
import __future__

import functools
import gc
import importlib
import inspect
import sys
from types import FunctionType, ModuleType
from typing import Any

from mutations import SCALED, Mutant, scaled

FLAGS = __future__.annotations.compiler_flag
#: Whose memories of answers are emptied after a change.
_REMEMBERING = ("oneline.rules", "oneline.calc", "oneline.study", "oneline.network", "test")


def put(mutant: Mutant, source: str) -> bool:
    """Change the program; false where this way cannot (no such function at run time, a field without a plain value)."""
    module = importlib.import_module(mutant.file.removesuffix(".py").replace("/", "."))
    module.__dict__[SCALED] = scaled
    space = dict(module.__dict__)
    *holders, name = mutant.where.split(".")
    holder: Any = getattr(module, holders[0]) if holders else module
    is_function = source.lstrip().startswith(("def ", "async def "))
    exec(compile(source if is_function else source.strip(), mutant.file, "exec", flags=FLAGS, dont_inherit=True), space)
    return put_code(holder, name, space[name]) if is_function else _put_value(holder, name, space[name])


def put_code(holder: Any, name: str, new: FunctionType) -> bool:
    """Give a module's or class's function the code of another one."""
    old = _function(inspect.getattr_static(holder, name, None))
    if old is None or old.__code__.co_freevars != new.__code__.co_freevars:
        return False
    old.__code__ = new.__code__
    old.__defaults__, old.__kwdefaults__ = new.__defaults__, new.__kwdefaults__
    return True


def _function(found: Any) -> FunctionType | None:
    """The function under a property, a class or static method, or ``lru_cache``."""
    while not isinstance(found, FunctionType):
        if isinstance(found, property):
            found = found.fget
        elif isinstance(found, functools.cached_property):
            found = found.func
        elif hasattr(found, "__wrapped__"):
            found = found.__wrapped__
        elif isinstance(found, staticmethod | classmethod):
            found = found.__func__
        else:
            return None
    return found


def _put_value(holder: Any, name: str, new: Any) -> bool:
    """A module's constant wherever it was imported, or the default of a dataclass's field."""
    if isinstance(holder, ModuleType):
        old = holder.__dict__[name]
        for module in [m for m in sys.modules.values() if getattr(m, "__name__", "").startswith(("oneline", "test"))]:
            if module.__dict__.get(name) is old:
                module.__dict__[name] = new
        return True
    start = holder.__init__
    names, defaults = list(inspect.signature(start).parameters), start.__defaults__ or ()
    at = names.index(name) - (len(names) - len(defaults)) if name in names else -1
    if at < 0 or not isinstance(new, int | float | str | tuple | None):
        return False
    setattr(holder, name, new)
    start.__defaults__ = (*defaults[:at], new, *defaults[at + 1 :])
    return True


def memories() -> list[Any]:
    """What keeps answers that calc, rules and what is above them made."""
    kept = (thing for thing in gc.get_objects() if isinstance(thing, functools._lru_cache_wrapper))
    return [thing for thing in kept if (thing.__module__ or "").startswith(_REMEMBERING)]


def same_examples_every_time() -> None:
    """Let hypothesis make the same examples in every run, and leave none behind."""
    import hypothesis  # not before pytest's own plugin of it is there

    settings = hypothesis.settings(
        derandomize=True, database=None, deadline=None, suppress_health_check=list(hypothesis.HealthCheck)
    )
    hypothesis.settings.register_profile("mutation", settings)
    hypothesis.settings.load_profile("mutation")
