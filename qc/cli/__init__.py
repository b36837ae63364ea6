"""The `qc` command: a thin module for each group of commands.

Heavy libraries are imported inside the commands, so that help answers at once.
"""

from __future__ import annotations

import sys
from importlib import import_module

import typer
from typer.exceptions import TyperException

from qc import __version__
from qc.errors import QcError

GROUPS = (
    "demo", "load", "flags", "case", "pareto", "chart", "runlength",
    "capability", "presses", "service", "report", "baseline", "serve", "shop",
)
"""Modules of this package; each has a ``register(app)``."""


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"peelcheck {__version__}")
        raise typer.Exit


def _start(
    version: bool = typer.Option(
        False, "--version", callback=_show_version, is_eager=True, help="Print the version."
    ),
) -> None:
    """Quality control for shops that press heat transfers onto garments."""


def build_app() -> typer.Typer:
    """The command-line application with every group registered."""
    app = typer.Typer(
        name="qc", no_args_is_help=True, add_completion=False, pretty_exceptions_enable=False
    )
    app.callback()(_start)
    for group in GROUPS:
        import_module(f"qc.cli.{group}").register(app)
    return app


def main() -> None:
    """Run the command line; turn errors into one clear line and an exit code."""
    try:
        # as a library call, or wrong use would be answered with a framed text of many lines
        code = build_app()(sys.argv[1:] or ["--help"], standalone_mode=False)
        raise SystemExit(code if isinstance(code, int) else 0)
    except TyperException as wrong:
        sys.stderr.write(f"qc: {wrong.format_message().rstrip('.')}; see --help\n")
        raise SystemExit(2) from None
    except QcError as error:
        sys.stderr.write(f"qc: {error}\n")
        raise SystemExit(error.exit_code) from None
    except (KeyboardInterrupt, typer.Abort):
        sys.stderr.write("qc: stopped; nothing half done was kept\n")
        raise SystemExit(130) from None
    except BrokenPipeError:
        raise SystemExit(0) from None
