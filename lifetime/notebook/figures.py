"""The pictures of the pages for a notebook, as figures of the plotting library."""

from typing import TYPE_CHECKING, Any

from lifetime.errors import InputError
from lifetime.results.document import ResultDocument
from lifetime.results.view import SourceKind

if TYPE_CHECKING:
    import plotly.graph_objects as go


class Figures:
    """Figures of one assessed study; each draws itself in a notebook.

    Args:
        document: What was assessed.
    """

    def __init__(self, document: ResultDocument) -> None:
        self._document = document

    def cost(self) -> "go.Figure":
        """Net present cost of each strategy by cost item.

        Raises:
            InputError: No strategy has a cost.
        """
        from lifetime.report.figures.ranking_data import cost_bars  # noqa: PLC0415 - slow imports
        from lifetime.report.figures.ranking_plotly import cost_plotly  # noqa: PLC0415

        bars = cost_bars(self._document)
        if not bars.names:
            raise InputError("No strategy has a cost to draw; print the result to see why.")
        return _figure(cost_plotly(bars))

    def timeline(self) -> "go.Figure":
        """Life of each source against the service life."""
        from lifetime.report.figures.ranking_data import life_bars  # noqa: PLC0415 - slow imports
        from lifetime.report.figures.ranking_plotly import life_plotly  # noqa: PLC0415

        return _figure(life_plotly(life_bars(self._document)))

    def soh(self, source: SourceKind = "battery") -> "go.Figure":
        """State of health over the years, all strategies in one picture.

        Args:
            source: ``battery`` or ``ultracapacitor``.

        Raises:
            InputError: No strategy has that source for at least a month.
        """
        from lifetime.report.figures.source_data import health_figure  # noqa: PLC0415 - slow imports
        from lifetime.report.figures.source_plotly import ComparedHealth, compared_plotly  # noqa: PLC0415

        lines = []
        for position, strategy in enumerate(self._document.strategies):
            health = health_figure(self._document, position, source)
            if health is not None:
                lines.append(ComparedHealth(strategy.name, health, colour=position, dash=0))
        if not lines:
            raise InputError(f"No strategy has a health of the {source} to draw.")
        return _figure(compared_plotly(lines, "capacity"))

    def why(self) -> "go.Figure":
        """Battery capacity loss at service end by cause: calendar and cyclic, while driving, charging and at rest."""
        from lifetime.report.figures.loss_by_cause import loss_by_cause, loss_plotly  # noqa: PLC0415 - slow imports

        return _figure(loss_plotly(loss_by_cause(self._document)))


def _figure(drawn: dict[str, Any]) -> "go.Figure":
    import plotly.graph_objects as go  # noqa: PLC0415 - slow import

    return go.Figure(drawn)
