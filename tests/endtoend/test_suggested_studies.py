"""Every study that ``check --write`` writes for a measured file is assessed, filled in only where it says "?".

What is filled in comes from the notes beside each file (README.md of its folder). Charge, energy and length are
compared with pandas or scipy on the raw file: trapezoids between rows, the sign as the notes say.
"""

import contextlib
import io
import json
import re
import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from rich.console import Console
from scipy.io import loadmat

from lifetime.assessment.run import assess
from lifetime.cli.file_check import CheckRequest, check_and_print
from lifetime.errors import HistoryError
from lifetime.study.load import Folder, resolve_study

DATA = Path(__file__).parents[3] / "shared" / "data"
pytestmark = pytest.mark.skipif(not DATA.is_dir(), reason="the shared measured data are not here")
NO_DATA = {"README.md", "SOURCE_LICENSE.txt"}
FILES = sorted(path for path in DATA.rglob("*") if path.is_file() and path.name not in NO_DATA) if DATA.is_dir() else []

ANSWERS = {
    "time_unit": "s",
    "current_unit": "A",
    "voltage_unit": "V",
    "temperature_unit": "°C",
    "speed_unit": "km/h",
    "discharge_is": "positive",
}
"""What the notes say of most files."""
NOTES = {
    "drive_cycles": {"speed_unit": "m/s"},
    "ev_trips_nissan_leaf": {"time_format": "%m/%d/%Y %H:%M:%S"},
    "cyc_biologic_mb.csv": {"time_format": "%m/%d/%Y %H:%M:%S"},
    "cyc_basytec.txt": {"discharge_modes": ["Discharge"]},
    "instrument_semicolon_sections.csv": {"discharge_is": "negative"},
    "cyc_neware_nova.csv": {"discharge_is": "negative"},
}
"""What they say of some; signs by the direction of the voltage."""
PACK = {"cell": "nmc_schmalstieg_2014", "series": 100, "parallel": 100, "price": {"purchase_per_kWh": 150}}
BANK = {
    "cell": "edlc_3000F_10K_0p1V",
    "series": 200,
    "parallel": 1,
    "start_voltage_V": 470,
    "minimum_voltage_V": 260,
    "rest_voltage_V": 450,
    "price": {"purchase_per_farad_cell": 0.012},
}
VEHICLE = {"mass_kg": 1500, "rolling_resistance": 0.01, "drag_area_m2": 0.6}


def checked(path, target):
    """What the command finds and prints as JSON, and writes where it can; None where it refuses to look at the file."""
    request = CheckRequest(str(path), True, None, target, None, (), None, None, None, None)
    shown = io.StringIO()
    with contextlib.redirect_stdout(shown), contextlib.suppress(HistoryError):
        check_and_print(request, Console())
    return json.loads(shown.getvalue()) if shown.getvalue() else None


def filled_in(path, target):
    """The study as written, filled in where it says "?"."""
    study = tomllib.loads(target.read_text(encoding="utf-8"))
    (strategy,) = study["strategy"]
    history = strategy.get("battery") or strategy["demand"]
    notes = ANSWERS | NOTES.get(path.parent.name, {}) | NOTES.get(path.name, {})
    history.update({key: notes[key] for key, value in history.items() if value in ("?", ["?"])})
    study["title"] = "As written"
    fill_in(study["battery"], PACK)
    fill_in(study.get("ultracapacitor", {}), BANK)
    fill_in(study.get("vehicle", {}), VEHICLE)
    return study


def fill_in(section, answers):
    for key, value in section.items():
        if isinstance(value, dict):
            fill_in(value, answers[key])
        elif value == "?":
            section[key] = answers[key]


def flow_of(history):
    """Length [s], charge or energy in both directions [A s or W s], or the distance [m]."""
    blocks = list(history.blocks())
    time = np.concatenate([block.time_s for block in blocks])
    drive = np.concatenate([getattr(block, DRIVE[history.driven_by]) for block in blocks])
    return integrals(time, drive)


DRIVE = {"current": "current_A", "power": "power_W", "speed": "speed_m_s"}


def integrals(time, drive):
    charge = 0.5 * (drive[1:] + drive[:-1]) * np.diff(time)
    return float(time[-1] - time[0]), float(charge[charge > 0.0].sum()), float(-charge[charge < 0.0].sum())


def column(frame, name, factor=1.0):
    return frame[name].to_numpy(dtype=float) * factor


def csv(name, time, drive, factor=1.0, *, hours=False, **keys):
    frame = pd.read_csv(DATA / name, **({"encoding": "latin-1"} | keys))
    times = frame[time]
    if times.dtype.kind in "OTU":
        stamps = (
            pd.to_timedelta(times.str.replace("d ", " days ")).dt.total_seconds()
            if times.str.count("/").max() == 0
            else (pd.to_datetime(times, format="mixed", dayfirst=False) - pd.Timestamp(0)).dt.total_seconds()
        )
        return stamps.to_numpy(), column(frame, drive, factor)
    return column(frame, time, 3600.0 if hours else 1.0), column(frame, drive, factor)


def by_letter(name):
    """Maccor: the magnitude of the current and C, D, R or S beside it."""
    frame = pd.read_csv(DATA / name, sep="\t", skiprows=2, encoding="latin-1", index_col=False)
    time = pd.to_timedelta(frame["TestTime"].str.strip().str.replace("d ", " days ")).dt.total_seconds().to_numpy()
    sign = frame["State"].str.strip().map({"D": 1.0, "C": -1.0}).fillna(0.0).to_numpy()
    return time, frame["Amps"].abs().to_numpy() * sign


def by_lines(name, separator, width, time, current, factor, hours=1.0):
    """Rows with as many fields, quoted or not, of which both are numbers."""
    rows = []
    for line in (DATA / name).read_text(encoding="utf-8", errors="replace").splitlines():
        fields = line.strip().strip('"').split(separator)
        if len(fields) == width and all(re.fullmatch(r"[-+.\dEe]+", fields[at]) for at in (time, current)):
            rows.append((float(fields[time]) * hours, float(fields[current]) * factor))
    return np.array(rows).T


def matlab(name, *way):
    part = loadmat(DATA / name, simplify_cells=True)
    for step in way:
        part = part[step]
    return np.asarray(part, dtype=float)


TRIP = {"time": "Time [s]", "drive": "Battery Current [A]", "factor": -1.0, "sep": ";"}
RAW = {
    "cell_nissan_leaf_bitrode/NissanLeaf-cell-Low-Current-HPPC-25C-2.csv": {
        "time": "Time(s)",
        "drive": "Current(A)",
        "factor": -1.0,
        "index_col": False,
    },
    "drive_cycles/bus_18m_urban_1hz.csv": {"time": "time_s", "drive": "wheel_power_kW", "factor": 1e3},
    "drive_cycles/heavy_truck_long_haul_first2h.csv": {"time": "cycSecs", "drive": "cycMps"},
    "drive_cycles/hwfet.csv": {"time": "cycSecs", "drive": "cycMps"},
    "drive_cycles/udds.csv": {"time": "cycSecs", "drive": "cycMps", "encoding": "utf-8-sig"},
    "drive_cycles/us06.csv": {"time": "cycSecs", "drive": "cycMps", "encoding": "utf-8-sig"},
    "drive_cycles/wltc_3a.csv": {"time": "cycSecs", "drive": "cycMps", "encoding": "utf-8-sig"},
    "drive_cycles/wltc_3b.csv": {"time": "cycSecs", "drive": "cycMps", "encoding": "utf-8-sig"},
    "ev_trips_bmw_i3/TripA01.csv": TRIP,
    "ev_trips_bmw_i3/TripA04.csv": TRIP,
    "ev_trips_bmw_i3/TripB13.csv": TRIP,
    "ev_trips_bmw_i3/TripB26.csv": TRIP,
    "ev_trips_nissan_leaf/2022_Denver_to_Portland_day1.csv": {"time": "Date/Time", "drive": "Pack Amps"},
    "ev_trips_nissan_leaf/2022_Denver_to_Portland_day2.csv": {"time": "Date/Time", "drive": "Pack Amps"},
    "messy_exports/cycler_arbin_example.csv": {"time": "Test_Time", "drive": "Current", "factor": -1.0},
    "messy_exports/cycler_neware_flat.csv": {
        "time": "Cumulative Time",
        "drive": "Current(A)",
        "factor": -1.0,
        "index_col": False,
    },
    "messy_exports/ev_logger_T3_05_25_2021_3.csv": {"time": "Time", "drive": "Speed", "factor": 1.0 / 3.6},
    "messy_exports/sim_vehicle_18m_Urban_1Hz_first1500s.vmod": {
        "time": "time [s]",
        "drive": "v_act [km/h]",
        "factor": 1.0 / 3.6,
        "skiprows": 1,
    },
    "messy_exports_2/cyc_arbin_tc.csv": {"time": "Test_Time", "drive": "Current", "factor": -1.0},
    "messy_exports_2/cyc_biologic_ca1.txt": {
        "time": "time/s",
        "drive": "I/mA",
        "factor": -1e-3,
        "sep": "\t",
        "skiprows": 102,
        "index_col": False,
    },
    "messy_exports_2/cyc_biologic_mb.csv": {"time": "time/s", "drive": "I/mA", "factor": -1e-3, "sep": ";"},
    "messy_exports_2/cyc_crate1.csv": {"time": "Time [s]", "drive": "Current [A]"},
    "messy_exports_2/cyc_maccor_trunc.034": {
        "time": "Test (Sec)",
        "drive": "Amps",
        "factor": -1.0,
        "sep": "\t",
        "skiprows": 1,
        "index_col": False,
    },
    "messy_exports_2/cyc_novonix.csv": {
        "time": "Run Time (h)",
        "drive": "Current (A)",
        "factor": -1.0,
        "hours": True,
        "skiprows": 20,
    },
}
"""How pandas reads each file; the sign of discharge is that of the notes or of the falling voltage."""
OTHERS = {
    "messy_exports/cycler_maccor_smartbattery.006": by_letter,
    "messy_exports/sim_simulink_ev_wltc_results.mat": lambda name: (
        matlab(name, "tws_I_bat_ev", "time"),
        matlab(name, "tws_I_bat_ev", "signals", "values"),
    ),
    "messy_exports/matlab_struct_B0049.mat": lambda name: (
        matlab(name, "B0049", "cycle", 0, "data", "Time"),
        -matlab(name, "B0049", "cycle", 0, "data", "Current_measured"),
    ),
    "messy_exports/instrument_semicolon_sections.csv": lambda name: by_lines(name, ";", 10, 1, 6, -1.0),
    "messy_exports_2/cyc_neware_nova.csv": lambda name: by_lines(name, ",", 15, 3, 5, -1.0, 3600.0),
    "messy_exports_2/cyc_basytec.txt": lambda name: by_lines(name, "\t", 29, 0, 8, -1.0),
    "cell_random_load_18650/Exp25_R1.mat": lambda name: (matlab(name, "ocv_data", "t"), matlab(name, "ocv_data", "I")),
    "cell_random_load_18650/Exp25_R2.mat": lambda name: (matlab(name, "ocv_data", "t"), matlab(name, "ocv_data", "I")),
}


def raw(name):
    return csv(name, **RAW[name]) if name in RAW else OTHERS[name](name)


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(DATA)))
def test_a_suggested_study_is_assessed_or_the_file_said_to_be_no_history(path, tmp_path):
    target = tmp_path / "study.toml"
    found = checked(path, target)
    if found is None:
        return
    name = path.relative_to(DATA).as_posix()
    errors = [one for one in found["findings"] if one["severity"] == "error"]
    if not target.exists() or errors:
        assert errors, "nothing is suggested, and nothing says why"
        assert all(error["remedy"] for error in errors)
        assert name not in RAW | OTHERS
        return
    study = resolve_study(filled_in(path, target), "study", Folder(tmp_path))
    (result,) = assess(study).strategies
    assert result.battery.life_state in ("reached", "beyond_search_limit", "requirement_not_met")
    if name in RAW | OTHERS:
        (history,) = study.histories.values()
        assert flow_of(history) == pytest.approx(integrals(*raw(name)), rel=1e-6, abs=1e-6)
