"""What a study states of a rule's drivetrain: its one inverter, or the converters and inverters of each source."""

from typing import Annotated, Final, Literal, Self

from pydantic import model_validator

from lifetime.keys import about
from lifetime.notices import Notice
from lifetime.split.converters import Converters
from lifetime.split.losses import NO_LOSS, Loss
from lifetime.split.rule import Rule
from lifetime.split.share import Demand

_LOSSES: Final = ("battery_loss", "ultracapacitor_loss", "inverter_loss")


class InverterRule(Rule):
    """A rule of a drivetrain with one DC link, whose inverter feeds the machine."""

    inverter_loss: Annotated[
        Loss | None,
        about(
            "Loss of the common inverter",
            "Lost between the DC link and the machine by what both sources give together.",
            example={"fixed_W": 150.0, "linear_V": 1.2, "quadratic_ohm": 0.004, "voltage_V": 400.0},
        ),
    ] = None

    @property
    def converters(self) -> Converters:
        """The sources are on the link itself."""
        return Converters(inverter=self.inverter_loss or NO_LOSS)

    @classmethod
    def common_parameters(cls) -> frozenset[str]:
        """Keys that are not the rule's own."""
        return frozenset(InverterRule.model_fields)


class ConverterRule(InverterRule):
    """A rule of a drivetrain with at least one converter or inverter, and what is lost in it."""

    topology: Annotated[
        Literal["two_inverters", "one_converter", "two_converters"],
        about(
            "Topology",
            "What is between each source and the machine. two_inverters: each source has an inverter and a winding set "
            "of its own. one_converter: one source is on the DC link of one inverter, the other behind a converter. "
            "two_converters: each source is behind a converter on that link.",
            example="two_inverters",
        ),
    ] = "two_inverters"
    battery_loss: Annotated[
        Loss | None,
        about(
            "Loss on the battery's side",
            "Of its inverter with two inverters, else of its converter to the DC link.",
            example={"efficiency": 0.97},
        ),
    ] = None
    ultracapacitor_loss: Annotated[
        Loss | None,
        about(
            "Loss on the ultracapacitor's side",
            "Of its inverter with two inverters, else of its converter to the DC link.",
            example={"efficiency": 0.97},
        ),
    ] = None

    @model_validator(mode="after")
    def _losses_fit(self) -> Self:
        both = self.battery_loss is not None and self.ultracapacitor_loss is not None
        if self.topology == "one_converter" and both:
            raise ValueError(
                'with topology = "one_converter" one source is on the link itself: give battery_loss or '
                "ultracapacitor_loss, not both"
            )
        if self.topology == "two_inverters" and self.inverter_loss is not None:
            raise ValueError(
                'with topology = "two_inverters" there is no common inverter: give battery_loss and '
                "ultracapacitor_loss in place of inverter_loss"
            )
        return self

    @property
    def converters(self) -> Converters:
        """As the topology says."""
        return Converters(
            battery=self.battery_loss or NO_LOSS,
            ultracapacitor=self.ultracapacitor_loss or NO_LOSS,
            inverter=self.inverter_loss or NO_LOSS,
            own_windings=self.topology == "two_inverters",
        )

    @classmethod
    def common_parameters(cls) -> frozenset[str]:
        """Keys that are not the rule's own."""
        return frozenset(ConverterRule.model_fields)

    def demand_notices(self, demand: Demand) -> list[Notice]:
        """Name the converters of the topology that lose nothing while others do."""
        given = {key for key in _LOSSES if getattr(self, key) is not None}
        missing = [key for key in self._placed(given) if key not in given]
        if not given or not missing:
            return []
        keys = f"{' and '.join(missing)} {'is' if len(missing) == 1 else 'are'}"
        text = f'split: {keys} not given, so nothing is lost there (topology = "{self.topology}").'
        return [Notice("lossless_converter", text, "note")]

    def _placed(self, given: set[str]) -> list[str]:
        """Losses that the topology has a place for."""
        placed = set(_LOSSES)
        if self.topology == "two_inverters":
            placed.remove("inverter_loss")
        elif self.topology == "one_converter":
            # Either source may be the one on the link itself.
            placed.remove("ultracapacitor_loss" if "battery_loss" in given else "battery_loss")
        if not self.has_ultracapacitor:
            placed.discard("ultracapacitor_loss")
        return [key for key in _LOSSES if key in placed]
