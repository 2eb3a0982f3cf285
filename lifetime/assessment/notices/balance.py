"""What is said about a source's energy balance: where it went, a bank that ends emptier, a limit reached by drift."""

from lifetime.assessment.energy_balance import EnergyBalance
from lifetime.constants import JOULES_PER_KWH
from lifetime.costing.equal_duty import SAME_DUTY
from lifetime.costing.ranking import TripFigures
from lifetime.notices import Notice
from lifetime.packs.profile import Kind
from lifetime.projection.limits import Crossing

_CLOSE_IT = (
    "Name the voltage column of the bank's history, so that its charge follows the voltage, or let a charger close the "
    "balance: ultracapacitor.balance_at_charger = true."
)


def balance_note(kind: Kind, balance: EnergyBalance) -> Notice:
    """Where the energy of a source with a history of its own went.

    Args:
        kind: Which source.
        balance: Over the day's driving.
    """
    kWh = [part / JOULES_PER_KWH for part in (balance.stored_J, balance.terminal_J, balance.heat_J)]
    return Notice(
        "energy_balance",
        f"Energy balance of the {kind} per day, charging left out: {kWh[0]:.3g} kWh net out of its store "
        f"({balance.stored_W:.3g} W on average), {kWh[1]:.3g} kWh net at its terminals, {kWh[2]:.3g} kWh heat.",
        "note",
    )


def bank_ends_emptier(trip: TripFigures, start_V: float, end_V: float) -> list[Notice]:
    """Warn of a bank that lends a rule's day more energy than 1 % of the trip's.

    Args:
        trip: The strategy's day.
        start_V: Capacitor voltage when the day begins [V].
        end_V: Capacitor voltage when the day ends [V].
    """
    lent, energy = trip.net_ultracapacitor_energy_kWh, abs(trip.energy_kWh)
    if lent <= SAME_DUTY * energy or lent <= 0.0:
        return []
    share = f", {lent / energy:.1%} of the trip energy" if energy else ""
    return [
        Notice(
            "ultracapacitor_ends_emptier",
            f"The ultracapacitor bank ends each working day {lent:.3g} kWh emptier than it began ({end_V:.4g} V after "
            f"{start_V:.4g} V){share}. The battery did not deliver this energy, so its life and cost look better than "
            "they are. Give the rule a setpoint of the bank, or begin the day at the voltage at which it ends.",
        )
    ]


def limit_by_drift(balance: EnergyBalance, limit: Crossing) -> Notice:
    """A bound of the bank that its history passes because its balance is open, not because the bank ages.

    Args:
        balance: Of the bank over the day's driving.
        limit: The bound, and when it would be passed.
    """
    when = "on the first day" if not limit.years else f"after {limit.years:.3g} years"
    side = "emptier" if balance.stored_J > 0.0 else "fuller"
    return Notice(
        "limit_reached_by_drift",
        f"The ultracapacitor bank would pass its bound of {limit.detail} {when} by drift: its history ends each day "
        f"{abs(balance.stored_J) / JOULES_PER_KWH:.3g} kWh {side} than it began ({abs(balance.stored_W):.3g} W on "
        f"average). That is an open balance, not ageing, and does not count as its end of life. {_CLOSE_IT}",
    )


def closed_at_charger(before: EnergyBalance) -> Notice:
    """The study has a charger close the balance of the bank's history.

    Args:
        before: The balance as the history has it.
    """
    return Notice(
        "balance_at_charger",
        f"A charger closes the balance of the ultracapacitor bank's history with a constant current while it drives: "
        f"{before.stored_J / JOULES_PER_KWH:.3g} kWh per day, {before.stored_W:.3g} W on average.",
        "note",
    )
