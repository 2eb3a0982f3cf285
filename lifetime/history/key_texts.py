"""What each key of a history tells a person, for the form, the README and the API's description."""

from typing import Any, Final

from lifetime.history.record import CLEANING
from lifetime.keys import about

ABOUT: Final[dict[str, Any]] = {
    "file": about(
        "History",
        "Path of the file, relative to the study; with * or ? all files that fit, as one history.",
        example="trip.csv",
    ),
    "time": about(
        "Time", "Column with the time: a number in any unit, or timestamps.", example="Time [s]", column=True
    ),
    "current": about(
        "Current", "Column with the current; name exactly one of current and power.", example="I_batt [A]", column=True
    ),
    "power": about(
        "Power",
        "Column with the power; a demand needs a power, a current with a voltage, or a speed.",
        example="P_dc [kW]",
        column=True,
    ),
    "charge_current": about(
        "Charge current",
        "Column with the current while charging, at least 0; in place of one signed current.",
        example="I_chg [A]",
        group="Two columns of current",
        column=True,
    ),
    "discharge_current": about(
        "Discharge current",
        "Column with the current while discharging, at least 0.",
        example="I_dis [A]",
        group="Two columns of current",
        column=True,
    ),
    "phase_currents": about(
        "Phase currents",
        "Columns with the currents of the source's own winding set: three, or two and the third follows.",
        example=["i_a [A]", "i_b [A]", "i_c [A]"],
        group="Phase currents and voltages",
        column=True,
    ),
    "phase_voltages": about(
        "Phase voltages",
        "Columns with the voltages that belong to them: phase to neutral, or to the third phase.",
        example=["u_a [V]", "u_b [V]", "u_c [V]"],
        group="Phase currents and voltages",
        column=True,
    ),
    "torque": about(
        "Torque",
        "Column with the torque of the machine, or of the source's own winding set, in place of a power.",
        example="T_shaft [Nm]",
        group="Torque and shaft speed",
        column=True,
    ),
    "shaft_speed": about(
        "Shaft speed",
        "Column with the speed of the shaft; times the torque it is the power, losses of the machine added.",
        example="n [rpm]",
        group="Torque and shaft speed",
        column=True,
    ),
    "torque_fraction": about(
        "Torque share",
        "What the source's own winding set carries of the torque in the column.",
        unit="fraction",
        example=0.5,
        group="Torque and shaft speed",
    ),
    "machine": about(
        "Machine and inverter",
        "Losses between the shaft and the source, for a history by torque; without it nothing is lost.",
    ),
    "voltage": about(
        "Voltage",
        "Column with the terminal voltage, where measured; times the current it is the power of a demand.",
        example="U_batt [V]",
        column=True,
    ),
    "temperature": about(
        "Temperature",
        "Column with the temperature of the source, where measured; next to a demand that of the battery.",
        example="T_batt [°C]",
        column=True,
    ),
    "speed": about(
        "Vehicle speed",
        "Column with the speed: for rules that need it, or in place of a power with the section vehicle.",
        example="v [km/h]",
        column=True,
    ),
    "mode": about(
        "Mode",
        "Column that says in words whether the source charges or discharges; its sign is then not used.",
        example="Step",
        group="Modes",
        column=True,
    ),
    "charge_modes": about(
        "Words for charging",
        "Values of the mode column while the source charges.",
        example=["CC charge", "CV charge"],
        group="Modes",
    ),
    "discharge_modes": about(
        "Words for discharging",
        "Values of the mode column while the source discharges.",
        example=["discharge"],
        group="Modes",
    ),
    "rest_modes": about(
        "Words for rest",
        "Values of the mode column while the source rests; the current is then taken as zero.",
        example=["rest"],
        group="Modes",
    ),
    "date": about(
        "Date",
        "Column with the date, where the time column has only the time of day.",
        example="Date",
        group="Timestamps",
        column=True,
    ),
    "discharge_is": about(
        "Sign while the source discharges",
        "Sign of current or power in the file; it is checked against the voltage.",
        example="positive",
        asked=True,
    ),
    "interpolation": about(
        "Values between samples",
        "How values run from one sample to the next.",
        choices={
            "linear": "linear",
            "zero_order_hold": "zero-order hold",
        },
    ),
    "current_from_power": about(
        "Current from power", "Divide the power by the voltage and use the current.", example=True, group="Corrections"
    ),
    "current_offset_A": about(
        "Offset of the current sensor",
        "Subtracted after the sign is settled.",
        unit="A",
        example=0.4,
        group="Corrections",
    ),
    "quantities_of": about(
        "Quantities of",
        "Whether the columns are those of the pack or of one cell of it.",
        example="pack",
        choices={"pack": "the whole pack", "cell": "one cell"},
        group="Corrections",
    ),
    "ambient_C": about(
        "Ambient temperature during the measurement",
        "With it a measured temperature is shifted with the season.",
        unit="°C",
        example=21,
        group="Corrections",
    ),
    "clean": about(
        "Data cleaning",
        "Nothing is cleaned unless it is asked for here.",
        example=["drop_bad_rows"],
        group="Data cleaning",
        choices=CLEANING,
    ),
    "files_follow": about(
        "Order of the files",
        "Where the pattern fits several files.",
        example="by_time",
        choices={"by_time": "by their times", "one_after_another": "one after another"},
        file_only=True,
    ),
    "time_unit": about(
        "Unit of time", "Where the header of the column names none.", example="s", group="Units", unit_of="time"
    ),
    "time_format": about(
        "Format of the timestamps", '"iso", "duration", or a pattern.', example="%d.%m.%Y %H:%M:%S", group="Timestamps"
    ),
    "date_format": about(
        "Format of the date", "A pattern, for a date in a column of its own.", example="%m/%d/%Y", group="Timestamps"
    ),
    "time_zone": about(
        "Time zone",
        "Zone of local timestamps by its name in the IANA database.",
        example="Europe/Berlin",
        group="Timestamps",
    ),
    "current_unit": about(
        "Unit of current", "Where the header of the column names none.", example="A", group="Units", unit_of="current"
    ),
    "power_unit": about(
        "Unit of power", "Where the header of the column names none.", example="kW", group="Units", unit_of="power"
    ),
    "voltage_unit": about(
        "Unit of voltage", "Where the header of the column names none.", example="V", group="Units", unit_of="voltage"
    ),
    "temperature_unit": about(
        "Unit of temperature",
        "Where the header of the column names none.",
        example="°C",
        group="Units",
        unit_of="temperature",
    ),
    "speed_unit": about(
        "Unit of speed", "Where the header of the column names none.", example="km/h", group="Units", unit_of="speed"
    ),
    "torque_unit": about(
        "Unit of torque", "Where the header of the column names none.", example="N·m", group="Units", unit_of="torque"
    ),
    "shaft_speed_unit": about(
        "Unit of shaft speed",
        "Where the header of the column names none.",
        example="rpm",
        group="Units",
        unit_of="shaft_speed",
    ),
    "header_row": about(
        "Row of the column names",
        "Counted from 1, 0 for none; where it is detected wrongly.",
        unit="1",
        example=3,
        file_only=True,
    ),
    "decimal": about("Decimal mark", "Where it is detected wrongly.", example=",", file_only=True),
    "sheet": about("Sheet", "Of a workbook; the first one unless given.", example="Data", file_only=True),
    "bus_database": about(
        "Bus database",
        "DBC file with which raw frames of a vehicle bus are decoded.",
        example="vehicle.dbc",
        file_only=True,
    ),
}
"""Title, hint, unit and example of each key, as ``lifetime.keys.about`` makes them."""
