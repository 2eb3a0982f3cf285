"""The demands of a study as interval means, read once each however many strategies split them."""

from collections.abc import Mapping
from dataclasses import replace

from lifetime.history.model import History
from lifetime.history.spec import HistoryInput
from lifetime.split.demand import read_demand
from lifetime.split.share import Demand
from lifetime.split.vehicle import Vehicle
from lifetime.split.windings import TwoWindings


class Demands:
    """Reads a demand when it is first asked for.

    Args:
        histories: Every history of the study by its input.
        vehicle: Turns a speed into a power; None where the study has no vehicle.
        windings: Of the machine; None where the study does not say what they lose.
    """

    def __init__(
        self,
        histories: Mapping[HistoryInput, History],
        vehicle: Vehicle | None,
        windings: TwoWindings | None = None,
    ) -> None:
        self._histories = histories
        self._vehicle = vehicle
        self._windings = windings
        self._read: dict[HistoryInput, Demand] = {}

    def of(self, spec: HistoryInput) -> Demand:
        """One pass of a demand.

        Args:
            spec: The history it is read from.

        Raises:
            AssessmentError: As for ``read_demand``.
        """
        if spec not in self._read:
            read = read_demand(self._histories[spec], self._vehicle)
            self._read[spec] = replace(read, windings=self._windings)
        return self._read[spec]
