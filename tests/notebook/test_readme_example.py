"""The notebook of the README runs as it is printed, from an empty folder, on what an installer would unpack."""

import re
import subprocess
import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[2]


def notebook():
    section = (ROOT / "README.md").read_text(encoding="utf-8").split("## From Python", 1)[1].split("\n## ", 1)[0]
    (code,) = re.findall(r"```python\n(.*?)```", section, re.DOTALL)
    return code


def test_the_notebook_runs_from_an_empty_folder(tmp_path):
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=ROOT, check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    (wheel,) = tmp_path.glob("*.whl")
    zipfile.ZipFile(wheel).extractall(tmp_path / "site")
    empty = tmp_path / "empty"
    empty.mkdir()
    lead = f"import sys; sys.path.insert(0, {str(tmp_path / 'site')!r})\n"
    tail = "\nassert set(costs) == {216, 240}\nassert life.years > 0\nprint(pw.__file__)\n"
    script = tmp_path / "notebook.py"
    script.write_text(lead + notebook() + tail, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-P", str(script)], cwd=empty, env={"PATH": "/usr/bin", "HOME": str(empty)},
        capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert str(tmp_path / "site") in done.stdout
    assert (empty / "decision.html").is_file()
    # Nothing is recorded unless asked: the report is all that is there.
    assert {path.name for path in empty.iterdir()} <= {"decision.html", ".cache", ".config"}
