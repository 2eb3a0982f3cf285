"""Small files to read, and a short way to read them."""

from pathlib import Path

import numpy as np
import pytest

from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput


@pytest.fixture
def write(tmp_path):
    """Write a file's content, text or bytes, and give its path."""

    def _write(content, name="log.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return _write


@pytest.fixture
def read():
    """Open a file whose columns are called time_s and current_A unless said otherwise."""

    def _read(path, **keys):
        keys.setdefault("time", "time_s")
        if "power" not in keys:
            keys.setdefault("current", "current_A")
        return open_history(HistoryInput(file=path.name, **keys), path.parent)

    return _read


@pytest.fixture
def gather():
    """Put all blocks of a history together: a dict of arrays by channel, None where a channel is not there."""

    def _gather(history):
        blocks = list(history.blocks())
        names = ("time_s", "current_A", "power_W", "voltage_V", "temperature_K")
        return {
            name: None if getattr(blocks[0], name) is None else np.concatenate([getattr(b, name) for b in blocks])
            for name in names
        }

    return _gather
