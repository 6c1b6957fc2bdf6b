"""Oneline: single-line diagrams of low-voltage services with live calculations.

The Python interface (``oneline.api``) is here by name and loaded when first used: ``open``, ``read``, ``save``, ``check``,
``print_door``, ``print_record``, ``export``, ``identify``, ``add_recording``, ``Builder``; what is tried on copies:
``remedies``, ``with_remedy``, ``bounds``, ``fits``, ``field_checks``; outages: ``plan_outage``, ``print_outage``;
``network_graph``.
``__init__.pyi`` tells type checkers the same.
"""

from typing import Any

from oneline.version import VERSION as __version__

_INTERFACE = (
    "Builder", "Handle", "HasProblems", "add_recording", "bounds", "check", "export", "field_checks", "fits", "identify",
    "network_graph", "open", "plan_outage", "print_door", "print_outage", "print_record", "read", "remedies", "save",
    "with_remedy",
)  # fmt: skip

__all__ = [
    "Builder", "Handle", "HasProblems", "__version__", "add_recording", "bounds", "check", "export", "field_checks", "fits",
    "identify", "network_graph", "open", "plan_outage", "print_door", "print_outage", "print_record", "read", "remedies",
    "save", "with_remedy",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name in _INTERFACE:
        from importlib import import_module

        return getattr(import_module("oneline.api"), name)
    raise AttributeError(f"module 'oneline' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_INTERFACE])
