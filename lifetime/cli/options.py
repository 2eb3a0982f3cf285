"""Arguments and options that several commands have in common."""

from pathlib import Path
from typing import Annotated

import typer

StudyFile = Annotated[Path, typer.Argument(metavar="STUDY", help="The study file (TOML).", show_default=False)]
VariedStudy = Annotated[
    Path,
    typer.Argument(
        metavar="STUDY", help="The study file (TOML); a range may take the place of any number.", show_default=False
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document on standard output and nothing else.")]
Vary = Annotated[
    list[str] | None,
    typer.Option(
        "--vary",
        metavar="KEY=FROM:TO:STEPS[:log]",
        help="A key of the study and the values it takes; also KEY=VALUE,VALUE. May be given several times.",
    ),
]
Report = Annotated[
    Path | None,
    typer.Option(
        "--report", metavar="FILE.html", help="Also write a report: one file that opens offline and prints on A4."
    ),
]
