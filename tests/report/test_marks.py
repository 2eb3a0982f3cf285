"""What a ranking marks, on a changed copy of the demo's document: expected words are typed in."""

from io import StringIO

import pytest
from rich.console import Console

from lifetime.report.html import report_html
from lifetime.report.page.feasibility import feasibility_rows
from lifetime.report.page.marks import apart_words, mark_sentences, marks
from lifetime.report.page.ranking import answer
from lifetime.report.table import print_ranking
from lifetime.results.conventions import ConventionOrder, Indistinct


@pytest.fixture
def three(demo):
    """The demo's first three strategies as A, B and C, nothing marked."""
    named = []
    for rank, one in enumerate(demo.document.strategies[:3], start=1):
        served = tuple(
            condition.model_copy(update={"friction_kWh": 0.0, "is_met": True}) for condition in one.feasibility
        )
        update = {"name": "ABC"[rank - 1], "rank": rank, "not_ranked_reason": None, "feasibility": served}
        named.append(one.model_copy(update=update))
    order = ConventionOrder(same_order=True, swaps=(), indistinct=())
    return demo.document.model_copy(update={"strategies": tuple(named), "convention_order": order})


def changed(document, name, **update):
    strategies = [one.model_copy(update=update) if one.name == name else one for one in document.strategies]
    return document.model_copy(update={"strategies": tuple(strategies)})


def alike(document, *pairs):
    found = tuple(Indistinct(reason="equal", strategies=pair, lives_without_limits_years=None) for pair in pairs)
    order = ConventionOrder(same_order=True, swaps=(), indistinct=found)
    return document.model_copy(update={"convention_order": order})


def with_friction(document, name, kWh):
    new, *later = next(one.feasibility for one in document.strategies if one.name == name)
    new = new.model_copy(update={"friction_kWh": kWh, "traction_kWh": 50.0})
    return changed(document, name, feasibility=(new, *later))


def text(document):
    out = StringIO()
    print_ranking(document, Console(file=out, width=80))
    return " ".join(out.getvalue().split())


def test_nothing_is_marked_without_reason(three):
    assert set(marks(three).values()) == {""}
    assert (mark_sentences(three), apart_words(three)) == ([], {})


def test_each_of_a_pair_names_the_ranks_of_the_others(three):
    document = alike(three, ("A", "B"), ("C", "A"))
    assert apart_words(document) == {"A": "2 and 3", "B": "1", "C": "1"}
    assert marks(document) == {"A": "*", "B": "*", "C": "*"}
    assert "≈ 2 and 3 in battery life" in text(document)
    assert "battery life not told apart from 2 and 3" in report_html(document)
    assert answer(document).endswith("The ageing model cannot tell the two apart by battery life.")
    assert "cannot tell" not in answer(alike(three, ("B", "C")))


def test_what_is_not_ranked_says_why(three):
    reason = "driving takes 2 h, not 3 h a day"
    document = changed(
        changed(three, "B", rank=None, not_ranked_reason=reason), "C", rank=None, not_ranked_reason=reason
    )
    assert mark_sentences(document) == [f"† Not ranked: “B” and “C”; {reason}."]
    assert marks(document)["B"] == "†"
    for told in (text(document), report_html(document)):
        assert f"† Not ranked: “B” and “C”; {reason}." in told
    # An older result has a flag alone.
    old = changed(three, "B", rank=None, breaks_limit=True)
    assert mark_sentences(old) == [
        "† Not ranked: “B”; a source breaks a limit of voltage or current at the beginning of life."
    ]
    assert apart_words(alike(old, ("A", "B"))) == {"A": "“B”", "B": "1"}


def test_where_nothing_is_ranked_the_answer_says_so(three):
    document = three
    for name in "ABC":
        document = changed(document, name, rank=None, not_ranked_reason="two duties are equally common")
    assert answer(document) == "No strategy is ranked: two duties are equally common."


def test_braking_to_the_friction_brakes_is_marked_beyond_a_thousandth_of_the_traction(three):
    assert marks(with_friction(three, "B", 0.05))["B"] == ""
    document = with_friction(three, "B", 1.0)
    assert marks(document)["B"] == "‡"
    assert mark_sentences(document) == [
        "‡ “B” leaves 1 kWh of braking per day (2 % of the traction) to the friction brakes; it is bought again."
    ]


def test_a_demand_that_is_not_served_later_is_marked(three):
    new, end, cold = next(one.feasibility for one in three.strategies if one.name == "B")
    end = end.model_copy(update={"is_met": False, "unserved_kWh": 0.0})
    cold = cold.model_copy(update={"is_met": False, "unserved_kWh": 2.93})
    document = changed(three, "B", feasibility=(new, end, cold))
    assert marks(document)["B"] == "§"
    (said,) = mark_sentences(document)
    assert said.startswith("§ “B” does not meet its requirement at the end of life and in the coldest month (2.93 kWh ")


def test_the_demand_served_is_told_in_each_condition(three):
    new, end, cold = three.strategies[0].feasibility
    end = end.model_copy(
        update={
            "is_met": False,
            "unserved_kWh": 0.5,
            "unserved_s": 12.0,
            "largest_gap_W": 44_800.0,
            "largest_gap_at_s": 600.0,
            "friction_kWh": 2e-5,
            "needed_kWh": 49.2,
            "held_kWh": 50.8,
        }
    )
    (name, rows), *_ = feasibility_rows(changed(three, "A", feasibility=(new, end, cold)))
    assert name == "A"
    assert [one.condition for one in rows] == ["beginning of life", "end of life", "coldest month"]
    assert (rows[1].requirement, rows[1].cells) == (
        "not met",
        ("0.5", "12", "44.8", "600", "< 0.001", "49.2", "50.8"),
    )
    assert rows[0].cells[:4] == ("0", "0", "–", "–")
    assert (
        feasibility_rows(
            changed(changed(changed(three, "A", feasibility=()), "B", feasibility=()), "C", feasibility=())
        )
        == []
    )
