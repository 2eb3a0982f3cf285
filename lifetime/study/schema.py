"""The study file as a whole."""

from typing import Annotated, Final

from pydantic import Field, field_validator, model_validator

from lifetime.history.spec import HistoryInput
from lifetime.keys import about
from lifetime.projection.years import LOWEST_CAPACITY
from lifetime.section import Section
from lifetime.split.rules import AnyRule
from lifetime.study.designs import Design
from lifetime.study.duty import Service, VehicleSection
from lifetime.study.evaluation import Cost, Counting, EndOfLife
from lifetime.study.machine import MachineSection
from lifetime.study.sections import Battery, Ultracapacitor

_ROUNDED_SHARES: Final = 1e-6
"""How far shares of a torque may miss the whole: rounding, not a missing winding set."""


class Strategy(Section):
    """One candidate way to share the power: a demand with a rule, or histories that are already split."""

    name: Annotated[
        str,
        Field(min_length=1, max_length=120),
        about("Name", "As it is called in the ranking.", example="Low-pass, 20 s"),
    ]
    demand: Annotated[
        HistoryInput | None, about("Demand", "History of the required power, or of the speed, that the rule shares.")
    ] = None
    split: Annotated[
        AnyRule | None, about("Power split", "The rule that shares the demand between battery and ultracapacitor bank.")
    ] = None
    battery: Annotated[
        HistoryInput | None,
        about(
            "History of the battery", "What the battery does, where simulation or test bench split the power already."
        ),
    ] = None
    ultracapacitor: Annotated[
        HistoryInput | None, about("History of the ultracapacitor bank", "What the bank does, where there is one.")
    ] = None
    design: Annotated[
        Design | None,
        about(
            "Design of its own",
            "Keys of battery, ultracapacitor and day (the working day) that differ for this strategy alone, such as "
            "`{ battery = { parallel = 48 } }`.",
        ),
    ] = None

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
        _demand_is_a_power(self.demand)
        for one in (self.battery, self.ultracapacitor):
            if one is not None and one.driven_by == "speed":
                raise ValueError("a source's history needs a current or a power; a speed belongs to a demand")
        _shares_make_a_whole(self.battery, self.ultracapacitor)
        if self.split is not None and self.split.needs_speed and self.demand is not None and self.demand.speed is None:
            raise ValueError(f'the rule {self.split.key()} looks at the speed: name it in the demand, speed = "NAME"')
        return self

    @property
    def has_ultracapacitor(self) -> bool:
        """Whether an ultracapacitor bank is part of this strategy."""
        if self.split is not None:
            return self.split.has_ultracapacitor
        return self.ultracapacitor is not None

    def inputs(self) -> dict[str, HistoryInput]:
        """The histories this strategy reads, by key."""
        named = {"demand": self.demand, "battery": self.battery, "ultracapacitor": self.ultracapacitor}
        return {key: spec for key, spec in named.items() if spec is not None}


def _shares_make_a_whole(battery: HistoryInput | None, ultracapacitor: HistoryInput | None) -> None:
    """Two shares of one torque column must leave nothing of it out, nor count any of it twice."""
    if battery is None or ultracapacitor is None or battery.torque is None:
        return
    if (battery.file, battery.torque) != (ultracapacitor.file, ultracapacitor.torque):
        return
    whole = battery.torque_fraction + ultracapacitor.torque_fraction
    if abs(whole - 1.0) > _ROUNDED_SHARES:
        raise ValueError(
            f"the torque_fraction of battery and ultracapacitor must sum to 1, as both are of the same torque; they "
            f"sum to {whole:g}"
        )


def _demand_is_a_power(demand: HistoryInput | None) -> None:
    if demand is None:
        return
    if demand.current_from_power:
        raise ValueError("current_from_power belongs to a source's history; a demand is shared as the power it is")
    if demand.driven_by == "current" and demand.voltage is None:
        raise ValueError(
            'a current alone is no power: name the voltage column too, voltage = "NAME" (power is their product), or '
            'a power column, power = "NAME"'
        )
    if demand.driven_by == "speed" and demand.interpolation == "zero_order_hold":
        raise ValueError(
            "a speed that is held between samples jumps at each of them, which no finite power does: use "
            'interpolation = "linear" for a demand by speed'
        )


class Study(Section):
    """A whole study: one vehicle, one pack design, several strategies."""

    title: Annotated[
        str,
        Field(min_length=1, max_length=300),
        about("Title", "The question that the study answers, in words.", example="Who should take the peaks?"),
    ]
    service: Annotated[
        Service, about("Service and duty", "How long and how hard the vehicle works, and in what climate.")
    ]
    battery: Annotated[Battery, about("Battery pack", "Cells, window, limits, price.")]
    ultracapacitor: Annotated[
        Ultracapacitor | None,
        about("Ultracapacitor bank", "Only where a strategy has one."),
    ] = None
    end_of_life: Annotated[
        EndOfLife, about("End of life", "Limits that end the life of a source; the defaults are common practice.")
    ] = EndOfLife()
    vehicle: Annotated[
        VehicleSection | None,
        about("Vehicle", "Only for demands given as a speed, which it turns into a power, on a level road."),
    ] = None
    machine: Annotated[
        MachineSection | None,
        about("Machine", "Only for demands that a rule splits: what the winding sets of the machine lose."),
    ] = None
    counting: Annotated[Counting, about("Cycle counting", "How cycles are counted.")] = Counting()
    cost: Annotated[Cost, about("Cost", "Constant prices and a real discount rate.")]
    strategy: Annotated[
        tuple[Strategy, ...],
        Field(min_length=1, max_length=100, strict=False),
        about("Strategies", "The candidate ways to share the power, compared with each other."),
    ]

    def check_recordable(self) -> None:
        """Refuse a study that a record could not hold.

        Raises:
            InputError: A split rule was given as a Python function, which is no part of the study.
        """
        for one in self.strategy:
            if one.split is not None:
                one.split.check_recordable()

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
    def _copper_counted_once(self) -> "Study":
        if self.machine is None:
            return self
        demands = [(one.name, one.demand) for one in self.strategy if one.demand is not None]
        if not demands:
            raise ValueError(
                "the section [machine] says what the windings lose where a rule splits a demand, and no strategy has a "
                "demand: leave it out"
            )
        twice = [
            name
            for name, demand in demands
            if demand.machine is not None
            and (demand.machine.torque_W_per_Nm2 > 0.0 or demand.machine.map_efficiency is not None)
        ]
        if twice:
            raise ValueError(
                "copper loss is counted twice: by the section [machine] and by demand.machine (torque_W_per_Nm2 or a "
                f"map) of {', '.join(twice)}; leave one of them out"
            )
        return self

    @model_validator(mode="after")
    def _charged_within_limits(self) -> "Study":
        to_soc = self.service.day.charge_to_soc
        if to_soc is not None and not self.battery.minimum_soc <= to_soc <= self.battery.maximum_soc:
            raise ValueError(
                f"service.day.charge_to_soc = {to_soc:g} must lie between battery.minimum_soc = "
                f"{self.battery.minimum_soc:g} and battery.maximum_soc = {self.battery.maximum_soc:g}; change one"
            )
        return self

    @model_validator(mode="after")
    def _bank_ends_above_scrap(self) -> "Study":
        if self.ultracapacitor is None:
            return self
        limit, surplus = self.end_of_life.ultracapacitor_capacitance, self.ultracapacitor.initial_surplus_fraction
        if limit / (1.0 + surplus) <= LOWEST_CAPACITY:
            raise ValueError(
                f"end_of_life.ultracapacitor_capacitance = {limit:g} of the rated capacitance is "
                f"{limit / (1.0 + surplus):.3g} of the initial one with ultracapacitor.initial_surplus_fraction = "
                f"{surplus:g}, expected more than {LOWEST_CAPACITY:g}; raise the limit or lower the surplus"
            )
        return self

    @model_validator(mode="after")
    def _current_where_needed(self) -> "Study":
        if self.service.cycling_between == "states_of_charge":
            by_power = [one.name for one in self.strategy if one.battery is None or one.battery.driven_by != "current"]
            if by_power:
                raise ValueError(
                    'service.cycling_between = "states_of_charge" needs a battery history of current, but these '
                    f"strategies have a power: {', '.join(by_power)}. A power does not fall with capacity"
                )
        return self

    @model_validator(mode="after")
    def _bank_where_needed(self) -> "Study":
        if self.ultracapacitor is None:
            needing = [one.name for one in self.strategy if one.has_ultracapacitor]
            if needing:
                raise ValueError(
                    f"the section [ultracapacitor] is missing, but these strategies use one: {', '.join(needing)}"
                )
        return self
