"""The life of one source by itself, under a history of its own."""

from lifetime.assessment.setups import Operation, SourceSetup
from lifetime.assessment.source_result import assess_source
from lifetime.assessment.traces import history_traces
from lifetime.history.model import History
from lifetime.results.records import SourceResult


def assess_single_source(setup: SourceSetup, history: History, operation: Operation) -> SourceResult:
    """Assess one source on its history.

    Args:
        setup: The source.
        history: Its current or power.
        operation: How often the history is driven, for how long and in what climate.

    Raises:
        AssessmentError: The day does not fit into 24 h.
    """
    traces = history_traces(setup, history, operation.drive_repeats, operation.ambient_K)
    return assess_source(setup, traces, operation.yearly(traces.new.length_s))
