"""The command ``fit-resistance``: a cell's resistance from pulse tests."""

import csv
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import numpy as np
import typer

from lifetime.checks import FloatArray, as_floats
from lifetime.cli.options import AsJson
from lifetime.cli.terminal import console, exit_codes, print_json
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.errors import InputError
from lifetime.text import percent

if TYPE_CHECKING:
    from lifetime.stress.resistance_fit import FittedResistance

COLUMNS: Final = ("pulse_time_s", "temperature_C", "soc", "resistance_ohm")


def fit_resistance(
    pulses: Annotated[
        Path,
        typer.Argument(
            help="CSV file with the columns pulse_time_s, temperature_C, soc (0 to 1) and resistance_ohm, one pulse a "
            "row: voltage drop over current at that time after the pulse began, from rest."
        ),
    ],
    as_json: AsJson = False,
) -> None:
    """Fit a battery's resistance to pulse tests.

    Prints the section [resistance] of a parameter set, resistance_ohm for its section [cell], and the residuals.
    """
    with exit_codes():
        from lifetime.stress.resistance_fit import fit_pulses  # noqa: PLC0415

        length_s, celsius, soc, ohms = _columns(pulses)
        fitted = fit_pulses(length_s, celsius + ZERO_CELSIUS_K, soc, ohms)
        if as_json:
            print_json(_figures(fitted))
            return
        out = console()
        out.print(_section(fitted, pulses.name), markup=False, highlight=False, soft_wrap=True)
        out.print(
            f"Residuals of {fitted.residuals.size} pulses: {percent(fitted.rms)} rms, the largest "
            f"{percent(float(np.max(np.abs(fitted.residuals))))}.",
            markup=False,
            highlight=False,
        )


def _columns(path: Path) -> list[FloatArray]:
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: cannot be read as UTF-8 text ({error}).") from None
    missing = [name for name in COLUMNS if not rows or name not in rows[0]]
    if missing:
        raise InputError(f"{path}: expected the columns {', '.join(COLUMNS)} and one row a pulse, without {missing}.")
    return [as_floats([row[name] for row in rows], f"{path}: {name}") for name in COLUMNS]


def _figures(fitted: "FittedResistance") -> dict[str, object]:
    shape = fitted.shape
    return {
        "resistance_ohm": fitted.stated_ohm,
        "ohmic": shape.ohmic_fraction,
        "branches": [branch.fraction for branch in shape.branches],
        "time_constants_s": [branch.time_constant_s for branch in shape.branches],
        "activation_energy_kJ_per_mol": shape.activation_J_per_mol / 1000.0,
        "soc": list(shape.soc),
        "soc_factor": list(shape.soc_factor),
        "residual_rms": fitted.rms,
        "residuals": fitted.residuals.tolist(),
    }


def _section(fitted: "FittedResistance", file: str) -> str:
    shape = fitted.shape
    source = f'source = {_quoted(f"fitted to {file}")}, grade = "primary source"'

    def line(key: str, value: tuple[float, ...] | float, unit: str) -> str:
        text = f"[{', '.join(map(_plain, value))}]" if isinstance(value, tuple) else _plain(value)
        return f'{key} = {{ value = {text}, unit = "{unit}", {source} }}'

    return "\n".join(
        [
            "[cell]",
            line("resistance_ohm", fitted.stated_ohm, "ohm"),
            "",
            "[resistance]",
            line("ohmic", shape.ohmic_fraction, "1"),
            line("branches", tuple(branch.fraction for branch in shape.branches), "1"),
            line("time_constants_s", tuple(branch.time_constant_s for branch in shape.branches), "s"),
            line("activation_energy", shape.activation_J_per_mol / 1000.0, "kJ/mol"),
            line("soc", shape.soc, "1"),
            line("soc_factor", shape.soc_factor, "1"),
            "",
        ]
    )


def _plain(number: float) -> str:
    """Four digits, without marks of thousands."""
    return repr(float(f"{number:.4g}"))


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
