"""What the command line prints, as text: objects of the front door print themselves in the same words."""

from collections.abc import Callable
from io import StringIO
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from rich.console import Console

_COLUMNS: Final = 100


def printed(what: "Callable[[Console], None]") -> str:
    """What something prints on a console, as plain text.

    Args:
        what: Prints on the console that it gets.
    """
    from rich.console import Console  # noqa: PLC0415 - slow import

    out = StringIO()
    what(Console(file=out, width=_COLUMNS, highlight=False, color_system=None))
    return "\n".join(line.rstrip() for line in out.getvalue().rstrip().splitlines())
