"""The fingerprint of an assessment: study, inputs, parameter sets and program version, whatever order they come in."""

import hashlib
import json
from collections.abc import Mapping

from lifetime.study.load import LoadedStudy
from lifetime.version import program_version


def input_hashes(loaded: LoadedStudy) -> dict[str, str]:
    """Content hash of every history, by the name the study gives it."""
    return {history.label: history.sha256 for history in loaded.histories.values()}


def fingerprint(loaded: LoadedStudy) -> str:
    """Identify an assessment by everything that decides its numbers.

    Args:
        loaded: The study with everything it names.

    Returns:
        32 hexadecimal digits; the same whenever study, inputs, parameter sets and program version are the same, and
        different as soon as one number differs.
    """
    document: Mapping[str, object] = {
        "study": without_names(loaded),
        "cells": [cell.sha256 for cell in loaded.cells],
        "ambient_K": loaded.ambient_K.tolist(),
        "functions": sorted(f"{name}:{sha256}" for (_, name), (_, sha256) in loaded.functions.items()),
        "program": program_version(),
    }
    text = json.dumps(document, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def without_names(loaded: LoadedStudy) -> dict[str, object]:
    """The study as plain data with the content of its files in place of what they and their columns are called.

    Args:
        loaded: The study with everything it names.
    """
    data = loaded.study.model_dump(mode="json")
    data["service"].pop("climate")
    data["service"].pop("ambient_C")
    for strategy, given in zip(data["strategy"], loaded.study.strategy, strict=True):
        for key, spec in given.inputs().items():
            kept = spec.model_dump(mode="json", include={"interpolation", "ambient_C", "clean"})
            strategy[key] = {**kept, "data": loaded.histories[spec].data_sha256}
    for sections in (data, *(strategy["design"] or {} for strategy in data["strategy"])):
        for section in ("battery", "ultracapacitor"):
            if sections.get(section) is not None:
                sections[section].pop("cell", None)
    return dict(data)
