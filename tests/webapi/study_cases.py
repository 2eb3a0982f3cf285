"""Studies drawn for the fuzz run: mostly within the schema's bounds and at their ends, some of the wrong type."""

import math

from lifetime.study.outline import outline, variants
from lifetime.study.schema import Strategy, Study

KEYS = dict(outline(Study, without=frozenset({"strategy"})).walk())
SPLITS = variants(Strategy, "split")
HOSTILE = [
    None,
    True,
    "",
    "x" * 3_000,
    "\x00",
    "\x1b[2J\u202e\r\n\t",
    "\U0001f50b\ufffd\u0301",
    "<script>alert(1)</script>",
    "../../etc/passwd",
    [],
    {},
    [[[]]],
    {"a": {"b": 1}},
    "5",
    -1,
    0,
    -0.0,
    5e-324,
    1e308,
    -1e308,
    10**30,
    [1.0] * 2_000,
]
INSTEAD = {"climate": "ambient_C", "purchase_per_kWh": "purchase", "purchase_per_farad_cell": "purchase"}
"""A key and the one that must go where it comes."""
WITH = {
    "charge_c_rate": {"charge_to_soc": 0.9},
    "charge_to_soc": {"charge_c_rate": 0.5},
    "linear_V": {"voltage_V": 350.0},
    "quadratic_ohm": {"voltage_V": 350.0},
}
"""A key and what must come with it."""
CELLS = ["lfp_naumann_2020", "lfp_schimpe_2018", "nmc_schmalstieg_2014", "lmo_xu_2018", "lfp_power_wang_2011"]


def case(draw, histories):
    """One study as plain data.

    ``draw`` is a ``random.Random``; ``histories`` maps ``demand``, ``battery``, ``ultracapacitor`` and ``speed`` to
    history entries.
    """
    study = _plain(draw, histories)
    keys = list(KEYS)
    for _ in range(draw.choice((0, 1, 1, 1, 2, 2, 3))):
        path = draw.choice(keys)
        _put(study, path, value(draw, KEYS[path]))
    for strategy in study["strategy"]:
        rule = strategy.get("split", {}).get("rule")
        for path, key in SPLITS[rule].walk() if rule in SPLITS else ():
            if draw.random() < 0.15:
                _put(strategy["split"], path, value(draw, key))
    if draw.random() < 0.05:
        study["strategy"] *= draw.choice((2, 30, 60))
    if draw.random() < 0.05:
        _drop(draw, study)
    if draw.random() < 0.05:
        draw.choice(study["strategy"])[draw.choice(["name", "demand", "battery", "colour"])] = draw.choice(HOSTILE)
    if draw.random() < 0.05:
        entry = draw.choice(list(histories.values()))
        study["strategy"][0]["demand"] = {**entry, draw.choice(list(entry)): draw.choice(HOSTILE)}
    return study


def value(draw, key):
    """A value for a key: an end of its bounds or inside them, near its example, or something hostile."""
    kind = draw.random()
    if kind < 0.04:
        return draw.choice(HOSTILE)
    if key.kind == "yes_no":
        return draw.random() < 0.5
    if key.kind == "choice":
        return draw.choice(key.choices)
    if key.kind in {"number", "integer"}:
        number = _number(draw, key)
        return max(-(2**62), min(2**62, round(number))) if key.kind == "integer" else number
    if key.kind == "numbers":
        numbers = [_number(draw, key) for _ in range(draw.choice((1, 2, 5, 12, 12)))]
        return sorted(numbers) if draw.random() < 0.7 else numbers
    return key.example


def _number(draw, key):
    low = key.bounds.get("ge", key.bounds.get("gt", -1e12))
    high = key.bounds.get("le", key.bounds.get("lt", 1e12))
    kind = draw.random()
    if kind < 0.15:
        return low
    if kind < 0.3:
        return high
    if kind < 0.33:
        return draw.choice((math.nextafter(low, high), math.nextafter(high, low), math.nextafter(low, -math.inf)))
    if kind < 0.7 and isinstance(key.example, (int, float)) and key.example:
        return min(high, max(low, key.example * 10.0 ** draw.uniform(-3.0, 3.0)))
    if low >= 0.0 and high > 0.0:
        return min(high, max(low, 10.0 ** draw.uniform(math.log10(max(low, high * 1e-15)), math.log10(high))))
    return draw.uniform(low, high)


def _plain(draw, histories):
    study = {
        "title": "Fuzz",
        "service": {"years": draw.choice((1, 10, 50)), "working_days_per_year": 250, "ambient_C": 25},
        "battery": {
            "cell": draw.choice(CELLS),
            "series": 100,
            "parallel": 20,
            "start_soc": 0.8,
            "thermal": {"resistance_K_per_W": 0.01, "heat_capacity_J_per_K": 1e5},
            "price": {"purchase": 10_000},
        },
        "cost": {"currency": "EUR", "discount_rate": 0.05},
    }
    if draw.random() < 0.5:
        study["service"]["day"] = {"drive_repeats": 2, "charge_c_rate": 0.5, "charge_to_soc": 0.9}
    way = draw.choice(("alone", "given", "demand", "demand", "demand", "speed"))
    if way != "alone":
        study["ultracapacitor"] = {
            "cell": "edlc_3000F_10K_0p2V",
            "series": 150,
            "parallel": 1,
            "start_voltage_V": 350,
            "minimum_voltage_V": 180,
            "rest_voltage_V": 200,
            "thermal": {"resistance_K_per_W": 0.02, "heat_capacity_J_per_K": 1e5},
            "price": {"purchase": 5_000},
        }
    if way == "alone":
        study["strategy"] = [{"name": "a", "battery": histories["battery"]}]
    elif way == "given":
        study["strategy"] = [
            {"name": "a", "battery": histories["battery"], "ultracapacitor": histories["ultracapacitor"]}
        ]
    else:
        name = "speed" if way == "speed" else "demand"
        if way == "speed":
            study["vehicle"] = {"mass_kg": 1_500, "rolling_resistance": 0.01, "drag_area_m2": 0.6}
        left_out = {"function"} if way == "speed" else {"function", "voltage_target"}
        rules = draw.sample([rule for rule in SPLITS if rule not in left_out], draw.choice((1, 2)))
        study["strategy"] = [
            {"name": rule, "demand": histories[name], "split": _example(SPLITS[rule], rule)} for rule in rules
        ]
    return study


def _example(section, rule):
    return {"rule": rule, **{key.key: key.example for key in section.keys if key.example is not None}}


def _put(study, path, given):
    target, lead = study, ""
    *sections, key = path.split(".")
    for name in sections:
        lead = f"{lead}{name}."
        if name not in target:
            # A section that was not there needs its other keys, too.
            inside = {one.removeprefix(lead): key for one, key in KEYS.items() if one.startswith(lead)}
            target[name] = {one: key.example for one, key in inside.items() if key.required and "." not in one}
        inner = target[name]
        if not isinstance(inner, dict):
            return
        target = inner
    target.pop(INSTEAD.get(key), None)
    for other, example in WITH.get(key, {}).items():
        target.setdefault(other, example)
    target[key] = given


def _drop(draw, study):
    section = draw.choice([one for one in study.values() if isinstance(one, dict)])
    if section:
        del section[draw.choice(list(section))]
