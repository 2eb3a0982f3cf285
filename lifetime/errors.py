r"""Every error this program raises on purpose, as one tree.

    PackwearError
    ├── InputError (ValueError)          the user's files or numbers are at fault; exit code 2
    │   ├── HistoryError                 a history file cannot be read as the study says
    │   ├── ProfileError                 a parameter set is missing, incomplete or contradictory
    │   ├── StudyError                   a study file has faults; carries all of them at once
    │   └── NumberError                  an array or scalar is not finite, not in range, or of the wrong shape
    ├── AssessmentError (RuntimeError)   the input is well-formed, but the run cannot give an answer; exit code 1
    │   └── ConvergenceError             an iteration did not settle
    └── MissingPackageError (ImportError) an optional package is needed and not installed; exit code 1

Each message says what is wrong, where, what was expected, and what to do.
"""

from collections.abc import Sequence
from dataclasses import dataclass


class PackwearError(Exception):
    """Root of every error raised on purpose."""


class InputError(PackwearError, ValueError):
    """The user's files or numbers are at fault."""


class HistoryError(InputError):
    """A history file cannot be read as the study says.

    Args:
        message: What is wrong and what was expected.
        file: The file's name as the user gave it.
        row: Row in the file, counted from 1 with the header row as row 1; None where no single row is at fault.
        column: Column name as it stands in the file; None where no single column is at fault.
        remedy: What the user can do about it.
    """

    def __init__(
        self, message: str, *, file: str, row: int | None = None, column: str | None = None, remedy: str
    ) -> None:
        self.file = file
        self.row = row
        self.column = column
        self.remedy = remedy
        self.problem = message
        place = file
        if row is not None:
            place += f", row {row}"
        if column is not None:
            place += f', column "{column}"'
        super().__init__(f"{place}: {message} {remedy}")


class ProfileError(InputError):
    """A parameter set is missing, incomplete or contradictory."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a study file.

    Args:
        place: Where, as the path of keys, for example ``strategy[2].split.time_constant_s``.
        message: What is wrong, what was expected, and what to do.
    """

    place: str
    message: str


class StudyError(InputError):
    """A study file has faults; all of them are reported at once.

    Args:
        file: The study's name as the user gave it.
        faults: Every fault found.
    """

    def __init__(self, file: str, faults: Sequence[Fault]) -> None:
        self.file = file
        self.faults = tuple(faults)
        count = len(self.faults)
        lines = "\n".join(f"  {fault.place}: {fault.message}" for fault in self.faults)
        super().__init__(f"{file}: {count} {'fault' if count == 1 else 'faults'}\n{lines}")


class NumberError(InputError):
    """An array or scalar is not finite, not in range, or of the wrong shape."""


class AssessmentError(PackwearError, RuntimeError):
    """The input is well-formed, but the run cannot give an answer."""


class ConvergenceError(AssessmentError):
    """An iteration did not settle."""


class MissingPackageError(PackwearError, ImportError):
    """An optional package is needed and not installed.

    Args:
        what: What needs it, as the start of a sentence, for example "Reading HDF5 files".
        package: Name of the package.
        extra: The extra of this program that brings it.
    """

    def __init__(self, what: str, package: str, extra: str) -> None:
        self.what = what
        self.package = package
        self.extra = extra
        super().__init__(
            f"{what} needs the package {package}, which is not installed. "
            f"Install it with: pip install 'packwear[{extra}]'"
        )
