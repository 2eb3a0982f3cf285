"""A study before it is assessed: plain data that can be changed, and where the things it names are found."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lifetime.errors import Fault, StudyError
from lifetime.history.model import History
from lifetime.history.spec import HistoryInput
from lifetime.study.changes import with_changes
from lifetime.study.load import Folder, LoadedStudy, read_toml, resolve_study

if TYPE_CHECKING:
    import pandas as pd

    from lifetime.split.rule import Rule


@dataclass(frozen=True, slots=True)
class NotebookFolder(Folder):
    """A folder, and frames in memory that stand in for some of its files.

    Args:
        base: The folder.
        frames: Frames by the name that the study gives as ``file``.
    """

    frames: "Mapping[str, pd.DataFrame]" = field(default_factory=dict)

    def history(self, spec: HistoryInput, *, series: int, parallel: int) -> History:
        """A frame of that name, or one of the user's own files."""
        frame = self.frames.get(spec.file)
        if frame is None:
            return Folder.history(self, spec, series=series, parallel=parallel)
        from lifetime.history.frames import open_frame  # noqa: PLC0415 - slow import

        return open_frame(spec, frame, series=series, parallel=parallel)


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class StudyDraft:
    """A study as keys and values; a change gives a new draft and leaves the old one as it is.

    Args:
        document: The keys and values, as in a study file.
        folder: Where the files that it names are.
        name: What messages call it.
    """

    document: Mapping[str, Any]
    folder: Path
    name: str = "study"

    @property
    def title(self) -> str:
        """The question that the study answers."""
        return str(self.document.get("title", self.name))

    @property
    def strategies(self) -> tuple[str, ...]:
        """Names of its strategies, in the order of the study."""
        return tuple(str(one.get("name")) for one in self._strategy_list())

    def with_changes(self, changes: Mapping[str, Any]) -> "StudyDraft":
        """The study with other values of some keys; None takes a key away.

        Args:
            changes: New value by key, such as ``"service.years"``, ``"strategy[2].split.time_constant_s"`` or
                ``"strategy[Low-pass, 20 s].split.time_constant_s"``.

        Raises:
            StudyError: A key cannot be read, or names a strategy that is not there; all faults at once.

        Example:
            >>> import lifetime as pw
            >>> study = pw.demo_study().with_changes({"service.years": 12})
            >>> study.document["service"]["years"]
            12
        """
        return replace(self, document=with_changes(self.document, changes, self.name))

    def with_strategy(
        self,
        name: str,
        *,
        split: "Rule | Mapping[str, Any] | None" = None,
        demand: Mapping[str, Any] | None = None,
        battery: Mapping[str, Any] | None = None,
        ultracapacitor: Mapping[str, Any] | None = None,
    ) -> "StudyDraft":
        """The study with one more strategy.

        Args:
            name: Its name.
            split: The rule that shares the demand, from ``pw.rules`` or as keys and values.
            demand: History of the demand as keys and values; where it is left out, the one demand of the others.
            battery: History of the battery, for a strategy that is already split.
            ultracapacitor: History of the ultracapacitor bank, for a strategy that is already split.

        Raises:
            StudyError: A split is given without a demand, and the others have none or several.
        """
        if split is not None and demand is None:
            demand = self._only_demand()
        given = {"demand": demand, "split": split, "battery": battery, "ultracapacitor": ultracapacitor}
        added = {"name": name} | {key: value for key, value in given.items() if value is not None}
        return replace(self, document={**self.document, "strategy": [*self._strategy_list(), added]})

    def without_strategy(self, name: str) -> "StudyDraft":
        """The study without one of its strategies.

        Args:
            name: Its name.

        Raises:
            StudyError: There is none of that name.
        """
        kept = [one for one in self._strategy_list() if one.get("name") != name]
        if len(kept) == len(self._strategy_list()):
            raise StudyError(self.name, [Fault("strategy", f'has none named "{name}"; there are: {self._names()}.')])
        return replace(self, document={**self.document, "strategy": kept})

    def resolve(self, histories: "Mapping[str, pd.DataFrame] | None" = None) -> LoadedStudy:
        """Check the study and open everything it names.

        Args:
            histories: Frames by the name that the study gives as ``file``; other names are files.

        Raises:
            StudyError: With every fault found, each with its place; also for a frame that the study does not name.
        """
        frames = dict(histories or {})
        loaded = resolve_study(self.document, self.name, NotebookFolder(self.folder, frames))
        unused = sorted(frames.keys() - {spec.file for spec in loaded.histories})
        if unused:
            named = ", ".join(sorted({spec.file for spec in loaded.histories}))
            raise StudyError(
                self.name,
                [Fault("histories", f'"{one}" is no file of this study, which names: {named}.') for one in unused],
            )
        return loaded

    def __repr__(self) -> str:
        """Title and strategies."""
        return f"{self.title}\n  strategies: {self._names()}"

    def _names(self) -> str:
        return ", ".join(self.strategies) or "none"

    def _strategy_list(self) -> list[Mapping[str, Any]]:
        strategies = self.document.get("strategy", [])
        return [one for one in strategies if isinstance(one, Mapping)] if isinstance(strategies, list | tuple) else []

    def _only_demand(self) -> Mapping[str, Any]:
        demands: list[Mapping[str, Any]] = []
        for one in self._strategy_list():
            if isinstance(one.get("demand"), Mapping) and one["demand"] not in demands:
                demands.append(one["demand"])
        if len(demands) != 1:
            how = "no demand" if not demands else f"{len(demands)} different demands"
            raise StudyError(self.name, [Fault("demand", f"must be given: the study's strategies have {how}.")])
        return demands[0]


def load_study(source: str | Path | Mapping[str, Any], *, folder: str | Path | None = None) -> StudyDraft:
    """A study from a TOML file or from keys and values.

    Args:
        source: Path of a study file, or its content as a dictionary.
        folder: Folder that paths in it start from; the file's own, or the working folder, unless given.

    Raises:
        StudyError: The file is missing or not TOML. What is wrong with its keys is said when it is assessed.
    """
    if isinstance(source, Mapping):
        return StudyDraft(dict(source), Path(folder or "."))
    path = Path(source)
    return StudyDraft(read_toml(path), Path(folder) if folder is not None else path.parent, str(path))


def demo_study() -> StudyDraft:
    """The built-in study of a yard tractor; everything in it is invented.

    Example:
        >>> import lifetime as pw
        >>> pw.demo_study().strategies[0]
        'Battery alone'
    """
    from lifetime.packs.locate import profiles_folder  # noqa: PLC0415

    return load_study(profiles_folder() / "demo" / "yard_tractor.toml")
