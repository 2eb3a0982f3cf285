"""What is installed is whole: parameter sets and packages travel inside the wheel, and the program finds them there."""

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory):
    """The wheel of this tree, unpacked as an installer would."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)],
        cwd=ROOT,
        check=True,
        capture_output=True,
        timeout=120,
    )
    (wheel,) = folder.glob("*.whl")
    target = folder / "site"
    zipfile.ZipFile(wheel).extractall(target)
    return target


def test_every_parameter_set_and_the_demo_are_in_the_wheel(unpacked):
    shipped = {path.relative_to(ROOT / "profiles") for path in (ROOT / "profiles").rglob("*") if path.is_file()}
    shipped = {path for path in shipped if "__pycache__" not in path.parts}
    inside = unpacked / "lifetime" / "profiles"
    assert shipped == {path.relative_to(inside) for path in inside.rglob("*") if path.is_file()}


def test_the_installed_library_finds_its_profiles_without_the_repository(unpacked):
    code = "from lifetime.packs.locate import profiles_folder; print(profiles_folder())"
    done = subprocess.run(
        [sys.executable, "-P", "-c", f"import sys; sys.path.insert(0, {str(unpacked)!r}); {code}"],
        cwd=unpacked,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert Path(done.stdout.strip()) == unpacked / "lifetime" / "profiles"


def test_the_service_and_its_migrations_are_in_the_wheel(unpacked):
    for name in ("migrations/env.py", "migrations/versions/0001_first_tables.py", "pages/templates", "app.py"):
        assert (unpacked / "webapi" / name).exists(), f"webapi/{name} is missing from the wheel"
