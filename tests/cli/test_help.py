"""The help of every command: full phrases, no names of types at options, and nothing cut off."""

import re

import pytest
import typer
from typer.testing import CliRunner

from webapi.cli.program import program

APP = program()


def paths(command, path=()):
    yield path
    for name, inner in getattr(command, "commands", {}).items():
        yield from paths(inner, (*path, name))


PATHS = list(paths(typer.main.get_command(APP)))


def help_of(path):
    shown = CliRunner().invoke(APP, [*path, "--help"], env={"COLUMNS": "80", "TERMINAL_WIDTH": "80"})
    assert shown.exit_code == 0
    return shown.output


def test_the_commands_are_these():
    assert {path[0] for path in PATHS if path} == {
        "assess", "demo", "check", "least-rms", "fit-resistance", "sweep", "search",
        "serve", "worker", "record", "token", "db"
    }  # fmt: skip


@pytest.mark.parametrize("path", PATHS, ids=[" ".join(("packwear", *path)) for path in PATHS])
def test_help_is_for_people(path):
    text = help_of(path)
    body = text.split("\n", 1)[1]
    assert "..." not in body, "a sentence is cut off; shorten its first line"
    options = text[text.index("Options:") :]
    assert not re.search(r"<\w+>|\b(TEXT|INTEGER|PATH|FLOAT|RANGE)\b", options)
