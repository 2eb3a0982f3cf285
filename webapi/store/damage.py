"""What the Arrow library raises on a damaged file, in the words of our own error."""

from dataclasses import dataclass

from lifetime.errors import HistoryError


@dataclass(frozen=True, slots=True)
class DamageGuard:
    """Around everything that reads such a file.

    Args:
        kind: Format of the file.
        label: Its name as the user gave it.
    """

    kind: str
    label: str

    def __enter__(self) -> None:
        """Nothing to prepare."""

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: object) -> None:
        """Raise our error in place of the library's.

        Raises:
            HistoryError: The library raised one.
        """
        import pyarrow as pa  # noqa: PLC0415 - slow import

        # The library's own error of that name is also one of its others; it says nothing about the file.
        if isinstance(error, pa.ArrowException | OSError) and not isinstance(error, MemoryError):
            reason = str(error).splitlines()[0].rstrip(".") if str(error) else type(error).__name__
            raise HistoryError(
                f"the {self.kind} file is cut or damaged ({reason}).",
                file=self.label,
                remedy="Copy or export it again.",
            ) from None
