"""From a study file to everything it names: opened once, or every fault at once."""

import hashlib
import math
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from lifetime.errors import HistoryError, InputError, StudyError
from lifetime.packs.load import load_cell
from lifetime.study.load import Folder, load_study, read_toml, resolve_study

CURRENT = {"file": "log.csv", "time": "t_s", "current": "i_A"}
OTHER = {"file": "other.csv", "time": "t_s", "current": "i_A"}
POWER = {"file": "log.csv", "time": "t_s", "power": "p_W"}
# The setpoint of the bank's voltage, as a strategy names it.
SETPOINT, SETPOINT_TIME = "ultracapacitor_setpoint_V", "ultracapacitor_setpoint_time_constant_s"


class Shelf:
    """Keeps what was asked of it; refuses what it is told to; histories last an hour unless told otherwise."""

    def __init__(self, *refused, lasting=None):
        self.refused = refused
        self.lasting = lasting or {}
        self.asked = []

    def _look(self, kind, name, *more):
        self.asked.append((kind, name, *more))
        if name in self.refused:
            if kind == "history":
                raise HistoryError("is broken.", file=name, remedy="Mend it.")
            raise InputError(f"{name} is not there.")
        return object()

    def cell(self, name, kind):
        self._look(kind, name)
        return load_cell(name, kind, Path())

    def climate(self, given):
        self._look("climate", given)
        return np.full(12, 293.15)

    def history(self, spec, *, series, parallel):
        self._look("history", spec.file, series, parallel)
        return SimpleNamespace(duration_s=self.lasting.get(spec.file, 3600.0))

    def function(self, file, name):
        return self._look("function", file, name), "hash"

    def of(self, kind):
        return [one[1:] for one in self.asked if one[0] == kind]


@pytest.fixture
def resolve(change):
    """Function from changes and shelf to the loaded study."""
    return lambda changes, shelf=None: resolve_study(change(changes), "study.toml", shelf or Shelf())


@pytest.fixture
def refusals(resolve):
    """Function from changes and shelf to place and message of every fault."""

    def run(changes, shelf=None):
        with pytest.raises(StudyError) as refused:
            resolve(changes, shelf)
        assert refused.value.file == "study.toml"
        return [(one.place, one.message) for one in refused.value.faults]

    return run


def strategies(*parts):
    return {"strategy": [{"name": f"S{number}", **one} for number, one in enumerate(parts, start=1)]}


class TestLengthOfHistories:
    BOTH = strategies({"battery": CURRENT}, {"battery": CURRENT, "ultracapacitor": OTHER})

    def test_a_bank_of_one_hour_beside_a_battery_of_ten_is_refused(self, refusals):
        (fault,) = refusals(self.BOTH, Shelf(lasting={"log.csv": 36_000.0}))
        assert fault[0] == "strategy[2].ultracapacitor"
        assert "it lasts 3,600 s, the battery's 36,000 s" in fault[1]

    # 1 % of an hour are 36 s.
    def test_a_sample_more_or_less_is_not(self, resolve):
        assert resolve(self.BOTH, Shelf(lasting={"log.csv": 3630.0})).study.strategy[1].name == "S2"


class TestReadToml:
    def refusal(self, path):
        with pytest.raises(StudyError) as refused:
            read_toml(path)
        (fault,) = refused.value.faults
        assert (refused.value.file, fault.place) == (str(path), "file")
        return fault.message

    def test_plain_data(self, tmp_path):
        path = tmp_path / "study.toml"
        path.write_text('title = "Größe"\n[service]\nyears = 10\n', encoding="utf-8")
        assert read_toml(path) == {"title": "Größe", "service": {"years": 10}}

    def test_no_file(self, tmp_path):
        assert "does not exist" in self.refusal(tmp_path / "study.toml")

    def test_a_folder(self, tmp_path):
        assert self.refusal(tmp_path) == "cannot be read (Is a directory)."

    def test_another_encoding(self, tmp_path):
        path = tmp_path / "study.toml"
        path.write_bytes("title = 'Größe'".encode("latin-1"))
        assert "is not UTF-8 text" in self.refusal(path)

    def test_no_toml(self, tmp_path):
        path = tmp_path / "study.toml"
        path.write_text("title =", encoding="utf-8")
        assert self.refusal(path).startswith("is not valid TOML: ")

    def test_four_megabytes_are_the_most(self, tmp_path):
        path = tmp_path / "study.toml"
        path.write_bytes(b"#" * 4_000_000)
        assert read_toml(path) == {}
        path.write_bytes(b"#" * 4_000_001)
        assert "larger than 4 MB" in self.refusal(path)


class TestWhatIsOpened:
    def test_all_of_it(self, resolve):
        shelf = Shelf()
        found = resolve({}, shelf)
        assert found.study.title == "Invented"
        assert (found.battery.kind, found.ultracapacitor.kind) == ("battery", "ultracapacitor")
        assert found.ambient_K.tolist() == [293.15] * 12
        assert [spec.file for spec in found.histories] == ["log.csv"]
        assert found.functions == {}
        assert shelf.of("climate") == [(20.0,)]

    def test_a_climate_by_name(self, resolve, gone):
        shelf = Shelf()
        resolve({"service.ambient_C": gone, "service.climate": "temperate"}, shelf)
        assert shelf.of("climate") == [("temperate",)]

    def test_no_bank(self, resolve, gone):
        assert resolve({"ultracapacitor": gone}).ultracapacitor is None

    def test_a_history_named_twice_is_opened_once(self, resolve):
        shelf = Shelf()
        resolve(strategies({"battery": CURRENT}, {"battery": CURRENT}, {"battery": OTHER}), shelf)
        assert [one[0] for one in shelf.of("history")] == ["log.csv", "other.csv"]

    def test_a_source_s_history_is_read_for_its_own_pack(self, resolve):
        shelf = Shelf()
        packs = {"battery.series": 90, "battery.parallel": 3, "ultracapacitor.series": 80, "ultracapacitor.parallel": 4}
        resolve({**packs, **strategies({"battery": CURRENT, "ultracapacitor": OTHER})}, shelf)
        assert shelf.of("history") == [("log.csv", 90, 3), ("other.csv", 80, 4)]

    def test_the_user_s_own_function(self, resolve):
        shelf = Shelf()
        own = {"rule": "function", "file": "own.py", "name": "half"}
        found = resolve(strategies({"demand": POWER, "split": own}), shelf)
        assert shelf.of("function") == [("own.py", "half")]
        assert found.functions["own.py", "half"][1] == "hash"

    def test_a_capacity_of_its_own_takes_the_place_of_the_set_s(self, resolve):
        assert resolve({"battery.cell_capacity_Ah": 7.5}).battery.rated_capacity_Ah == 7.5

    def test_a_curve_of_its_own_takes_the_place_of_the_set_s(self, resolve):
        curve = {"battery.open_circuit": {"soc": [0.0, 1.0], "voltage_V": [3.0, 4.0], "label": "measured"}}
        # Half way along a straight line from 3 V to 4 V.
        assert float(resolve(curve).battery.open_circuit(0.5)) == pytest.approx(3.5)


class TestFaultsAtOnce:
    def test_everything_it_names(self, refusals, gone):
        shelf = Shelf("lfp_naumann_2020", "edlc_3000F_10K_0p2V", "polar", "log.csv", "own.py")
        own = {"demand": POWER, "split": {"rule": "function", "file": "own.py", "name": "half"}}
        changes = {"service.ambient_C": gone, "service.climate": "polar", **strategies(own)}
        assert dict(refusals(changes, shelf)) == {
            "battery.cell": "lfp_naumann_2020 is not there.",
            "ultracapacitor.cell": "edlc_3000F_10K_0p2V is not there.",
            "service.climate": "polar is not there.",
            "strategy[1].demand": "log.csv: is broken. Mend it.",
            "strategy[1].split": "own.py is not there.",
        }

    def test_faults_of_the_schema_and_of_files_together(self, refusals):
        found = refusals({"cost.discount_rate": -1.0}, Shelf("log.csv", "lfp_naumann_2020"))
        assert [place for place, _ in found] == ["cost.discount_rate", "battery.cell", "strategy[1].demand"]

    def test_a_section_at_fault_is_not_opened(self, refusals):
        shelf = Shelf()
        found = refusals({"battery.series": 0, "ultracapacitor.series": 0, "service.years": 0}, shelf)
        assert [place for place, _ in found] == ["service.years", "battery.series", "ultracapacitor.series"]
        assert shelf.asked == [("history", "log.csv", 1, 1)]

    def test_a_history_named_twice_is_complained_of_once(self, refusals):
        shelf = Shelf("log.csv")
        found = refusals(strategies({"battery": CURRENT}, {"battery": CURRENT}), shelf)
        assert [place for place, _ in found] == ["strategy[1].battery"]
        assert len(shelf.of("history")) == 1

    @pytest.mark.parametrize("given", [3, {"name": "alone"}, [3], [{"battery": "log.csv", "split": "low_pass"}]])
    def test_strategies_that_are_none(self, refusals, given):
        assert any(place.startswith("strategy") for place, _ in refusals({"strategy": given}))

    def test_question_marks_come_first(self, refusals):
        found = refusals({"cost.discount_rate": -1.0, "battery.cell": "?"}, Shelf("?"))
        assert [place for place, _ in found] == ["battery.cell", "cost.discount_rate"]

    def test_a_curve_that_does_not_rise(self, refusals):
        (found,) = refusals({"battery.open_circuit": {"soc": [0.0, 1.0], "voltage_V": [4.0, 3.0]}})
        assert found[0] == "battery.cell"


class TestVoltagesOfTheBank:
    """100 cells; what they allow follows from the shipped set's own limit."""

    @pytest.fixture
    def most(self):
        return 100 * load_cell("edlc_3000F_10K_0p2V", "ultracapacitor", Path()).maximum_voltage_V

    @pytest.mark.parametrize("key", ["maximum_voltage_V", "start_voltage_V", "rest_voltage_V"])
    def test_none_exceeds_what_the_cells_allow(self, resolve, refusals, most, key):
        resolve({f"ultracapacitor.{key}": most})
        ((place, message),) = refusals({f"ultracapacitor.{key}": most * 1.001})
        assert place == f"ultracapacitor.{key}"
        assert f"must not exceed {most:g} V (100 cells of {most / 100:g} V in series)" in message

    def test_the_start_stays_below_a_maximum_of_its_own(self, resolve, refusals):
        resolve({"ultracapacitor.maximum_voltage_V": 200.0})
        found = refusals({"ultracapacitor.maximum_voltage_V": 199.0})
        assert [place for place, _ in found] == ["ultracapacitor.start_voltage_V"]

    def test_rest_may_lie_above_the_maximum_in_use(self, resolve):
        resolve({"ultracapacitor.maximum_voltage_V": 200.0, "ultracapacitor.rest_voltage_V": 210.0})

    def test_a_setpoint_lies_in_the_window(self, resolve, refusals):
        def with_setpoint(value):
            rule = {"rule": "low_pass", "time_constant_s": 5.0, SETPOINT: value, SETPOINT_TIME: 60.0}
            parts = ({"demand": POWER, "split": {"rule": "battery_only"}}, {"demand": POWER, "split": rule})
            return {"ultracapacitor.maximum_voltage_V": 220.0, **strategies(*parts)}

        for inside in (120.0, 220.0):
            resolve(with_setpoint(inside))
        for outside in (math.nextafter(120.0, 0.0), 220.1):
            ((place, message),) = refusals(with_setpoint(outside))
            assert place == f"strategy[2].split.{SETPOINT}"
            assert "window of 120 to 220 V" in message


class TestFolder:
    """Paths in a study are relative to its own folder."""

    TEXT = 'title = "Mine"\n[service]\nyears = 10\nworking_days_per_year = 250\nclimate = "own.csv"\n'
    TEXT += '[battery]\ncell = "lfp_naumann_2020"\nseries = 10\nparallel = 1\nstart_soc = 0.9\n'
    TEXT += '[battery.price]\npurchase = 1\n[cost]\ncurrency = "EUR"\ndiscount_rate = 0.05\n'
    TEXT += '[[strategy]]\nname = "as recorded"\nbattery = { file = "log.csv", time = "t_s", current = "i_A" }\n'

    @pytest.fixture
    def study(self, tmp_path, monkeypatch):
        folder = tmp_path / "studies"
        folder.mkdir()
        (folder / "study.toml").write_text(self.TEXT, encoding="utf-8")
        (folder / "log.csv").write_text("t_s,i_A\n0,1\n1,2\n2,3\n", encoding="utf-8")
        months = "".join(f"{month},{month}\n" for month in range(1, 13))
        (folder / "own.csv").write_text(f"month,ambient_C\n{months}", encoding="utf-8")
        monkeypatch.chdir(tmp_path)
        return folder / "study.toml"

    def test_histories_and_climate(self, study):
        found = load_study(study)
        assert found.ambient_K.tolist() == pytest.approx([273.15 + month for month in range(1, 13)])
        ((spec, history),) = found.histories.items()
        assert spec.file == "log.csv"
        (block,) = history.blocks()
        assert block.current_A.tolist() == [1.0, 2.0, 3.0]

    def test_a_history_that_is_not_there(self, study):
        (study.parent / "log.csv").unlink()
        with pytest.raises(StudyError) as refused:
            load_study(study)
        assert refused.value.file == str(study)
        assert [one.place for one in refused.value.faults] == ["strategy[1].battery"]

    def test_functions(self, tmp_path):
        text = "def half(*given):\n    return 0.0, None\n"
        (tmp_path / "own.py").write_text(text, encoding="utf-8")
        function, sha256 = Folder(tmp_path).function("own.py", "half")
        assert function() == (0.0, None)
        assert sha256 == hashlib.sha256(text.encode()).hexdigest()
