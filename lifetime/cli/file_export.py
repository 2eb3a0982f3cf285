"""What ``check --export`` does: opens the suggested entry as a study would, and writes it as Parquet in SI."""

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from lifetime.errors import HistoryError, InputError

if TYPE_CHECKING:
    from lifetime.history.formats.layout import Layout
    from lifetime.history.inspection.file_report import FileReport

_OPTIONAL: Final = ("voltage", "temperature")


@dataclass(frozen=True, slots=True)
class Export:
    """What of a suggested entry can be exported; what only a person knows is not guessed.

    Args:
        keys: Keys of a history.
        left_out: Quantities of unknown unit next to time and current.
        has_sign: False where nothing shows which sign means discharge.
    """

    keys: dict[str, str | list[str]]
    left_out: tuple[str, ...]
    has_sign: bool

    @classmethod
    def of(cls, found: "FileReport") -> "Export":
        """What the report of a file allows.

        Args:
            found: The report.

        Raises:
            HistoryError: No entry is suggested, or a unit or pattern of it is open.
        """
        if found.study_keys is None:
            raise HistoryError(
                "nothing can be exported, because no column looks like time, or none like current, power or speed.",
                file=found.file,
                remedy="Rename the columns, or state --header-row or --decimal.",
            )
        unknown = {key for key, value in found.study_keys.items() if "?" in value}
        left_out = tuple(quantity for quantity in _OPTIONAL if f"{quantity}_unit" in unknown)
        dropped = {key for quantity in left_out for key in (quantity, f"{quantity}_unit")}
        open_keys = sorted(unknown - dropped - {"discharge_is"})
        if open_keys:
            raise HistoryError(
                f"nothing can be exported, because only you know {', '.join(open_keys)}.",
                file=found.file,
                remedy='State units in the header, as in "current [A]", or fill in the study that --write writes.',
            )
        has_sign = "discharge_is" not in unknown
        keys = {
            key: value
            for key, value in found.study_keys.items()
            if key not in dropped and (has_sign or key != "discharge_is")
        }
        return cls(keys, left_out, has_sign)

    def words(self, target: Path, rows: int) -> str:
        """What was written, in a sentence.

        Args:
            target: Where.
            rows: How many rows.
        """
        said = [f"Wrote {target} with {rows} rows"]
        if self.left_out:
            said.append(f"without {' and '.join(self.left_out)}, whose unit is not known")
        if not self.has_sign:
            said.append("with the sign of the file, as nothing shows which one means discharge")
        elif {"current", "power", "torque"} & self.keys.keys():
            said.append("positive while the source discharges")
        return f"{'; '.join(said)}."


def export(found: "FileReport", target: Path, layout: "Layout", clean: tuple[str, ...]) -> None:
    """Open the suggested entry as a study would, clean it as asked, and write it.

    Args:
        found: The report of the file.
        target: The Parquet file.
        layout: What was stated about the file's layout.
        clean: Cleaning steps.

    Raises:
        HistoryError: The file cannot be used as it is, or only a person knows how.
        InputError: The target is the file itself.
    """
    from lifetime.history.export import write_parquet  # noqa: PLC0415
    from lifetime.history.open import open_history  # noqa: PLC0415
    from lifetime.history.spec import HistoryInput  # noqa: PLC0415

    if target.resolve() == Path(found.file).resolve():
        raise InputError(f"--export {target}: this is the file itself. Name another.")
    what = Export.of(found)
    stated = {
        "clean": clean,
        "header_row": layout.header_row,
        "decimal": layout.decimal,
        "sheet": layout.sheet,
        "bus_database": None if layout.bus_database is None else str(layout.bus_database),
    }
    history = open_history(HistoryInput.model_validate({**what.keys, **stated}), Path())
    sys.stderr.write(what.words(target, write_parquet(history, target)) + "\n")
