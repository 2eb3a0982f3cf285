"""The first pass over a history: order, length, density, ranges; faults are found before any counting."""

from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.block import BLOCK_SAMPLES, IntArray, Samples, file_of
from lifetime.history.cleaning.counts import CleaningCounts
from lifetime.history.cleaning.sample_stream import SampleStream
from lifetime.history.inspection.data_digest import DataDigest
from lifetime.history.inspection.direction import DirectionCheck
from lifetime.history.inspection.equal_times import EqualTimes
from lifetime.history.inspection.gap_words import GapWords
from lifetime.history.inspection.lost_signals import LostSignalCheck, without_zeros
from lifetime.history.inspection.repeated_files import RepeatedFiles
from lifetime.history.inspection.step_charge import GapCharge
from lifetime.history.inspection.time_steps import EDGE_S, StepCounts
from lifetime.history.inspection.time_words import StepBack, backward_remedy
from lifetime.history.mapping.alternation import AlternationCheck
from lifetime.history.mapping.discharge_sign import DischargeSign, SignEvidence

KEPT_SAMPLES: Final = 16 * BLOCK_SAMPLES
"""A history up to this long stays in memory after the first pass (40 MB), so that it is parsed once."""

_SINGLE_RESOLUTION: Final = 0.5
_SINGLE_WARNING: Final = 0.01


class Survey:
    """What one pass over a stream finds.

    Args:
        stream: The samples.
    """

    def __init__(self, stream: SampleStream) -> None:
        self.stream = stream
        self.counts = CleaningCounts()
        self.steps = StepCounts()
        self.samples = 0
        self.equal_times = EqualTimes()
        self.first_s = 0.0
        self.last_s = 0.0
        self.largest_step_s = 0.0
        self.last_row = 0
        self.last_flow = 0.0
        self.joint_steps_s: list[float] = []
        self.inner_step_s = 0.0
        self.inner_step_row = 0
        self.evidence = SignEvidence()
        self.alternation = AlternationCheck()
        self.direction = DirectionCheck()
        self.lost_signals = LostSignalCheck()
        self.repeated_files = RepeatedFiles()
        self.ranges: dict[str, tuple[float, float]] = {}
        self.kept: list[Samples] | None = []
        self.data_sha256 = ""

    def run(self) -> "Survey":
        """Go through the whole stream once.

        Returns:
            Itself.

        Raises:
            HistoryError: Values are bad, time runs backwards, fewer than two rows are there, or no time passes.
        """
        with DataDigest(self.stream.quantities) as digest:
            for stretch in self.stream.samples(self.counts):
                digest.add(stretch.channels)
                self._add(stretch)
            self.data_sha256 = digest.hexdigest()
        self._require_span()
        return self

    def _add(self, stretch: Samples) -> None:
        self._add_times(stretch)
        self._add_ranges(stretch)
        self._add_sign(stretch)
        self.samples += stretch.size
        if self.kept is not None:
            self.kept.append(stretch)
            if self.samples > KEPT_SAMPLES:
                self.kept = None

    @property
    def edges(self) -> int:
        """Steps that take no time."""
        return self.equal_times.edges

    @property
    def duration_s(self) -> float:
        """Time from the first to the last sample [s]."""
        return self.last_s - self.first_s

    @property
    def time_resolution_s(self) -> float:
        """Distance of neighbouring 32-bit floats at the largest time [s]; 0 where time is stored finer."""
        channel = self.stream.channel("time")
        if channel.position not in self.stream.reader.single_precision or not self.samples:
            return 0.0
        largest = max(abs(self.first_s), abs(self.last_s)) * channel.unit.divisor / channel.unit.multiplier
        return float(np.spacing(np.float32(largest))) * channel.unit.multiplier / channel.unit.divisor

    @property
    def is_time_coarse(self) -> bool:
        """True where 32-bit times cost more than a hundredth of a step."""
        return self.time_resolution_s > _SINGLE_WARNING * self.steps.median_s

    def _add_times(self, stretch: Samples) -> None:
        time_s, rows = stretch.time_s, stretch.rows
        flow = stretch.channels.get("current", stretch.channels.get("power"))
        if self.samples == 0:
            self.first_s = float(time_s[0])
            steps_s, ends = np.diff(time_s), rows[1:]
            flows = None if flow is None else (flow[:-1], flow[1:])
        else:
            steps_s, ends = np.diff(time_s, prepend=self.last_s), rows
            flows = None if flow is None else (np.append(self.last_flow, flow[:-1]), flow)
        if steps_s.size:
            self._refuse_backward(time_s, steps_s, ends)
            inner = self._add_inner(steps_s, ends)
            self.largest_step_s = max(self.largest_step_s, float(steps_s.max()))
            self._count_steps(steps_s, ends, flows, inner)
        self.last_s = float(time_s[-1])
        self.last_flow = 0.0 if flow is None else float(flow[-1])
        self.last_row = int(rows[-1])

    def _count_steps(
        self, steps_s: FloatArray, ends: IntArray, flows: tuple[FloatArray, FloatArray] | None, inner: NDArray[np.bool_]
    ) -> None:
        moves = steps_s > EDGE_S
        self.equal_times.add(steps_s, flows)
        if flows is not None and not inner.all():  # between two files the source rests
            flows = (np.where(inner, flows[0], 0.0), np.where(inner, flows[1], 0.0))
        if moves.all():
            self.steps.add(steps_s, ends, flows)
        else:
            kept = None if flows is None else (flows[0][moves], flows[1][moves])
            self.steps.add(steps_s[moves], ends[moves], kept)

    def _add_inner(self, steps_s: FloatArray, ends: IntArray) -> NDArray[np.bool_]:
        """Keep apart the steps from one file to the next; gives which steps lie within a file."""
        files = file_of(ends)
        joints = np.diff(files, prepend=file_of(np.array([self.last_row]))[0] if self.samples else files[0]) != 0
        if joints.any():
            self.joint_steps_s += steps_s[joints].tolist()
            steps_s = np.where(joints, 0.0, steps_s)
        longest = int(np.argmax(steps_s))
        if steps_s[longest] > self.inner_step_s:
            self.inner_step_s, self.inner_step_row = float(steps_s[longest]), int(ends[longest])
        within: NDArray[np.bool_] = ~joints
        return within

    def _add_sign(self, stretch: Samples) -> None:
        current = stretch.channels.get("current")
        if current is not None:
            self.alternation.add(stretch.time_s, current)
            if "voltage" in stretch.channels:
                self.direction.add(current, stretch.channels["voltage"])
        if "voltage" in stretch.channels:
            drive = stretch.channels.get("current", stretch.channels.get("power"))
            if drive is not None:
                self.evidence.add(stretch.time_s, drive, without_zeros(stretch.channels["voltage"]), None)

    def _add_signals(self, stretch: Samples) -> None:
        channels = stretch.channels
        self.lost_signals.add(stretch.time_s, stretch.rows, channels.get("voltage"), channels.get("temperature"))
        if self.stream.reader.files:
            drive = next(channels[name] for name in ("current", "power", "speed") if name in channels)
            self.repeated_files.add(stretch.rows, drive)

    @property
    def sign(self) -> DischargeSign:
        """What the voltage says about the sign of discharge, after the study's own word was applied."""
        return self.evidence.sign()

    @property
    def flow_quantity(self) -> Literal["current", "power"]:
        """Whether charge or energy is counted."""
        return "power" if "power" in self.stream.quantities else "current"

    def gap_words(self, charge: GapCharge | None) -> GapWords | None:
        """Sentences about what flows in gaps; None where no current or power is known.

        Args:
            charge: What flows there.
        """
        if charge is None:
            return None
        return GapWords(charge, self.flow_quantity, 1.0, ("discharged", "charged"))

    @property
    def joint_gaps(self) -> int:
        """Gaps between two files."""
        limit_s = self.steps.gap_limit_s
        return sum(step_s >= limit_s for step_s in self.joint_steps_s)

    def _refuse_backward(self, time_s: FloatArray, steps_s: FloatArray, ends: IntArray) -> None:
        if steps_s.min() >= 0.0:
            return
        at = int(np.argmax(steps_s < 0.0))
        file, row = self.stream.reader.place(int(ends[at]))
        channel = self.stream.channel("time")
        before = self.last_row if at == 0 and self.samples else int(ends[at]) - 1
        remedy = backward_remedy(
            self._step_back(time_s, steps_s, at),
            between_files=bool(self.stream.reader.files) and int(np.ptp(file_of(np.array([before, ends[at]])))) > 0,
            is_local=channel.text is not None and self.stream.derivation.time_zone is None,
        )
        raise HistoryError(
            f"time runs backwards by {-steps_s[at]:g} s.", file=file, row=row, column=channel.column, remedy=remedy
        )

    def _step_back(self, time_s: FloatArray, steps_s: FloatArray, at: int) -> StepBack:
        forward = steps_s[:at][steps_s[:at] > EDGE_S]
        median_s = self.steps.median_s or (float(np.median(forward)) if forward.size else 0.0)
        after_s = float(time_s[time_s.size - steps_s.size + at])
        return StepBack(-float(steps_s[at]), after_s - self.first_s, median_s)

    def _add_ranges(self, stretch: Samples) -> None:
        self._add_signals(stretch)
        for quantity, values in stretch.channels.items():
            low, high = float(values.min()), float(values.max())
            if quantity in self.ranges:
                low, high = min(low, self.ranges[quantity][0]), max(high, self.ranges[quantity][1])
            self.ranges[quantity] = (low, high)

    def _require_span(self) -> None:
        label = self.stream.reader.label
        column = self.stream.channel("time").column
        if self.counts.rows_read == 0:
            raise HistoryError(
                "the file has a header but no data row.", file=label, remedy="Give a file with at least two rows."
            )
        if self.samples < 2:
            what = "there is only one row" if self.counts.rows_read == 1 else f"{self.samples} usable rows are left"
            raise HistoryError(f"{what}, and a history needs at least two.", file=label, remedy="Give a longer file.")
        resolution_s = self.time_resolution_s
        coarse = resolution_s >= _SINGLE_RESOLUTION * self.steps.median_s
        if resolution_s > 0.0 and coarse and (self.steps.median_s > 0.0 or resolution_s > 1e-3):
            raise HistoryError(
                f"times are stored as 32-bit floats, which near {self.last_s:.10g} s can only tell apart times "
                f"{resolution_s:g} s from each other.",
                file=label,
                column=column,
                remedy="Store the time as 64-bit floats, or as seconds since the start.",
            )
        if self.duration_s <= 0.0:
            raise HistoryError(
                f"the time stays at {self.first_s:g} s, so no time passes.",
                file=label,
                column=column,
                remedy="Name the column with the time.",
            )
