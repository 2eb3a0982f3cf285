"""Base of every section of a study file."""

from pydantic import BaseModel, ConfigDict


class Section(BaseModel):
    """Base of every section: unknown keys are errors, numbers are finite, text is not taken for a number."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)
