"""What README and DEVELOPERS promise is what the tree holds."""

import re
from pathlib import Path

import pytest

from lifetime.packs.locate import shipped_ids

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def shell_lines(text):
    return [line for block in re.findall(r"```sh\n(.*?)```", text, re.DOTALL) for line in block.splitlines() if line]


def test_readme_opens_with_one_paragraph_that_states_the_job():
    title, paragraph = README.split("\n\n")[:2]
    assert title == "# packwear"
    for word in ("how long", "battery", "ultracapacitor", "cost", "sure", "strategy"):
        assert word in paragraph


def test_ci_runs_exactly_the_test_command_of_the_readme():
    command = shell_lines(README)[1]
    assert "pytest" in command
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert command in script


@pytest.mark.parametrize("folder", ["batteries", "ultracapacitors", "climates"])
def test_every_shipped_set_is_named_in_the_readme(folder):
    for name in shipped_ids(folder):
        assert f"`{name}`" in README, f"profiles/{folder}/{name} is not named in README.md"


def test_every_room_is_named_in_developers():
    for path in sorted((ROOT / "lifetime").iterdir()):
        if path.is_dir() and path.name != "__pycache__":
            assert f"`lifetime/{path.name}/`" in DEVELOPERS, f"lifetime/{path.name} is not explained"


def test_cautions_stand_in_the_readme():
    for word in ("high voltage", "maker", "qualified", "local"):
        assert word in README.lower()


def test_every_key_of_the_study_file_is_in_the_readme():
    from lifetime.history.spec import HistoryInput
    from lifetime.study import sections, split
    from lifetime.study.schema import Strategy, Study

    models = [
        Study,
        Strategy,
        HistoryInput,
        *(one for module in (sections, split) for one in vars(module).values() if isinstance(one, type)),
    ]
    for model in models:
        for key in getattr(model, "model_fields", {}):
            assert re.search(rf"\b{key}\b", README), f"the study key {key} ({model.__name__}) is not in README.md"
