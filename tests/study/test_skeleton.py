"""The study to edit: TOML with a question mark for what only a person knows, and nothing else at fault."""

import tomllib

import pytest

from lifetime.packs.locate import shipped_ids
from lifetime.study.load import Folder, resolve_study
from lifetime.study.paths import leaves, path_words
from lifetime.study.skeleton import skeleton

CURRENT = '{ file = "log.csv", time = "t_s", current = "i_A" }'
POWER = '{ file = "log.csv", time = "t_s", power = "p_W" }'
SPEED = '{ file = "log.csv", time = "t_s", speed = "v [km/h]" }'

TO_FILL_IN = {
    "title": "Mine",
    "battery.cell": "lfp_naumann_2020",
    "battery.series": 100,
    "battery.parallel": 2,
    "battery.price.purchase_per_kWh": 150,
}
BANK_TO_FILL_IN = {
    "ultracapacitor.cell": "edlc_3000F_10K_0p2V",
    "ultracapacitor.series": 100,
    "ultracapacitor.parallel": 1,
    "ultracapacitor.start_voltage_V": 200,
    "ultracapacitor.minimum_voltage_V": 120,
    "ultracapacitor.rest_voltage_V": 150,
    "ultracapacitor.price.purchase_per_farad_cell": 0.01,
}
VEHICLE_TO_FILL_IN = {"vehicle.mass_kg": 1500, "vehicle.rolling_resistance": 0.01, "vehicle.drag_area_m2": 0.6}

KINDS = [
    pytest.param(CURRENT, {"is_demand": False}, TO_FILL_IN, id="current"),
    pytest.param(POWER, {"is_demand": True}, TO_FILL_IN | BANK_TO_FILL_IN, id="power"),
    pytest.param(
        SPEED,
        {"is_demand": True, "by_speed": True},
        TO_FILL_IN | BANK_TO_FILL_IN | VEHICLE_TO_FILL_IN,
        id="speed",
    ),
]


@pytest.mark.parametrize(("history", "kind", "to_fill_in"), KINDS)
def test_the_question_marks_are_what_only_a_person_knows(history, kind, to_fill_in):
    data = tomllib.loads(skeleton(history, **kind))
    assert sorted(path_words(path) for path, value in leaves(data) if value == "?") == sorted(to_fill_in)


@pytest.mark.parametrize(("history", "kind", "to_fill_in"), KINDS)
def test_filled_in_it_is_a_sound_study(tmp_path, history, kind, to_fill_in):
    data = tomllib.loads(skeleton(history, **kind))
    for place, value in to_fill_in.items():
        *way, last = place.split(".")
        section = data
        for step in way:
            section = section[step]
        section[last] = value
    (tmp_path / "log.csv").write_text("t_s,i_A,p_W,v [km/h]\n0,1,1,1\n1,2,2,2\n2,1,1,1\n", encoding="utf-8")
    found = resolve_study(data, "mine", Folder(tmp_path))
    (strategy,) = found.study.strategy
    assert list(strategy.inputs()) == ["demand" if kind["is_demand"] else "battery"]
    assert strategy.name == ("Battery alone" if kind["is_demand"] else "As recorded")
    assert len(found.histories) == 1


@pytest.mark.parametrize(("history", "kind"), [(CURRENT, {"is_demand": False}), (POWER, {"is_demand": True})])
def test_shipped_sets_are_named_beside_their_keys(history, kind):
    text = skeleton(history, **kind)
    lines = {line.split(" = ")[0].lstrip("# ") + str(at): line for at, line in enumerate(text.splitlines())}
    named = [line for key, line in lines.items() if "one of:" in line]
    wanted = ["climates", "batteries"] + (["ultracapacitors"] if kind["is_demand"] else [])
    assert len(named) == len(wanted)
    for line, folder in zip(named, wanted, strict=True):
        assert ", ".join(shipped_ids(folder)) in line


def test_a_file_longer_than_a_days_drive_is_a_log_of_everything():
    """28.3 h of a cycler hold its charging; a day of 24 h would be refused."""
    service = tomllib.loads(skeleton(CURRENT, is_demand=False, length_s=102_040.0))["service"]
    assert service["histories_cover"] == "everything"
    assert not {"day", "working_days_per_year"} & service.keys()
