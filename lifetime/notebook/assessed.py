"""An assessed study for a notebook: prints itself, and gives frames, figures, JSON and the report."""

from collections.abc import Callable, Iterator, Mapping
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lifetime.assessment.run import assess as run
from lifetime.errors import InputError
from lifetime.notebook.draft import StudyDraft, load_study
from lifetime.notebook.figures import Figures
from lifetime.notebook.printing import printed
from lifetime.notebook.source_tables import cycle_frame, trajectory_frame
from lifetime.results.document import ResultDocument
from lifetime.results.records import AgeingTimeline, Assessment, SourceResult, StrategyResult
from lifetime.results.view import SourceKind

if TYPE_CHECKING:
    import pandas as pd
    from rich.console import Console


class AssessedStrategy:
    """One strategy of an assessed study.

    Args:
        result: What the assessment says of it.
    """

    def __init__(self, result: StrategyResult) -> None:
        self.result = result

    @property
    def name(self) -> str:
        """As the study calls it."""
        return self.result.name

    @property
    def rank(self) -> int | None:
        """1 for the lowest cost; None for a strategy that is not ranked."""
        return self.result.rank

    @property
    def net_present_cost(self) -> float | None:
        """Net present cost [currency of the study]; None where there is none, and ``no_cost_reason`` says why."""
        cost = self.result.life_cycle_cost
        return None if cost is None else cost.net_present_cost

    @property
    def no_cost_reason(self) -> str | None:
        """Why there is no cost; None where there is one."""
        return getattr(self.result.cost, "reason", None)

    def source(self, kind: SourceKind = "battery") -> SourceResult:
        """Everything that is said of one source.

        Args:
            kind: ``battery`` or ``ultracapacitor``.

        Raises:
            InputError: The strategy has no such source.
        """
        result = self.result.battery if kind == "battery" else self.result.ultracapacitor
        if result is None:
            raise InputError(f'The strategy "{self.name}" has no {kind}.')
        return result

    def trajectory(self, source: SourceKind = "battery") -> "pd.DataFrame":
        """Health over the service, one row a month.

        Args:
            source: ``battery`` or ``ultracapacitor``.

        Returns:
            ``years``; ``capacity_fraction`` and ``resistance_ratio`` of the initial values (capacitance and ESR for
            an ultracapacitor); ``calendar_loss_fraction`` and ``cyclic_loss_fraction`` of the initial capacity.

        Raises:
            InputError: The strategy has no such source.
        """
        return trajectory_frame(self.source(source))

    def cycles(self, source: SourceKind = "battery") -> "pd.DataFrame":
        """The cycles of the traced day at the beginning of life, the deepest first.

        Args:
            source: ``battery`` or ``ultracapacitor``.

        Returns:
            ``depth_of_discharge`` and ``mean_soc`` [0..1], ``c_rate`` and ``charge_c_rate`` [1/h], ``count`` in the
            traced day, ``cycles_per_year`` and ``equivalent_full_cycles_per_year``.

        Raises:
            InputError: The strategy has no such source.
        """
        return cycle_frame(self.source(source))

    def day(self) -> "pd.DataFrame":
        """The working day interval by interval, at the beginning of life, before charging.

        Returns:
            ``time_s`` (start) and ``length_s``; ``demand_W``, ``battery_W`` and ``ultracapacitor_W``; ``mode``;
            ``battery_current_A``, ``battery_soc`` at the end of the interval, and ``battery_capacity_loss_fraction``
            at service end that comes about in it; the same three for the ultracapacitor where there is one.

        Raises:
            InputError: The strategy has histories that are already split; these are its day.
        """
        import numpy as np  # noqa: PLC0415 - slow imports
        import pandas as pd  # noqa: PLC0415

        from lifetime.split.modes import MODES  # noqa: PLC0415

        day = self.result.day
        if day is None:
            raise InputError(
                f'The strategy "{self.name}" has no demand that a rule splits: its histories are its day. Read them '
                "with read_history(...).to_frame()."
            )
        ends = np.cumsum(day.length_s)
        columns: dict[str, Any] = {
            "time_s": ends - day.length_s,
            "length_s": day.length_s,
            "demand_W": day.demand_W,
            "battery_W": day.battery_W,
            "ultracapacitor_W": day.ultracapacitor_W,
            "mode": np.asarray(MODES)[day.mode],
        }
        ageings: dict[SourceKind, AgeingTimeline | None] = {
            "battery": day.battery,
            "ultracapacitor": day.ultracapacitor,
        }
        for kind, ageing in ageings.items():
            if ageing is not None:
                source = self.source(kind).source
                drawn_As = np.cumsum(ageing.current_A * day.length_s)
                columns[f"{kind}_current_A"] = ageing.current_A
                columns[f"{kind}_soc"] = source.start_soc - drawn_As / source.capacity_As
                columns[f"{kind}_capacity_loss_fraction"] = ageing.capacity_loss_fraction
        return pd.DataFrame(columns)

    def __repr__(self) -> str:
        """Name, rank and cost."""
        if self.net_present_cost is None:
            return f"{self.name}: no cost, {self.no_cost_reason}"
        return f"{self.name}: rank {self.rank}, net present cost {self.net_present_cost:,.0f}"


class AssessedStudy:
    """An assessed study; iterates over its strategies, the lowest cost first.

    Args:
        assessment: What ``assess`` returned.
    """

    def __init__(self, assessment: Assessment) -> None:
        self.assessment = assessment

    @property
    def id(self) -> str:
        """The same study, data and program version give the same id here, at the command line and in the service."""
        return self.assessment.id

    @cached_property
    def document(self) -> ResultDocument:
        """The result document, as it is stored and sent."""
        return ResultDocument.of(self.assessment)

    @property
    def strategies(self) -> tuple[AssessedStrategy, ...]:
        """The strategies in the order of rank, those without a cost last."""
        return tuple(AssessedStrategy(one) for one in self.assessment.strategies)

    @property
    def lowest(self) -> AssessedStrategy:
        """The strategy of the lowest net present cost among those that are ranked.

        Raises:
            InputError: No strategy is ranked.
        """
        first = self.strategies[0]
        if first.rank is None:
            raise InputError(f"No strategy is ranked: {first.result.not_ranked_reason}.")
        return first

    @property
    def plot(self) -> Figures:
        """Figures: ``plot.cost()``, ``plot.timeline()``, ``plot.soh()``, ``plot.why()``."""
        return Figures(self.document)

    def __getitem__(self, name: str) -> AssessedStrategy:
        """The strategy of that name; raises ``InputError`` where there is none."""
        for one in self.strategies:
            if one.name == name:
                return one
        names = ", ".join(one.name for one in self.strategies)
        raise InputError(f'There is no strategy "{name}"; there are: {names}.')

    def __iter__(self) -> Iterator[AssessedStrategy]:
        """The strategies in the order of rank."""
        return iter(self.strategies)

    def to_frame(self) -> "pd.DataFrame":
        """One row a source and strategy, with the unit in each column's name; costs belong to the whole strategy."""
        import pandas as pd  # noqa: PLC0415 - slow import

        from lifetime.results.row import source_rows  # noqa: PLC0415

        return pd.DataFrame([row.model_dump() for row in source_rows(self.document)])

    def to_json(self) -> str:
        """The result document as JSON text, the same as ``packwear assess --json`` prints."""
        return self.document.to_json()

    def report(self, file: str | Path) -> Path:
        """Write the report, one HTML file that opens offline and prints on A4.

        Args:
            file: Where to; an existing file is replaced.

        Returns:
            The path written.

        Raises:
            OSError: The file cannot be written.
        """
        from lifetime.report.html import write_report  # noqa: PLC0415 - slow import

        write_report(self.document, Path(file))
        return Path(file)

    def __repr__(self) -> str:
        """The words of ``packwear assess``."""

        def show(console: "Console") -> None:
            from lifetime.report.table import print_ranking  # noqa: PLC0415 - slow import

            print_ranking(self.document, console)

        return printed(show)


def assess(
    study: "StudyDraft | str | Path | Mapping[str, Any]",
    *,
    histories: "Mapping[str, pd.DataFrame] | None" = None,
    progress: Callable[[str], None] | None = None,
) -> AssessedStudy:
    """Assess every strategy of a study and rank them by net present cost. Nothing is recorded.

    Args:
        study: From ``load_study``, or what ``load_study`` takes: the path of a study file, or its keys and values.
        histories: Frames by the name that the study gives as ``file``; other names are files.
        progress: Called with each strategy's name as it is finished.

    Raises:
        StudyError: Anything is wrong with the study or with what it names; all faults at once, each with its place.
        AssessmentError: A day does not fit into 24 h, or an iteration does not settle.

    Example:
        >>> import lifetime as pw
        >>> result = pw.assess(pw.demo_study())
        >>> result.lowest.name
        'More cells, no bank'
        >>> result["Low-pass, 20 s"].trajectory().columns[0]
        'years'
    """
    draft = study if isinstance(study, StudyDraft) else load_study(study)
    return AssessedStudy(run(draft.resolve(histories), progress))
