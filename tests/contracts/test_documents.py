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
    from lifetime.split.losses import Loss
    from lifetime.split.rules import RULES, TableRow
    from lifetime.study import sections
    from lifetime.study.schema import Strategy, Study

    models = [
        Study,
        Strategy,
        HistoryInput,
        *(one for one in vars(sections).values() if isinstance(one, type)),
        *RULES,
        Loss,
        TableRow,
    ]
    for model in models:
        for key in getattr(model, "model_fields", {}):
            assert re.search(rf"\b{key}\b", README), f"the study key {key} ({model.__name__}) is not in README.md"


def test_every_setting_is_in_the_readme():
    from webapi.settings import PREFIX, Settings

    for name in Settings.model_fields:
        assert f"`{PREFIX}{name.upper()}`" in README, f"the setting {PREFIX}{name.upper()} is not in README.md"


def test_every_api_route_is_in_the_readme(tmp_path):
    from webapi.app import create_app
    from webapi.settings import Settings

    app = create_app(Settings(database_url=f"sqlite:///{tmp_path / 'x.db'}", store_url=str(tmp_path / "store")))
    for rule in app.url_map.iter_rules():
        if rule.rule.startswith("/api/v1"):
            for method in rule.methods - {"HEAD", "OPTIONS"}:
                assert f"`{method} {rule.rule}`" in README, f"{method} {rule.rule} is not in README.md"
    app.extensions["packwear"].engine.dispose()


def test_every_command_is_in_the_readme():
    import typer.main

    from webapi.cli.program import program

    group = typer.main.get_command(program())
    for name, command in group.commands.items():
        assert f"`packwear {name}" in README, f"packwear {name} is not in README.md"
        for inner in getattr(command, "commands", {}):
            assert re.search(rf"`{inner}\b|packwear {name} {inner}", README), f"{name} {inner} is not in the README"
