"""What a sweep shows, in words and tables."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from lifetime.sweep.axes import concerns, parse_path
from lifetime.text import counted, printable, short_life, signed_amount, significant

if TYPE_CHECKING:
    from rich.console import Console

    from lifetime.sweep.summary import Summary

_SHOWN_FRONT = 12


def print_summary(summary: "Summary", where: str, data: Mapping[str, Any], out: "Console") -> None:
    """Print what a sweep shows.

    Args:
        summary: What it shows.
        where: Where its rows are, in words.
        data: Its study as plain data.
        out: Where to print.
    """
    _Printer(summary, data, out).print_all(where)


class _Printer:
    """Prints one summary.

    Args:
        summary: What a sweep shows.
        data: Its study as plain data.
        out: Where to print.
    """

    def __init__(self, summary: "Summary", data: Mapping[str, Any], out: "Console") -> None:
        self._summary = summary
        self._currency = printable(str(data["cost"]["currency"]))
        self._strategies = [section["name"] for section in data["strategy"]]
        self._keys = [effect.key for effect in summary.sensitivity]
        self._out = out

    def print_all(self, where: str) -> None:
        """Print everything, the rows' place first."""
        self._print_counts(where)
        if self._summary.best is None:
            return
        self._print_lowest(self._summary.best)
        self._print_sensitivity()
        self._print_break_even()
        self._print_front()

    def _line(self, words: str, *, bold: bool = False) -> None:
        from rich.text import Text  # noqa: PLC0415 - slow import

        self._out.print(Text(words, style="bold" if bold else ""))

    def _heading(self, words: str) -> None:
        self._out.print()
        self._line(words, bold=True)

    def _print_counts(self, where: str) -> None:
        summary = self._summary
        reason = "a source does not meet its requirement, or lasts less than a day"
        without = f", {summary.without_cost:,} without: {reason}" if summary.without_cost else ""
        rows = f"{counted(summary.candidates, 'candidate')}, {counted(summary.rows, 'row')} with a cost"
        self._line(f"{rows}{without}; {where}")
        if summary.problems.candidates:
            lacking = counted(summary.problems.candidates, "candidate")
            self._line(f"{lacking} without a result; reason of the first: {printable(summary.problems.first)}")

    def _print_lowest(self, best: dict[str, Any]) -> None:
        hybrid = self._summary.best_with_ultracapacitor
        self._heading("Lowest net present cost")
        self._line(self._row(best))
        if hybrid is not None and hybrid != best:
            self._line("Lowest net present cost with an ultracapacitor bank", bold=True)
            self._line(self._row(hybrid))
        base = hybrid or best
        for step in self._summary.neighbours:
            if self._applies(step.key, base):
                more = step.net_present_cost - base["net_present_cost"]
                self._line(f"  {step.key} = {significant(step.value)} instead: {signed_amount(more)} {self._currency}")

    def _print_sensitivity(self) -> None:
        from rich.table import Table  # noqa: PLC0415 - slow import

        self._heading(f"Sensitivity: mean cost [{self._currency}] at the lowest and the highest fifth of each key")
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
        for heading in ("key", "lowest", "highest", "difference"):
            table.add_column(heading, justify="left" if heading == "key" else "right", overflow="fold")
        for effect in self._summary.sensitivity:
            low, high = effect.lowest_fifth_cost, effect.highest_fifth_cost
            table.add_row(effect.key, f"{low:,.0f}", f"{high:,.0f}", signed_amount(high - low))
        self._out.print(table)

    def _print_break_even(self) -> None:
        if not self._summary.break_even:
            return
        self._heading("Break-even price of the whole bank or battery pack, against the battery alone")
        for prices in self._summary.break_even:
            named = (("bank", prices.ultracapacitor_price), ("battery", prices.battery_price))
            words = [f"{name} {significant(price)} {self._currency}" for name, price in named if price is not None]
            self._line(f"  {printable(prices.strategy)}: {' or '.join(words)}")

    def _print_front(self) -> None:
        front = self._summary.front
        self._heading("Pareto-optimal in cost, battery life and mass of cells")
        for row in front[:_SHOWN_FRONT]:
            self._line("  " + self._row(row))
        if len(front) > _SHOWN_FRONT:
            self._line(f"  and {len(front) - _SHOWN_FRONT} more")

    def _row(self, row: dict[str, Any]) -> str:
        cost = f"{row['net_present_cost']:,.0f} {self._currency}"
        values = [f"{key} = {significant(row[key])}" for key in self._keys if self._applies(key, row)]
        life = f"battery {short_life(row['battery_life_years'])}"
        mass = "" if row["cells_kg"] is None else f", {significant(row['cells_kg'])} kg of cells"
        parts = [printable(row["strategy"]), ", ".join(values), life + mass]
        return f"{cost}: {'; '.join(part for part in parts if part)}"

    def _applies(self, key: str, row: dict[str, Any]) -> bool:
        """Whether a varied key has to do with the row's strategy."""
        strategy = self._strategies.index(row["strategy"])
        return concerns(parse_path(key), strategy, has_ultracapacitor=bool(row["has_ultracapacitor"]))
