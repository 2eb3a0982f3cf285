"""How a job ends that could not be done: in words, and whether trying again can help."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy.exc import InterfaceError, OperationalError

from lifetime.errors import AssessmentError, Fault, InputError, StudyError
from webapi.errors import StoreError
from webapi.settings import JobLimits

_MOST_WORDS = 4_000
_MOST_FAULTS = 500


@dataclass(frozen=True, slots=True)
class Failure:
    """Why a job ended without a result.

    Args:
        message: What happened and what to do.
        faults: What is wrong with the study, if that is it.
        is_retryable: True where the fault lay with the machine, so that submitting again can help.
        is_unforeseen: True where nobody thought of it; the log then has the whole of it.
    """

    message: str
    faults: Sequence[Fault] = ()
    is_retryable: bool = False
    is_unforeseen: bool = False


def failure_of(error: Exception, limits: JobLimits | None = None) -> Failure:
    """What an exception means for the job it ended.

    Args:
        error: Whatever was raised.
        limits: What the job might take; None where only the machine limits it.
    """
    match error:
        case StudyError():
            faults = [Fault(storable(one.place), storable(one.message)) for one in error.faults[:_MOST_FAULTS]]
            return Failure("The study cannot be assessed.", faults)
        case InputError() | AssessmentError():
            return Failure(storable(str(error)))
        case StoreError():
            return Failure(storable(str(error)), is_retryable=True)
        case MemoryError():
            return _out_of_memory(limits)
        case OperationalError() | InterfaceError() | OSError():
            return Failure(
                f"The server could not read or write ({type(error).__name__}). Submit the study again; the details "
                "are in its log.",
                is_retryable=True,
            )
        case _:
            return Failure(
                f"The assessment ended unexpectedly ({type(error).__name__}), and would again with this version of the "
                "program. Look for values far from the usual in the study, and show the server's log, which has this "
                "job's id, to whoever looks after the program.",
                is_unforeseen=True,
            )


def _out_of_memory(limits: JobLimits | None) -> Failure:
    if limits is None:
        return Failure(
            "The machine has not enough memory for this study. Shorten its histories, leave out strategies, or "
            "submit it again on a larger machine.",
            is_retryable=True,
        )
    return Failure(
        f"The assessment needs more than the {limits.memory_MiB:,} MiB of memory that a job may take. Look for "
        "values far from the usual, shorten the histories or leave out strategies; or have PACKWEAR_JOB_BYTES "
        "raised, then submit the study again.",
        is_retryable=True,
    )


def overtime(limits: JobLimits) -> Failure:
    """What it means that a job took longer than it may.

    Args:
        limits: What it might take.
    """
    return Failure(
        f"The assessment takes longer than the {limits.seconds:,.0f} s that a job may take. Shorten the histories or "
        "leave out strategies; or have PACKWEAR_JOB_S raised, then submit the study again.",
        is_retryable=True,
    )


def process_end(code: int, limits: JobLimits) -> Failure:
    """What it means that a job's process ended without ending its job.

    Args:
        code: Its exit code; negative where a signal ended it.
        limits: What it might take.
    """
    return Failure(
        f"The process that assessed the study was ended (exit code {code}), most often because the machine has less "
        f"memory free than the {limits.memory_MiB:,} MiB that a job may take. Shorten the histories or leave out "
        "strategies, then submit the study again.",
        is_retryable=True,
    )


def storable(text: str) -> str:
    """Text as any database takes it: without NUL and halves of characters, and not endless.

    Args:
        text: Any text.
    """
    return text.replace("\x00", "").encode("utf-8", "replace").decode("utf-8")[:_MOST_WORDS]
