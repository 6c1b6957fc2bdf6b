"""What the README shows is true: its example runs, its commands and files exist."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_example_runs_and_prints_what_is_available(tmp_path):
    code = re.search(r"<!-- example -->\n```python\n(.*?)```", README, re.S).group(1)
    assert len([line for line in code.splitlines() if line.strip()]) <= 18
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    # 500 kcmil copper is good for 380 A at 75 °C (NFPA 70 Table 310.16) and the fuse for 400 A; 1920 VA of lighting on a
    # 120 V circuit is 16 A on phase A and counts at 125 %, 20 A (215.2(A)(1)).
    assert "{'A': 360.0, 'B': 380.0, 'C': 380.0}" in done.stdout
    assert (tmp_path / "dock.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "dock.oneline").exists()


@pytest.mark.parametrize("path", sorted(set(re.findall(r"(?:resources|samples)/[\w./-]+\.\w+", README))))
def test_files_named_in_the_readme_exist(path):
    assert (ROOT / path).is_file()


def test_the_two_commands_are_one_line_each():
    for name in ("one", "two"):
        command = re.search(rf"<!-- command {name} -->\n```\n(.*?)\n```", README, re.S).group(1)
        assert "\n" not in command


def test_the_top_level_is_as_agreed():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout
    top = {line.split("/")[0] for line in listed.splitlines()}
    allowed = {"pyproject.toml", "README.md", "DEVELOPERS.md", "oneline", "resources", "tests", "samples"}
    assert {t for t in top if not t.startswith(".")} <= allowed
