"""What is said about a strategy's histories: how values run between samples, and what reading and cleaning remarked."""

from collections.abc import Mapping

from lifetime.history.model import History
from lifetime.history.spec import HistoryInput
from lifetime.notices import Notice


def history_notices(inputs: Mapping[str, HistoryInput], histories: Mapping[HistoryInput, History]) -> list[Notice]:
    """Note how each history was read.

    Args:
        inputs: The strategy's histories by key.
        histories: Every history of the study by its input.
    """
    notices = []
    for key, spec in inputs.items():
        history = histories[spec]
        between = "linear" if history.interpolation == "linear" else "zero-order hold"
        notices.append(
            Notice(
                "interpolation",
                f"{key}: {between} between the {history.samples} samples of {history.label}; positive means "
                f"discharge after reading (discharge_is = {spec.discharge_is}).",
                "note",
            )
        )
        notices.extend(history.notices)
    return notices
