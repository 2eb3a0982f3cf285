"""The demo study, assessed once, and a study small enough to change."""

from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from lifetime.assessment.run import assess
from lifetime.packs.locate import profiles_folder
from lifetime.report.html import report_html
from lifetime.results.document import ResultDocument
from lifetime.results.records import Assessment
from lifetime.study.load import Folder, LoadedStudy, load_study, read_toml, resolve_study

DEMO = profiles_folder() / "demo" / "yard_tractor.toml"


@dataclass(frozen=True)
class Assessed:
    loaded: LoadedStudy
    assessment: Assessment
    document: ResultDocument


def assessed(loaded: LoadedStudy) -> Assessed:
    result = assess(loaded)
    return Assessed(loaded, result, ResultDocument.of(result))


@pytest.fixture(scope="session")
def demo() -> Assessed:
    return assessed(load_study(DEMO))


@pytest.fixture(scope="session")
def demo_report(demo: Assessed) -> str:
    return report_html(demo.document)


@pytest.fixture(scope="session")
def demo_study() -> dict[str, Any]:
    return read_toml(DEMO)


@pytest.fixture
def study(demo_study: dict[str, Any]) -> dict[str, Any]:
    """The demo's study as plain data, free to change, with two strategies."""
    data = deepcopy(demo_study)
    data["strategy"] = data["strategy"][::3]  # the battery alone, and one with a bank
    return data


@pytest.fixture
def run() -> Any:
    """Assess a study given as plain data, with its files beside the demo or in another folder."""

    def _run(data: dict[str, Any], folder: Path = DEMO.parent) -> Assessed:
        return assessed(resolve_study(data, "study", Folder(folder)))

    return _run
