"""The study file as a whole."""

from typing import Annotated

from pydantic import Field, field_validator, model_validator

from lifetime.history.spec import HistoryInput
from lifetime.study.sections import (
    Battery,
    Cost,
    Counting,
    EndOfLife,
    Section,
    Service,
    Ultracapacitor,
    VehicleSection,
)
from lifetime.study.split import BatteryOnlySplit, Split, VoltageTargetSplit


class Strategy(Section):
    """One candidate way to share the power: a demand with a rule, or histories that are already split."""

    name: Annotated[str, Field(min_length=1, max_length=120)]
    demand: HistoryInput | None = None
    split: Split | None = None
    battery: HistoryInput | None = None
    ultracapacitor: HistoryInput | None = None

    @model_validator(mode="after")
    def _one_way(self) -> "Strategy":
        by_rule = self.demand is not None or self.split is not None
        by_history = self.battery is not None or self.ultracapacitor is not None
        if by_rule == by_history:
            raise ValueError(
                "give either demand and split, or battery (and ultracapacitor) histories; not both, not neither"
            )
        if by_rule and (self.demand is None or self.split is None):
            raise ValueError("demand and split belong together: a power demand, and the rule that shares it")
        if by_history and self.battery is None:
            raise ValueError("a strategy made of histories needs at least the battery's")
        if self.demand is not None and self.demand.driven_by == "current":
            raise ValueError('demand needs a power column: power = "NAME"; a current cannot be shared by power')
        for one in (self.battery, self.ultracapacitor):
            if one is not None and one.driven_by == "speed":
                raise ValueError("a source's history needs a current or a power; a speed belongs to a demand")
        if isinstance(self.split, VoltageTargetSplit) and self.demand is not None and self.demand.speed is None:
            raise ValueError('the rule voltage_target looks at the speed: name it in the demand, speed = "NAME"')
        return self

    @property
    def has_bank(self) -> bool:
        """Whether an ultracapacitor bank is part of this strategy."""
        if self.split is not None:
            return not isinstance(self.split, BatteryOnlySplit)
        return self.ultracapacitor is not None

    def inputs(self) -> dict[str, HistoryInput]:
        """The histories this strategy reads, by key."""
        named = {"demand": self.demand, "battery": self.battery, "ultracapacitor": self.ultracapacitor}
        return {key: spec for key, spec in named.items() if spec is not None}


class Study(Section):
    """A whole study: one vehicle, one pack design, several strategies."""

    title: Annotated[str, Field(min_length=1, max_length=300)]
    service: Service
    battery: Battery
    ultracapacitor: Ultracapacitor | None = None
    end_of_life: EndOfLife = EndOfLife()
    vehicle: VehicleSection | None = None
    counting: Counting = Counting()
    cost: Cost
    strategy: Annotated[tuple[Strategy, ...], Field(min_length=1, max_length=100, strict=False)]

    @field_validator("strategy")
    @classmethod
    def _unique_names(cls, value: tuple[Strategy, ...]) -> tuple[Strategy, ...]:
        names = [one.name for one in value]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"names must be unique, found more than once: {', '.join(twice)}")
        return value

    @model_validator(mode="after")
    def _vehicle_where_needed(self) -> "Study":
        by_speed = [one.name for one in self.strategy if one.demand is not None and one.demand.driven_by == "speed"]
        if by_speed and self.vehicle is None:
            raise ValueError(f"the section [vehicle] is missing, but these demands are speeds: {', '.join(by_speed)}")
        return self

    @model_validator(mode="after")
    def _bank_where_needed(self) -> "Study":
        if self.ultracapacitor is None:
            needing = [one.name for one in self.strategy if one.has_bank]
            if needing:
                raise ValueError(
                    f"the section [ultracapacitor] is missing, but these strategies use a bank: {', '.join(needing)}"
                )
        return self
