"""``import perennia`` stays light, and everything it names can be had."""

from __future__ import annotations

import subprocess
import sys
from types import ModuleType

import pytest

import perennia
from perennia import analysis

HEAVY = ("pandas", "pyarrow.dataset", "duckdb", "deltalake", "scipy", "statsmodels", "matplotlib", "numpy")


def test_import_loads_nothing_heavy() -> None:
    code = f"import sys, perennia; print([name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_questions_load_the_slow_libraries_only_where_they_use_them() -> None:
    code = (
        "import sys, perennia; from perennia.cli import main; [getattr(perennia, name) for name in perennia.__all__]; "
        "[main.get_command(None, name) for name in main.list_commands(None)]; "
        "print('scipy' in sys.modules, 'statsmodels' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "True False"


def test_one_question_does_not_load_what_only_others_need() -> None:
    code = "import sys, perennia; perennia.season_summary; print('scipy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_one_command_does_not_load_what_only_others_need() -> None:
    code = "import sys; from perennia.cli import main; main.get_command(None, 'history'); print('scipy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_threads_may_ask_their_first_questions_at_once() -> None:
    # what threads find half loaded is chance: some tries, in a process each
    code = """
import threading, perennia, perennia.analysis
names = ["due", "explain_shortfall", "frost_dates", "pod_set", "setting_patterns", "season_summary", "survival"]
start, found = threading.Barrier(len(names)), []
def ask(name):
    start.wait()
    found.append(getattr(perennia, name))
threads = [threading.Thread(target=ask, args=(name,)) for name in names]
[thread.start() for thread in threads], [thread.join() for thread in threads]
print(len(names) - len(found))
"""
    for _ in range(4):
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        assert done.stdout.strip() == "0", done.stderr


@pytest.mark.parametrize("package", [perennia, analysis])
def test_every_public_name_can_be_had(package: ModuleType) -> None:
    missing = [name for name in package.__all__ if getattr(package, name, None) is None]
    assert missing == []
    assert set(package.__all__) <= set(dir(package))


def test_every_question_is_public() -> None:
    assert set(analysis.__all__) <= set(perennia.__all__)


def test_every_record_class_is_public() -> None:
    from perennia import records

    assert set(records.__all__) <= set(perennia.__all__)


def test_an_unknown_name_is_an_attribute_error() -> None:
    assert not hasattr(perennia, "no_such_name")
