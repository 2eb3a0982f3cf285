"""Histories for a notebook: what a file contains, and a file or frame opened as a history."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from lifetime.errors import StudyError
from lifetime.history.spec import HistoryInput
from lifetime.notebook.printing import printed

if TYPE_CHECKING:
    import pandas as pd
    from rich.console import Console

    from lifetime.history.formats.number_format import Decimal
    from lifetime.history.inspection.file_report import FileReport
    from lifetime.history.model import History


class FileCheck:
    """What a history file contains, the findings of its data checks, and a suggestion how to read it.

    Args:
        report: What ``describe_file`` found.
    """

    def __init__(self, report: "FileReport") -> None:
        self.report = report

    @property
    def suggested(self) -> dict[str, Any]:
        """Suggested keys for ``read_history``; empty where nothing can be suggested."""
        keys = self.report.study_keys or {}
        return {key: value for key, value in keys.items() if key != "file"}

    def to_frame(self) -> "pd.DataFrame":
        """The columns of the file: name, content, missing values, lowest and highest value, suggested role."""
        import pandas as pd  # noqa: PLC0415 - slow import

        roles = {suggestion.position: suggestion for suggestion in self.report.suggestions}
        rows = [
            {
                "column": column.name,
                "kind": column.kind,
                "missing": column.missing,
                "low": column.low,
                "high": column.high,
                "suggested_role": roles[position].role if position in roles else None,
                "evidence": roles[position].evidence if position in roles else None,
            }
            for position, column in enumerate(self.report.columns)
        ]
        return pd.DataFrame(rows)

    def __repr__(self) -> str:
        """The words of ``packwear check``."""

        def show(console: "Console") -> None:
            from lifetime.report.file_report import print_file_report  # noqa: PLC0415 - slow import

            print_file_report(self.report, console)

        return printed(show)


def check(
    file: str | Path,
    *,
    header_row: int | None = None,
    decimal: "Decimal | None" = None,
    sheet: str | None = None,
    bus_database: str | Path | None = None,
) -> FileCheck:
    """Read a history file once and say what it contains and what is suspicious about it.

    Args:
        file: Path of the file, or a pattern with ``*`` or ``?`` for several.
        header_row: Row of the column names, counted from 1, where it is not found correctly; 0 for none.
        decimal: Decimal mark of a text, ``"."`` or ``","``, where it is not found correctly.
        sheet: Sheet of a workbook.
        bus_database: File (DBC) that decodes raw frames of a vehicle bus.

    Raises:
        HistoryError: The file is missing, empty, or in no format that is read here.
        InputError: The decimal mark is none.
        MissingPackageError: The format needs an optional package.

    Example:
        >>> import lifetime as pw
        >>> from lifetime.packs.locate import profiles_folder
        >>> shift = pw.check(profiles_folder() / "demo" / "yard_shift.csv")
        >>> shift.suggested
        {'time': 't_s', 'power': 'p_dc_W', 'discharge_is': '?'}
    """
    from lifetime.errors import InputError  # noqa: PLC0415
    from lifetime.history.formats.layout import Layout  # noqa: PLC0415 - slow imports
    from lifetime.history.inspection.file_report import describe_file  # noqa: PLC0415

    if decimal not in (None, ".", ","):
        raise InputError(f'decimal must be "." or ",", got "{decimal}".')
    layout = Layout(header_row, decimal, sheet, None if bus_database is None else Path(bus_database))
    return FileCheck(describe_file(str(file), layout))


def read_history(
    source: "str | Path | pd.DataFrame", *, series: int = 1, parallel: int = 1, label: str = "frame", **keys: Any
) -> "History":
    """Open a file, several files or a frame as a history, checked from the first row to the last.

    Args:
        source: Path of the file, a pattern for several, or a frame with one row a sample.
        series: Cells in series of the pack, for ``quantities_of="cell"``.
        parallel: Cells in parallel of the pack, for ``quantities_of="cell"``.
        label: What to call a frame in messages.
        keys: Keys of a history as in a study file: ``time``, ``current`` or ``power``, ``voltage``, units, sign,
            ``clean`` and so on; ``check(file).suggested`` suggests them.

    Raises:
        StudyError: A key is unknown or contradicts another; all faults at once.
        HistoryError: The data cannot be read as the keys say; the message names row, column and remedy.
        MissingPackageError: The format needs an optional package.

    Example:
        >>> import pandas as pd
        >>> import lifetime as pw
        >>> log = pd.DataFrame({"t [min]": [0.0, 1.0, 2.0], "I [mA]": [0.0, -500.0, 0.0]})
        >>> pw.read_history(log, time="t [min]", current="I [mA]", discharge_is="negative")
        frame: 3 samples over 120 s, driven by current, linear between samples
    """
    from lifetime.study.faults import schema_faults  # noqa: PLC0415 - slow imports

    named = str(source) if isinstance(source, str | Path) else label
    try:
        spec = HistoryInput.model_validate({"file": named, **keys})
    except ValidationError as error:
        raise StudyError(named, list(schema_faults(error))) from None
    if isinstance(source, str | Path):
        from lifetime.history.open import open_history  # noqa: PLC0415

        return open_history(spec, Path(), series=series, parallel=parallel)
    from lifetime.history.frames import open_frame  # noqa: PLC0415

    return open_frame(spec, source, series=series, parallel=parallel)
