"""Opens what the program ships: tables, symbols, schemas, samples."""

from __future__ import annotations

from pathlib import Path

_HERE = Path(__file__).resolve().parent


def resource(*parts: str) -> Path:
    """Path of a shipped file below ``resources/``. Raises ``FileNotFoundError`` naming what is missing."""
    return _find("_resources", "resources", parts)


def sample(*parts: str) -> Path:
    """Path of a shipped file below ``samples/``."""
    return _find("_samples", "samples", parts)


def _find(packaged: str, in_checkout: str, parts: tuple[str, ...]) -> Path:
    for base in (_HERE / packaged, _HERE.parent / in_checkout):
        path = base.joinpath(*parts)
        if path.exists():
            return path
    raise FileNotFoundError(f"{in_checkout}/{'/'.join(parts)} is missing from this installation of Oneline.")
