"""Base of every section of a study file, and the kinds of numbers that sections take."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Fraction = Annotated[float, Field(ge=0.0, le=1.0)]
Positive = Annotated[float, Field(gt=0.0)]
NotNegative = Annotated[float, Field(ge=0.0)]


class Section(BaseModel):
    """Base of every section: unknown keys are errors, numbers are finite, text is not taken for a number."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)
