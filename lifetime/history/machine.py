"""What an electrical machine and its inverter lose between shaft and source, by torque and shaft speed."""

from itertools import pairwise
from typing import Annotated, Final, Self

import numpy as np
from pydantic import ConfigDict, Field, model_validator

from lifetime.checks import FloatArray
from lifetime.keys import about
from lifetime.ranges import Efficiency, Watts
from lifetime.section import Section

Points = Annotated[
    tuple[Annotated[float, Field(ge=0.0, le=1e9)], ...], Field(min_length=2, max_length=1000, strict=False)
]
MapRow = Annotated[tuple[Efficiency, ...], Field(max_length=1000, strict=False)]
Coefficient = Annotated[float, Field(ge=0.0, le=1e9)]

RAD_S_PER_RPM: Final = np.pi / 30.0
"""One revolution per minute in rad/s (ISO 80000-3)."""


class MachineLosses(Section):
    """Losses of a machine with its inverter, as a map of efficiency or as coefficients; they hold in both directions.

    Source:
        Copper losses grow with the square of torque, hysteresis and friction with speed, eddy currents with its
        square; common practice, no source.
    """

    model_config = ConfigDict(title="Machine and inverter")

    fixed_W: Annotated[Watts, about("Fixed loss", "Lost at any torque and speed.", unit="W", example=20)] = 0.0
    torque_W_per_Nm2: Annotated[
        Coefficient,
        about("Loss with torque squared", "Copper loss.", unit="W/(N·m)²", example=0.2),
    ] = 0.0
    speed_W_per_rpm: Annotated[
        Coefficient,
        about("Loss with speed", "Friction and hysteresis.", unit="W/rpm", example=0.02),
    ] = 0.0
    speed_W_per_rpm2: Annotated[
        Coefficient,
        about("Loss with speed squared", "Eddy currents and windage.", unit="W/rpm²", example=0.00001),
    ] = 0.0
    map_speed_rpm: Annotated[
        Points | None,
        about(
            "Speeds of the efficiency map",
            "Increasing; below the first one its efficiency holds, above the last one a history is refused.",
            unit="rpm",
            example=[100.0, 1000.0, 3000.0],
        ),
    ] = None
    map_torque_Nm: Annotated[
        Points | None,
        about(
            "Torques of the efficiency map",
            "Increasing, without sign; below the first one its efficiency holds, above the last one a history is "
            "refused.",
            unit="N·m",
            example=[1.0, 20.0],
        ),
    ] = None
    map_efficiency: Annotated[
        Annotated[tuple[MapRow, ...], Field(min_length=2, max_length=1000, strict=False)] | None,
        about(
            "Efficiency",
            "One row for each speed with one number for each torque, linear between; in place of the coefficients.",
            unit="fraction",
            example=[[0.6, 0.8], [0.8, 0.92], [0.85, 0.94]],
        ),
    ] = None

    @model_validator(mode="after")
    def _map_fits(self) -> Self:
        parts = (self.map_speed_rpm, self.map_torque_Nm, self.map_efficiency)
        if all(part is None for part in parts):
            return self
        if self.map_speed_rpm is None or self.map_torque_Nm is None or self.map_efficiency is None:
            raise ValueError("map_speed_rpm, map_torque_Nm and map_efficiency belong together: give all three")
        if self.fixed_W or self.torque_W_per_Nm2 or self.speed_W_per_rpm or self.speed_W_per_rpm2:
            raise ValueError("give either an efficiency map or loss coefficients; both would count losses twice")
        for name, points in (("map_speed_rpm", self.map_speed_rpm), ("map_torque_Nm", self.map_torque_Nm)):
            if any(right <= left for left, right in pairwise(points)):
                raise ValueError(f"{name} must increase from point to point")
        if len(self.map_efficiency) != len(self.map_speed_rpm):
            raise ValueError("map_efficiency needs one row for each speed of map_speed_rpm")
        if any(len(row) != len(self.map_torque_Nm) for row in self.map_efficiency):
            raise ValueError("each row of map_efficiency needs one number for each torque of map_torque_Nm")
        return self

    def electrical_W(self, torque_Nm: FloatArray, speed_rad_s: FloatArray) -> FloatArray:
        """Power at the source for a torque at the shaft [W].

        Args:
            torque_Nm: Torque [N·m], positive where the machine drives at positive speed, shape (n,).
            speed_rad_s: Of the shaft [rad/s], shape (n,).

        Returns:
            Positive when the source discharges, shape (n,); NaN above the last torque or speed of an efficiency map.
        """
        shaft = torque_Nm * speed_rad_s
        torque, rpm = np.abs(torque_Nm), np.abs(speed_rad_s) / RAD_S_PER_RPM
        if self.map_efficiency is None:
            copper = self.torque_W_per_Nm2 * torque**2
            return np.asarray(
                shaft + self.fixed_W + copper + (self.speed_W_per_rpm + self.speed_W_per_rpm2 * rpm) * rpm
            )
        efficiency = self._efficiency(torque, rpm)
        return np.where(shaft == 0.0, 0.0, np.where(shaft > 0.0, shaft / efficiency, shaft * efficiency))

    def _efficiency(self, torque_Nm: FloatArray, speed_rpm: FloatArray) -> FloatArray:
        from scipy.interpolate import RegularGridInterpolator  # noqa: PLC0415 - slow import

        assert self.map_speed_rpm is not None  # noqa: S101 - a map has all three
        assert self.map_torque_Nm is not None  # noqa: S101
        grid = RegularGridInterpolator(
            (self.map_speed_rpm, self.map_torque_Nm), np.asarray(self.map_efficiency), bounds_error=False
        )
        # The slack is for speeds that were written as a rounded rad/s.
        slack = 1.0 - 1e-9
        at = np.maximum(speed_rpm * slack, self.map_speed_rpm[0]), np.maximum(torque_Nm * slack, self.map_torque_Nm[0])
        return np.asarray(grid(np.stack(at, axis=-1)))
