"""The command ``search``: the values of a strategy's keys at which it costs least."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from lifetime.cli.options import AsJson, VariedStudy, Vary
from lifetime.cli.terminal import console, exit_codes, print_json, progress
from lifetime.errors import InputError

if TYPE_CHECKING:
    from lifetime.sweep.axis import Axis
    from lifetime.sweep.search import SearchResult

_LEAST_BUDGET = 3


def search(
    study: VariedStudy,
    strategy: Annotated[
        str, typer.Option("--strategy", metavar="NAME", help="Name of the strategy whose cost is to be lowest.")
    ],
    vary: Vary = None,
    budget: Annotated[
        int, typer.Option("--budget", metavar="NUMBER", help="Largest number of candidates to assess.")
    ] = 60,
    as_json: AsJson = False,
) -> None:
    """Search the values at which a strategy costs least.

    The ends of the ranges given are the bounds of the search.
    """
    with exit_codes():
        from lifetime.study.load import read_toml  # noqa: PLC0415
        from lifetime.sweep.axes import find_axes, named_axis  # noqa: PLC0415
        from lifetime.sweep.candidate import folder_of  # noqa: PLC0415
        from lifetime.sweep.plan import check_plan, make_plan  # noqa: PLC0415
        from lifetime.sweep.search import search_lowest_cost  # noqa: PLC0415

        if budget < _LEAST_BUDGET:
            raise InputError(f"--budget must be at least {_LEAST_BUDGET}, got {budget}.")
        name, base = str(study), study.parent
        data = read_toml(study)
        axes = (*find_axes(data, name), *(named_axis(text, data) for text in vary or []))
        check_plan(make_plan(data, name, axes), folder_of(str(base.absolute())))
        with progress("Searching", budget) as advance:
            found = search_lowest_cost(data, name, base, axes, strategy, budget, lambda: advance(1))
        currency = str(data["cost"]["currency"])
        if as_json:
            print_json(_document(strategy, currency, axes, found))
        else:
            _print(strategy, currency, axes, found)


def _document(strategy: str, currency: str, axes: "tuple[Axis, ...]", found: "SearchResult") -> dict[str, Any]:
    names = [axis.name for axis in axes]
    return {
        "strategy": strategy,
        "currency": currency,
        "best": dict(zip(names, found.values, strict=True)),
        "net_present_cost": found.net_present_cost,
        "keys": names,
        "trials": [trial._asdict() for trial in found.trials],
    }


def _print(strategy: str, currency: str, axes: "tuple[Axis, ...]", found: "SearchResult") -> None:
    from rich.text import Text  # noqa: PLC0415

    from lifetime.text import counted, printable  # noqa: PLC0415

    out = console()
    cost = f"{found.net_present_cost:,.0f} {printable(currency)}"
    tried = counted(len(found.trials), "candidate")
    out.print(Text(f"{printable(strategy)}: lowest net present cost {cost} of {tried}, at"))
    for axis, value in zip(axes, found.values, strict=True):
        end = axis.end_at(value)
        beyond = f", the {end} value allowed: the lowest cost may be beyond it" if end else ""
        # Six digits, so that the value can be put into the study as it is.
        out.print(Text(f"  {axis.name} = {value:.6g}{beyond}"))
