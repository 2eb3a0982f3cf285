"""Life and cost of a hybrid storage pack under each candidate power-split strategy, from Python.

``import lifetime as pw`` gives the names in ``__all__``; each is imported when it is first used. Imports run one way:
this package never imports Flask, SQLAlchemy or ``webapi`` (``tests/contracts/test_imports.py`` proves it).
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from lifetime.notebook.counting import count_cycles

_HOME: Final = {
    "count_cycles": "lifetime.notebook.counting",
}
"""Where each name of the front door lives."""

__all__ = ["count_cycles"]


def __getattr__(name: str) -> Any:
    """The named part of the front door, imported now (PEP 562)."""
    home = _HOME.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(home), name)


def __dir__() -> list[str]:
    """The names of the front door."""
    return sorted(__all__)
