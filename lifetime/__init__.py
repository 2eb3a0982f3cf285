"""Life and cost of a hybrid storage pack under each candidate power-split strategy, from Python.

``import lifetime as pw`` gives the names in ``__all__``; each is imported when it is first used. Imports run one way:
this package never imports Flask, SQLAlchemy or ``webapi`` (``tests/contracts/test_imports.py`` proves it).
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from lifetime.errors import AssessmentError, HistoryError, InputError, PackwearError, StudyError
    from lifetime.history.model import History
    from lifetime.notebook.assessed import AssessedStrategy, AssessedStudy, assess
    from lifetime.notebook.counting import count_cycles
    from lifetime.notebook.draft import StudyDraft, demo_study, load_study
    from lifetime.notebook.histories import FileCheck, check, read_history
    from lifetime.notebook.source_life import SourceLife, source_life
    from lifetime.split import rules
    from lifetime.version import program_version

_ERRORS: Final = ("AssessmentError", "HistoryError", "InputError", "PackwearError", "StudyError")
_HOME: Final = {
    "AssessedStrategy": "lifetime.notebook.assessed",
    "AssessedStudy": "lifetime.notebook.assessed",
    "FileCheck": "lifetime.notebook.histories",
    "History": "lifetime.history.model",
    "SourceLife": "lifetime.notebook.source_life",
    "StudyDraft": "lifetime.notebook.draft",
    "assess": "lifetime.notebook.assessed",
    "check": "lifetime.notebook.histories",
    "count_cycles": "lifetime.notebook.counting",
    "demo_study": "lifetime.notebook.draft",
    "load_study": "lifetime.notebook.draft",
    "program_version": "lifetime.version",
    "read_history": "lifetime.notebook.histories",
    "rules": "lifetime.split",
    "source_life": "lifetime.notebook.source_life",
    **dict.fromkeys(_ERRORS, "lifetime.errors"),
}
"""Where each name of the front door is defined."""

__all__ = [
    "AssessedStrategy",
    "AssessedStudy",
    "AssessmentError",
    "FileCheck",
    "History",
    "HistoryError",
    "InputError",
    "PackwearError",
    "SourceLife",
    "StudyDraft",
    "StudyError",
    "assess",
    "check",
    "count_cycles",
    "demo_study",
    "load_study",
    "program_version",
    "read_history",
    "rules",
    "source_life",
]


def __getattr__(name: str) -> Any:
    """The named part of the front door, imported now (PEP 562)."""
    home = _HOME.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    if name == "rules":
        return import_module("lifetime.split.rules")
    return getattr(import_module(home), name)


def __dir__() -> list[str]:
    """The names of the front door."""
    return sorted(__all__)
