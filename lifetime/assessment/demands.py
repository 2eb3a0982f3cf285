"""The demands of a study as interval means, read once each however many strategies split them."""

from collections.abc import Mapping

from lifetime.history.model import History
from lifetime.history.spec import HistoryInput
from lifetime.split.demand import read_demand
from lifetime.split.share import Demand
from lifetime.split.vehicle import Vehicle


class Demands:
    """Reads a demand when it is first asked for.

    Args:
        histories: Every history of the study by its input.
        vehicle: Turns a speed into a power; None where the study has no vehicle.
    """

    def __init__(self, histories: Mapping[HistoryInput, History], vehicle: Vehicle | None) -> None:
        self._histories = histories
        self._vehicle = vehicle
        self._read: dict[HistoryInput, Demand] = {}

    def of(self, spec: HistoryInput) -> Demand:
        """One pass of a demand.

        Args:
            spec: The history it is read from.

        Raises:
            AssessmentError: As for ``read_demand``.
        """
        if spec not in self._read:
            self._read[spec] = read_demand(self._histories[spec], self._vehicle)
        return self._read[spec]
