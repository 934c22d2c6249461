"""``import perennia`` stays light, and everything it names can be had."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
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


def test_a_question_does_not_wait_for_who_imports_what_it_needs(tmp_path: Path) -> None:
    # one imports home and asks for a name in the middle of it; the other asked for one that needs home before
    modules = {
        "events": "import threading\nbegun, asked = threading.Event(), threading.Event()",
        "pack/__init__": "from perennia import first_use\n"
        "__getattr__, _ = first_use.names(__name__, {'pack.gate': ('gated',), 'pack.other': ('two',)})",
        "pack/home": "import events\nevents.begun.set()\nevents.asked.wait()\nfrom pack import two",
        "pack/gate": "import events\nevents.asked.set()\nimport pack.home\ngated = 1",
        "pack/other": "two = 2",
    }
    for name, text in modules.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / f"{name}.py").write_text(text)
    code = """
import importlib, sys, threading
sys.path.insert(0, sys.argv[1])
import events, pack
importing = threading.Thread(target=importlib.import_module, args=("pack.home",))
importing.start()
events.begun.wait()
print(pack.gated)
importing.join()
print(sys.modules["pack.home"].two)
"""
    # who waits for each other is stopped in the end
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=True, timeout=30
    )
    assert done.stdout.split() == ["1", "2"], done.stderr


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
