"""The benchmark of intake runs on few rows and prints its figures; whether they hold is for a quiet machine to say."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).with_name("intake.py")


def test_the_benchmark_prints_its_figures() -> None:
    command = [sys.executable, str(SCRIPT), "--rows", "1000", "--runs", "1", "--repeats", "2", "--singles", "2"]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=300, check=True)
    figures = [json.loads(line) for line in ended.stdout.splitlines()]
    assert [set(figure) for figure in figures] == [{"name", "value", "bound", "holds"}] * 6
    assert all(figure["value"] > 0 for figure in figures)
