"""What charging, cooling and a larger battery would buy beside the best strategy, each by itself."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final

from lifetime.assessment.resolution import resolve_setups
from lifetime.assessment.strategy import assess_strategy
from lifetime.errors import AssessmentError
from lifetime.packs.climate import is_hourly
from lifetime.results.records import Lever, StrategyResult
from lifetime.study.load import LoadedStudy
from lifetime.study.schema import Study

_SLOWER: Final = 0.5
_LESS_CHARGE: Final = 0.10
_COOLER_K: Final = 5.0
_MORE_CELLS: Final = 1.2


def levers(loaded: LoadedStudy, best: StrategyResult) -> tuple[Lever, ...]:
    """Assess the best strategy again with one thing changed at a time.

    Args:
        loaded: The study with everything it names.
        best: The strategy with the lowest cost.

    Returns:
        One for each thing that the study can change: half the charging rate, a tenth less charge, charging that ends
        when the drive begins, 5 K cooler surroundings, a fifth more cells. A change with which the day cannot be
        driven is left out.
    """
    strategy = next(one for one in loaded.study.strategy if one.name == best.name)
    found = []
    for words, changed in _changed(loaded.seen_by(best.name)):
        try:
            result = assess_strategy(resolve_setups(changed), strategy, in_detail=False).result
        except AssessmentError:
            continue
        cost = result.life_cycle_cost
        found.append(Lever(words, result.battery.life_years, None if cost is None else cost.net_present_cost))
    return tuple(found)


def _changed(loaded: LoadedStudy) -> Iterator[tuple[str, LoadedStudy]]:
    study, day = loaded.study, loaded.study.service.day
    if day.charge_c_rate is not None and day.charge_to_soc is not None:
        rate, target = _SLOWER * day.charge_c_rate, day.charge_to_soc - _LESS_CHARGE
        yield f"charging at {rate:.3g} C", replace(loaded, study=_day(study, charge_c_rate=rate))
        if target >= study.battery.minimum_soc:
            less = _day(study, charge_to_soc=target)
            start = min(study.battery.start_soc, target)
            yield f"charging to {100.0 * target:.3g} %", replace(loaded, study=_battery(less, start_soc=start))
        # By the hours of a weather file another hour of the drive would be a second change.
        starts = day.drive_starts_at_hour if is_hourly(loaded.ambient_K) else day.drive_starts_at_hour or 0.0
        if day.charge_ends_at_hour is None and starts is not None:
            late = _day(study, drive_starts_at_hour=starts, charge_ends_at_hour=starts)
            yield "charging just before the drive", replace(loaded, study=late)
    yield f"{_COOLER_K:g} K cooler surroundings", replace(loaded, ambient_K=loaded.ambient_K - _COOLER_K)
    cells = study.battery.parallel * _MORE_CELLS
    if round(cells) > study.battery.parallel:
        words = f"{round(cells)} cells in parallel"
        yield words, replace(loaded, study=_battery(study, parallel=round(cells)))


def _day(study: Study, **keys: Any) -> Study:
    day = study.service.day.model_copy(update=keys)
    return study.model_copy(update={"service": study.service.model_copy(update={"day": day})})


def _battery(study: Study, **keys: Any) -> Study:
    return study.model_copy(update={"battery": study.battery.model_copy(update=keys)})
