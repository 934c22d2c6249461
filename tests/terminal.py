"""The terminal as tests run it."""

from __future__ import annotations

import json

from click.testing import CliRunner

from perennia.cli import main


def run(*words: str) -> tuple[int, str, str]:
    """Status and what was printed, errors apart."""
    done = CliRunner().invoke(main, list(words))
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.stdout, done.stderr


def rows(*words: str) -> list[dict[str, object]]:
    """The table as scripts get it."""
    code, out, err = run(*words, "--json")
    assert (code, err) == (0, "")
    return list(json.loads(out))
