"""Base of every section of a study file."""

from collections.abc import Sequence
from typing import Self

from pydantic import BaseModel, ConfigDict


class Section(BaseModel):
    """Base of every section: unknown keys are errors, numbers are finite, text is not taken for a number."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)

    def times_series(self, keys: Sequence[str], series: int) -> Self:
        """The same with voltages of one cell made those of the cells in series.

        Args:
            keys: Keys that are a voltage or a list of voltages; one that is not given stays so.
            series: Cells in series, >= 1.
        """
        given = {key: value for key in keys if (value := getattr(self, key)) is not None}
        return self.model_copy(
            update={
                key: tuple(series * one for one in value) if isinstance(value, tuple) else series * value
                for key, value in given.items()
            }
        )
