"""Energy bought for a working day, made equal for strategies whose stores end the day at different contents.

The net energy change of the stores is the one of SAE J1711 (battery by charge, capacitor by ``C V**2 / 2``; the
standard itself was not read), corrected at the charger instead of in fuel.
"""

from dataclasses import dataclass

from lifetime.checks import in_range


@dataclass(frozen=True, slots=True)
class RefillPath:
    """Efficiencies on the way from the meter into the stores.

    Args:
        charger: From the meter to the battery's terminals [0.01..1].
        battery_charging: From the battery's terminals into the battery [0.01..1].
        bank: Between battery and ultracapacitor bank [0.01..1].

    Raises:
        NumberError: An efficiency is not finite or out of range.
    """

    charger: float
    battery_charging: float = 1.0
    bank: float = 1.0

    def __post_init__(self) -> None:
        """Refuse what no efficiency can be."""
        for name in ("charger", "battery_charging", "bank"):
            in_range(getattr(self, name), f"efficiency ({name})", 0.01, 1.0)

    def into_battery(self, stored: float) -> float:
        """Energy at the meter that brings an energy into the battery; less than 0 where it holds more than before.

        Args:
            stored: What is to come in [any unit of energy]; below 0 what is left over.
        """
        return stored / (self.charger * self.battery_charging)

    def into_bank(self, stored: float) -> float:
        """Energy at the meter that brings an energy into the bank by way of the battery.

        What is left over goes back into the battery, less what is lost on the way.

        Args:
            stored: What is to come in [any unit of energy]; below 0 what is left over.
        """
        return self.into_battery(stored / self.bank if stored > 0.0 else stored * self.bank)


@dataclass(frozen=True, slots=True)
class EnergyBought:
    """Energy bought over a year, and what of it makes up for stores that end the day emptier.

    Args:
        metered_kWh_per_year: What charger and meter see [kWh/year].
        battery_correction_kWh_per_year: What would bring back the charge that the battery's day leaves open [kWh/year];
            below 0 where it ends fuller.
        ultracapacitor_kWh_per_year: What the bank takes while the vehicle stands: from rest to the voltage at the
            start, back to rest, leakage and balancing [kWh/year].
        friction_kWh_per_year: What of the metered energy makes up for braking that no source takes [kWh/year].
        converter_kWh_per_year: What of the metered energy converters, inverters and windings lose [kWh/year].
        coolant_kWh_per_year: What holds the battery's coolant at its setpoint [kWh/year].
    """

    metered_kWh_per_year: float
    battery_correction_kWh_per_year: float = 0.0
    ultracapacitor_kWh_per_year: float = 0.0
    friction_kWh_per_year: float = 0.0
    converter_kWh_per_year: float = 0.0
    coolant_kWh_per_year: float = 0.0

    @property
    def total_kWh_per_year(self) -> float:
        """All of it [kWh/year]."""
        stores = self.battery_correction_kWh_per_year + self.ultracapacitor_kWh_per_year
        return self.metered_kWh_per_year + stores + self.coolant_kWh_per_year
