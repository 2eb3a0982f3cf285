"""What a study may say its columns mean; expected values by hand or from closed forms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from lifetime.errors import HistoryError
from lifetime.history.mapping.derived_quantities import Derivation
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

MODES = {"mode": "mode", "charge_modes": ["CHRG"], "discharge_modes": ["DCHG"]}


def test_the_mode_gives_the_sign(write, read, gather):
    path = write("time_s,current_A,mode\n0,5,DCHG\n1,0,REST\n2,3,CHRG\n3,-2,CHRG\n")
    history = read(path, **MODES)
    assert gather(history)["current_A"].tolist() == [5.0, 0.0, -3.0, -2.0]
    assert any("give the sign" in one for one in history.record.meaning)


def test_a_current_without_a_sign_is_refused(write, read):
    with pytest.raises(HistoryError, match='mode is "PAUS"') as caught:
        read(write("time_s,current_A,mode\n0,5,DCHG\n1,2,PAUS\n"), **MODES)
    assert caught.value.row == 3
    at_rest = read(write("time_s,current_A,mode\n0,5,DCHG\n1,0.01,PAUS\n"), rest_modes=["PAUS"], **MODES)
    assert next(at_rest.blocks()).current_A.tolist() == [5.0, 0.0]
    with pytest.raises(HistoryError, match="mode was expected"):
        read(write("time_s,current_A,mode\n0,5,DCHG\n1,2,\n"), **MODES)


def test_charge_and_discharge_in_columns_of_their_own(write, read, gather):
    path = write("time_s,ic_A,id_A\n0,0,5\n1,0,0\n2,3,0\n")
    keys = {"current": None, "charge_current": "ic_A", "discharge_current": "id_A"}
    assert gather(read(path, **keys))["current_A"].tolist() == [5.0, 0.0, -3.0]
    with pytest.raises(HistoryError, match="is negative") as caught:
        read(write("time_s,ic_A,id_A\n0,0,5\n1,-3,0\n"), **keys)
    assert caught.value.row == 3


def test_current_from_power_and_voltage(write, read, gather):
    path = write("time_s,p_kW,u_V\n0,35,350\n1,-17.5,350\n2,0,350\n")
    history = read(path, power="p_kW", voltage="u_V", current_from_power=True)
    assert (history.driven_by, gather(history)["power_W"]) == ("current", None)
    assert gather(history)["current_A"].tolist() == [100.0, -50.0, 0.0]
    with pytest.raises(HistoryError, match="not above zero"):
        read(write("time_s,p_kW,u_V\n0,35,350\n1,35,0\n"), power="p_kW", voltage="u_V", current_from_power=True)


def test_quantities_of_a_cell_stand_for_the_pack(write, gather):
    path = write("time_s,current_A,u_V\n0,2,3.5\n1,-1,3.6\n")
    spec = HistoryInput(file=path.name, time="time_s", current="current_A", voltage="u_V", quantities_of="cell")
    values = gather(open_history(spec, path.parent, series=100, parallel=40))
    assert values["current_A"].tolist() == [80.0, -40.0]
    assert values["voltage_V"].tolist() == [350.0, 360.0]
    power = HistoryInput(file=path.name, time="time_s", power="current_A", power_unit=None, quantities_of="cell")
    with pytest.raises(HistoryError, match="not a unit of power"):
        open_history(power, path.parent, series=100, parallel=40)


def test_an_offset_is_taken_away_and_recorded(write, read, gather):
    # The sensor reads 0.5 A too much while discharging counts negative: -9.5 stands for 10 A drawn.
    path = write("time_s,current_A\n0,-9.5\n1,0.5\n")
    history = read(path, discharge_is="negative", current_offset_A=-0.5)
    assert gather(history)["current_A"].tolist() == [10.0, 0.0]
    assert any("-0.5 A were subtracted" in one for one in history.record.meaning)


class TestThreePhases:
    """The DC power of an inverter without loss is the instantaneous sum of its phases' products."""

    TIME = np.linspace(0.0, 0.1, 501)

    def phases(self, amplitude, lag=0.0):
        return [amplitude * np.cos(2 * np.pi * 50 * self.TIME - 2 * np.pi * k / 3 - lag) for k in range(3)]

    def apply(self, voltages, currents, **keys):
        roles = {"time": self.TIME}
        roles |= {f"phase_current_{k}": values for k, values in enumerate(currents, start=1)}
        roles |= {f"phase_voltage_{k}": values for k, values in enumerate(voltages, start=1)}
        return Derivation(**keys).apply(roles, None)["power"]

    @pytest.mark.parametrize("lag", [0.0, 0.3, np.pi / 2, 2.5])
    def test_balanced_sinusoids_give_a_constant(self, lag):
        # 3/2 U I cos(phi) at every instant, for amplitudes U and I: any textbook on electrical machines.
        power = self.apply(self.phases(300.0), self.phases(200.0, lag))
        np.testing.assert_allclose(power, 1.5 * 300.0 * 200.0 * np.cos(lag), rtol=1e-12, atol=1e-9)

    @settings(deadline=None, max_examples=30)
    @given(seed=st.integers(0, 2**32 - 1))
    def test_two_conductors_against_the_third(self, seed):
        # Blondel's theorem (1893): with currents that sum to zero two products measure the whole power.
        rng = np.random.default_rng(seed)
        u = rng.normal(0.0, 300.0, (3, self.TIME.size))
        i = rng.normal(0.0, 200.0, (3, self.TIME.size))
        i[2] = -i[0] - i[1]
        whole = self.apply(u, i)
        two = self.apply([u[0] - u[2], u[1] - u[2]], i[:2])
        np.testing.assert_allclose(two, whole, rtol=1e-9, atol=1e-6)

    def test_from_a_file_with_ripple_and_all(self, write, read, gather):
        rows = "".join(f"{t},{a},{b},{-a - b},{2 * a},{b},{a}\n" for t, a, b in [(0, 1.5, 2.0), (0.1, -3.0, 0.5)])
        path = write("time_s,ia_A,ib_A,ic_A,va_V,vb_V,vc_V\n" + rows)
        keys = {"phase_currents": ["ia_A", "ib_A", "ic_A"], "phase_voltages": ["va_V", "vb_V", "vc_V"]}
        history = read(path, current=None, **keys)
        # 1.5*3 + 2*2 - 3.5*1.5 and -3*-6 + 0.5*0.5 + 2.5*-3
        assert gather(history)["power_W"].tolist() == [3.25, 10.75]
        assert history.driven_by == "power"
        assert "three" not in history.record.meaning[0]
        assert gather(read(path, current=None, discharge_is="negative", **keys))["power_W"][0] == -3.25


class TestRestartsAndSpikes:
    def test_time_that_starts_anew_at_every_step(self, write, read, gather):
        path = write("time_s,current_A\n0,1\n1,2\n2,3\n0,4\n1,5\n0,6\n3,7\n")
        history = read(path, clean=["join_restarts"])
        assert gather(history)["time_s"].tolist() == [0.0, 1.0, 2.0, 2.0, 3.0, 3.0, 6.0]
        assert {one.name: (one.count, one.first_row) for one in history.record.steps} == {"join_restarts": (2, 5)}
        assert "join_restarts" in {notice.code for notice in history.notices}

    def test_spikes_are_left_out_and_counted(self, write, read, gather):
        current = [10.0 + k % 5 for k in range(200)]
        current[77] = 5000.0
        path = write("time_s,current_A\n" + "".join(f"{k},{i}\n" for k, i in enumerate(current)))
        history = read(path, clean=["drop_spikes"])
        assert gather(history)["current_A"].max() == 14.0
        assert {one.name: (one.count, one.first_row) for one in history.record.steps} == {"drop_spikes": (1, 79)}
        assert gather(read(path))["current_A"].max() == 5000.0

    def test_a_pulse_of_two_rows_is_no_spike(self, write, read, gather):
        current = [10.0 + k % 5 for k in range(200)]
        current[77] = current[78] = 400.0
        path = write("time_s,current_A\n" + "".join(f"{k},{i}\n" for k, i in enumerate(current)))
        assert gather(read(path, clean=["drop_spikes"]))["current_A"].max() == 400.0


@pytest.mark.parametrize(
    ("shows", "stated", "code"),
    [(1, "positive", "sign_agrees"), (1, "negative", "sign_disagrees"), (-1, "negative", "sign_agrees")],
)
def test_the_sign_stated_is_held_against_the_voltage(write, read, shows, stated, code):
    # An invented pack of 0.1 Ω: its voltage falls by 0.1 V an ampere drawn.
    rows = "".join(f"{k},{shows * (20 + 10 * (k % 2))},{360 - 0.1 * (20 + 10 * (k % 2))}\n" for k in range(50))
    history = read(write("time_s,current_A,u_V\n" + rows), voltage="u_V", discharge_is=stated)
    assert code in {notice.code for notice in history.notices}


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ({"charge_current": "c"}, "exactly one"),
        ({"current": None, "charge_current": "c"}, "belong together"),
        ({"current": None, "phase_currents": ["a", "b", "c"]}, "belong together"),
        ({"current": None, "phase_currents": ["a", "b"], "phase_voltages": ["u", "v", "w"]}, "equally many"),
        ({"current": None, "phase_currents": ["a"], "phase_voltages": ["u"]}, "at least 2"),
        ({"current_from_power": True}, "current_from_power needs"),
        ({"current": None, "power": "p", "current_from_power": True}, "current_from_power needs"),
        ({"mode": "m"}, "give all three"),
        ({"mode": "m", "charge_modes": ["x"], "discharge_modes": ["x"]}, "share a word"),
        ({"date": "d"}, "belong together"),
        ({"date": "d", "date_format": "iso"}, "time_format says"),
        ({"time_unit": "s", "time_format": "iso"}, "not both"),
        ({"time_zone": "Europe/Berlin"}, "time_format"),
        ({"time_format": "iso", "time_zone": "Middle/Earth"}, "IANA"),
        ({"current": None, "power": "p", "current_offset_A": 1.0}, "needs a current"),
        ({"clean": ["join_restarts", "sort_by_time"]}, "contradict"),
        ({"header_row": -1}, "greater than or equal to 0"),
        ({"decimal": ";"}, "decimal"),
    ],
)
def test_statements_that_do_not_fit(keys, expected):
    with pytest.raises(ValidationError, match=expected):
        HistoryInput(**({"file": "a", "time": "t", "current": "i"} | keys))
