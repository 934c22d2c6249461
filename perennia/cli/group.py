"""The command itself, what its subcommands share, and how a mistake ends."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any, TypeVar

import click

from perennia.errors import PerenniaError

_LONGEST_SENTENCE = 110
_COMMANDS = {
    "books": ("correct", "export", "new", "take-in", "template"),
    "comparing": ("compare",),
    "demo": ("demo",),
    "due": ("due",),
    "explain": ("explain",),
    "keeping": ("keep",),
    "pedigree": ("pedigree",),
    "questions": ("check", "history", "summary"),
    "reporting": ("report",),
    "seasons": ("bearing", "curves", "fit", "flushes", "project"),
    "setting": ("pod-set",),
    "survival": ("survival",),
    "trials": ("plan-trial",),
    "warmth": ("degree-days", "frost"),
    "water": ("water",),
}
_FILE_OF = {command: file for file, commands in _COMMANDS.items() for command in commands}
_Command = TypeVar("_Command", bound=Callable[..., Any])


class _Refusing(click.Group):
    """Puts the library's errors on the standard error stream and ends with status 1; no traceback for a slip. A command
    is loaded when it is called, for all of them with what they need take over a second."""

    def list_commands(self, _: click.Context) -> list[str]:
        return sorted(_FILE_OF)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name in _FILE_OF:
            import_module(f"perennia.cli.{_FILE_OF[name]}")
        return super().get_command(ctx, name)

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except PerenniaError as error:
            raise click.ClickException(str(error)) from error
        except BrokenPipeError:
            sys.stderr.close()
            return None
        except OSError as error:
            raise click.ClickException(f"what there is to show cannot be written ({error})") from error

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Each command with its sentence whole, where click would cut it off at the edge of the terminal."""
        loaded = [(name, self.get_command(ctx, name)) for name in self.list_commands(ctx)]
        rows = [(name, command.get_short_help_str(_LONGEST_SENTENCE)) for name, command in loaded if command]
        with formatter.section("Commands"):
            formatter.write_dl(rows)


@click.group(cls=_Refusing, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="perennia")
def main() -> None:
    """Records of perennial crops kept through several seasons, and what they show."""
    # a terminal that has no sign for a letter shows a question mark for it
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")


def formats(command: _Command) -> _Command:
    """--json and --csv, for scripts."""
    command = click.option("--csv", "as_csv", is_flag=True, help="Write the table as CSV.")(command)
    return click.option("--json", "as_json", is_flag=True, help="Write the table as JSON, one object a row.")(command)


garden_argument = click.argument("garden", type=click.Path(path_type=Path))
as_of_option = click.option(
    "--as-of", metavar="DAY", help="As the books stood at the end of that day, or at an instant."
)
