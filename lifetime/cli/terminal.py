"""What every command shares at a terminal: where it prints, how it shows progress, and how it ends.

Exit codes: 0 done, 1 a run failed, 2 bad input.
"""

import io
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import typer

from lifetime.errors import InputError, PackwearError

if TYPE_CHECKING:
    from rich.console import Console


def console() -> "Console":
    """A console that keeps to 80 columns where there is no terminal to ask."""
    from rich.console import Console  # noqa: PLC0415

    return Console(width=None if sys.stdout.isatty() else 80, highlight=False)


def print_json(document: Any) -> None:
    """Print one JSON document on standard output.

    Args:
        document: Plain data without NaN or infinity.
    """
    import json  # noqa: PLC0415 - slow import

    print_json_text(json.dumps(document, indent=2, allow_nan=False, ensure_ascii=False))


def print_json_text(text: str) -> None:
    """Print one JSON document, with escapes where standard output cannot hold its characters.

    Args:
        text: The document.
    """
    try:
        text.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        import json  # noqa: PLC0415 - slow import

        text = json.dumps(json.loads(text), indent=2)
    sys.stdout.write(f"{text}\n")


@contextmanager
def progress(words: str, total: int) -> Iterator[Callable[[int], None]]:
    """A progress bar on a terminal, and none in a pipe.

    Args:
        words: What is being done.
        total: Number of steps.

    Yields:
        A function to call with the number of steps just done.
    """
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress  # noqa: PLC0415

    with Progress(console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty()) as bar:
        task = bar.add_task(words, total=total)
        yield lambda steps: bar.advance(task, steps)


@contextmanager
def exit_codes() -> Iterator[None]:
    """Turn the error tree into messages on standard error and exit codes; no character stops a command."""
    _replace_unprintable()
    try:
        yield
    except InputError as error:
        sys.stderr.write(f"{error}\n")
        raise typer.Exit(2) from None
    except PackwearError as error:
        sys.stderr.write(f"{error}\n")
        raise typer.Exit(1) from None
    except MemoryError:
        sys.stderr.write("There is not enough memory for this run. Shorten the histories, or take a larger machine.\n")
        raise typer.Exit(1) from None
    except BrokenPipeError:
        # The reader of our output has gone; there is nobody left to tell.
        sys.stderr.close()
        raise typer.Exit(0) from None
    except OSError as error:
        place = error.filename or "A file or an address"
        sys.stderr.write(
            f"{place}: {error.strerror or error}. Name a place that exists and that you may read and write, then run "
            "the command again.\n"
        )
        raise typer.Exit(2) from None


def _replace_unprintable() -> None:
    """Let output show a mark in place of a character that the terminal cannot print, rather than fail."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
