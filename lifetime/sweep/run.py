"""Run a plan on processes or on a cluster; finished batches are kept, so that a stopped sweep continues."""

import importlib
import json
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lifetime.errors import InputError, MissingPackageError
from lifetime.sweep.candidate import Row, rows_of_batch
from lifetime.sweep.plan import Plan

if TYPE_CHECKING:
    import pyarrow as pa

BATCH: Final = 32
"""Candidates a worker is given at a time."""
_PLAN: Final = "plan.json"
_WHOLE: Final = "sweep.parquet"
_WORKER_LOSSES: Final = 5


@contextmanager
def executor(workers: int, scheduler: str | None) -> Iterator[Executor | None]:
    """Where batches run: in this process, on processes of this machine, or on a cluster.

    Args:
        workers: Processes; 1 for this process alone.
        scheduler: Address of a Dask scheduler, such as ``tcp://host:8786``, or None.

    Raises:
        MissingPackageError: A scheduler is given, and the package for clusters is not installed.
        InputError: The scheduler does not answer.
    """
    if scheduler is not None:
        try:
            client_of: Any = importlib.import_module("distributed").Client  # an optional package, and slow
        except ImportError:
            raise MissingPackageError("A sweep on a cluster", "distributed", "cluster") from None
        try:
            client = client_of(scheduler, timeout=10)
        except (OSError, ValueError, TimeoutError) as error:
            raise InputError(f"The scheduler at {scheduler} does not answer ({error}). Start it first.") from None
        with client:
            yield client.get_executor(retries=_WORKER_LOSSES, pure=False)
    elif workers > 1:
        # Started afresh, so that no lock of this process is held in a child for ever.
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            yield pool
    else:
        yield None


def run_plan(
    plan: Plan,
    base: Path,
    folder: Path,
    pool: Executor | None,
    progress: Callable[[int], None],
) -> Path:
    """Run what is left of a plan and put all rows into one Parquet file.

    Args:
        plan: The plan.
        base: Folder that relative paths in the study are relative to.
        folder: Where finished batches and the file go; those of an earlier run of the same plan are kept.
        pool: Where batches run, or None for this process.
        progress: Called with the number of candidates each finished batch holds.

    Returns:
        The Parquet file, rows in the order of candidates.

    Raises:
        InputError: The folder belongs to another plan.
    """
    _claim(folder, plan)
    batches = [range(start, min(start + BATCH, len(plan.points))) for start in range(0, len(plan.points), BATCH)]
    left = []
    for number, batch in enumerate(batches):
        if _part(folder, number).is_file():
            progress(len(batch))
        else:
            left.append((number, batch))
    for number, rows in _results(plan, str(base.absolute()), left, pool):
        _write(rows, _part(folder, number))
        progress(len(batches[number]))
    return _whole(folder, len(batches))


def _results(
    plan: Plan, base: str, left: list[tuple[int, range]], pool: Executor | None
) -> Iterator[tuple[int, list[Row]]]:
    def given(batch: range) -> tuple[Any, ...]:
        return plan.data, base, plan.axes, [(number, plan.points[number]) for number in batch]

    if pool is None:
        for number, batch in left:
            yield number, rows_of_batch(*given(batch))
        return
    waiting: dict[Future[list[Row]], int] = {
        pool.submit(rows_of_batch, *given(batch)): number for number, batch in left
    }
    for future in as_completed(waiting):
        # Taken out, so that rows already written do not pile up.
        yield waiting.pop(future), future.result()


def _claim(folder: Path, plan: Plan) -> None:
    if folder.is_file():
        raise InputError(f"{folder}: this is a file. Name a folder with --out.")
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / _PLAN
    if path.is_file():
        if json.loads(path.read_text(encoding="utf-8"))["key"] != plan.key:
            raise InputError(f"{folder}: another sweep is there. Name another folder with --out, or remove it.")
        return
    if any(folder.iterdir()):
        raise InputError(f"{folder}: the folder is not empty. Name another one with --out.")
    axes = [{"key": axis.name, "values": list(axis.values), "scale": axis.scale} for axis in plan.axes]
    text = json.dumps({"key": plan.key, "candidates": len(plan.points), "axes": axes}, indent=2)
    _replace(path, text.encode())


def _part(folder: Path, number: int) -> Path:
    return folder / f"part-{number:06d}.parquet"


def _replace(path: Path, content: bytes) -> None:
    """Write a file that is there whole or not at all."""
    unfinished = path.with_suffix(".unfinished")
    unfinished.write_bytes(content)
    unfinished.replace(path)


def _write(rows: list[Row], path: Path) -> None:
    import pyarrow as pa  # noqa: PLC0415 - slow import
    from pyarrow import parquet  # noqa: PLC0415

    table = pa.Table.from_pylist(rows, schema=_schema(rows))
    unfinished = path.with_suffix(".unfinished")
    parquet.write_table(table, unfinished)
    unfinished.replace(path)


def _schema(rows: list[Row]) -> "pa.Schema":
    import pyarrow as pa  # noqa: PLC0415 - slow import

    texts = {"strategy", "problem"}
    kinds = {name: pa.string() if name in texts else pa.float64() for row in rows for name in row}
    kinds["candidate"] = pa.int64()
    return pa.schema(list(kinds.items()))


def _whole(folder: Path, batches: int) -> Path:
    """One file of all parts, read and written part by part."""
    from pyarrow import parquet  # noqa: PLC0415 - slow import

    path = folder / _WHOLE
    unfinished = path.with_suffix(".unfinished")
    first = parquet.read_schema(_part(folder, 0))
    with parquet.ParquetWriter(unfinished, first) as writer:
        for number in range(batches):
            writer.write_table(parquet.read_table(_part(folder, number)).select(first.names).cast(first))
    unfinished.replace(path)
    return path
