"""Sections of a study file on what the two sources cost, today and at each replacement."""

from typing import Annotated

from pydantic import Field, model_validator

from lifetime.keys import about
from lifetime.ranges import Fraction, Money
from lifetime.section import Section


class BatteryPrice(Section):
    """What the battery pack costs: for the whole pack, by rated energy or by the cell."""

    purchase: Annotated[
        Money | None,
        about("Price of the whole pack", "Give one of the three prices.", unit="currency", example=8000),
    ] = None
    purchase_per_kWh: Annotated[
        Money | None,
        about(
            "Price per kWh of rated energy",
            "Give one of the three prices.",
            unit="currency/kWh",
            example=160,
        ),
    ] = None
    purchase_per_cell: Annotated[
        Money | None,
        about(
            "Price per cell",
            "Times the number of cells, with what holds and connects each; give one of the three prices.",
            unit="currency",
            example=12,
        ),
    ] = None
    replacement_labour: Annotated[
        Money,
        about("Labour per replacement", "Added each time the pack is replaced.", unit="currency", example=500),
    ] = 0.0
    price_decline_fraction_per_year: Annotated[
        float,
        Field(ge=0.0, le=0.5),
        about(
            "Fall of the price per year",
            "In constant prices; a replacement costs what it costs in its year.",
            unit="fraction/year",
            example=0.04,
        ),
    ] = 0.0
    second_life_fraction: Annotated[
        Fraction,
        about(
            "Second-life value",
            "What a replaced pack fetches, of the price in that year.",
            unit="fraction",
            example=0.1,
        ),
    ] = 0.0
    replacement_downtime_days: Annotated[
        float,
        Field(ge=0.0, le=365.0),
        about("Days out of work per replacement", "Times the cost of such a day.", unit="days", example=2),
    ] = 0.0

    @model_validator(mode="after")
    def _one_price(self) -> "BatteryPrice":
        if [self.purchase, self.purchase_per_kWh, self.purchase_per_cell].count(None) != 2:
            raise ValueError("give one of purchase (whole pack), purchase_per_kWh and purchase_per_cell, and only one")
        return self

    def of_pack(self, energy_kWh: float, cells: int) -> float:
        """Price of the whole pack [currency].

        Args:
            energy_kWh: Its rated energy [kWh], >= 0.
            cells: How many cells it has, >= 1.
        """
        if self.purchase is not None:
            return self.purchase
        return (self.purchase_per_kWh or 0.0) * energy_kWh + (self.purchase_per_cell or 0.0) * cells


class UltracapacitorPrice(Section):
    """What the bank costs: for the whole bank, by the cell, or by the farad of one cell times the number of cells."""

    purchase: Annotated[
        Money | None,
        about("Price of the whole bank", "Give one of the three prices.", unit="currency", example=4000),
    ] = None
    purchase_per_farad_cell: Annotated[
        Money | None,
        about(
            "Price per farad of one cell",
            "Times the farads of one cell and the number of cells; give one of the three prices.",
            unit="currency/F",
            example=0.012,
        ),
    ] = None
    purchase_per_cell: Annotated[
        Money | None,
        about(
            "Price per cell",
            "Times the number of cells, with what holds and connects each; give one of the three prices.",
            unit="currency",
            example=40,
        ),
    ] = None
    replacement_labour: Annotated[
        Money,
        about("Labour per replacement", "Added each time the bank is replaced.", unit="currency", example=300),
    ] = 0.0
    price_decline_fraction_per_year: Annotated[
        float,
        Field(ge=0.0, le=0.5),
        about(
            "Fall of the price per year",
            "In constant prices; a replacement costs what it costs in its year.",
            unit="fraction/year",
            example=0.04,
        ),
    ] = 0.0
    second_life_fraction: Annotated[
        Fraction,
        about(
            "Second-life value",
            "What a replaced bank fetches, of the price in that year.",
            unit="fraction",
            example=0.1,
        ),
    ] = 0.0
    replacement_downtime_days: Annotated[
        float,
        Field(ge=0.0, le=365.0),
        about("Days out of work per replacement", "Times the cost of such a day.", unit="days", example=2),
    ] = 0.0

    @model_validator(mode="after")
    def _one_price(self) -> "UltracapacitorPrice":
        if [self.purchase, self.purchase_per_farad_cell, self.purchase_per_cell].count(None) != 2:
            raise ValueError(
                "give one of purchase (whole bank), purchase_per_cell and purchase_per_farad_cell (both times the "
                "number of cells), and only one"
            )
        return self

    def of_bank(self, cell_farads: float, cells: int) -> float:
        """Price of the whole bank [currency].

        Args:
            cell_farads: Capacitance of one cell [F], >= 0.
            cells: How many cells it has, >= 1.
        """
        if self.purchase is not None:
            return self.purchase
        return ((self.purchase_per_farad_cell or 0.0) * cell_farads + (self.purchase_per_cell or 0.0)) * cells
