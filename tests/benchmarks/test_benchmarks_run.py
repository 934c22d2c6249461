"""The benchmarks run on few rows and print their figures; whether these hold is for a quiet machine to say."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

RUNS = {
    "intake": (["--rows", "1000", "--runs", "1", "--repeats", "2", "--singles", "2"], 6),
    "curves": (["--rows", "120000", "--runs", "1", "--steps"], 10),
}


@pytest.mark.parametrize("name", RUNS)
def test_a_benchmark_prints_its_figures(name: str) -> None:
    options, least = RUNS[name]
    command = [sys.executable, str(Path(__file__).with_name(f"{name}.py")), *options]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=600, check=True)
    figures = [json.loads(line) for line in ended.stdout.splitlines()]
    assert {tuple(figure) for figure in figures} == {("name", "value", "bound", "holds")}
    assert len(figures) >= least
    assert all(figure["value"] > 0 for figure in figures)
