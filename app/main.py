"""The command ``flightmark``: reads the call, runs one command, ends with its exit code.

Nothing heavy is imported before a command needs it: help is there at once.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Sequence
from typing import Any, NoReturn

from app import exits
from app.commands import (
    backup,
    batch,
    demo,
    export,
    history,
    import_results,
    markers,
    measure,
    reanalyse,
    restore,
    serve,
)
from measure.errors import FlightmarkError, NothingToMeasure

COMMANDS = (
    measure,
    history,
    batch,
    reanalyse,
    export,
    import_results,
    backup,
    restore,
    markers,
    demo,
    serve,
)
DESCRIPTION = """\
Measures jumps from ordinary phone video, says how sure it is of every number, and keeps
each athlete's history on this machine."""

GARBAGE_AFTER = 50_000
"""New values after which Python looks for garbage; usually after 700."""


def run() -> NoReturn:
    """Be the program: as `main`, in a process of its own.

    Modules and networks hold no garbage. To look for it time and again while they are loaded, and
    once more in everything at the end, would take a tenth of a second.
    """
    gc.set_threshold(GARBAGE_AFTER)
    code = main()
    gc.freeze()
    sys.exit(code)


def main(argv: Sequence[str] | None = None, *, measuring: Any = None) -> int:
    """Run the command line.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments without the program's name; default: those of this process.
    measuring : Measuring, optional
        Stands in for the measuring room.

    Returns
    -------
    int
        Exit code; see ``exits``.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        code = _run(argv, measuring)
        sys.stdout.flush()
    except NothingToMeasure as error:
        return _refuse(error, exits.NOTHING_MEASURED)
    except FlightmarkError as error:
        return _refuse(error, exits.NOT_READ_OR_WRITTEN)
    except KeyboardInterrupt:
        return _refuse("Stopped. Nothing was half written.", exits.INTERRUPTED)
    except BrokenPipeError:
        _forget_stdout()
        return exits.NOT_READ_OR_WRITTEN
    except OSError as error:
        _forget_stdout()
        return _refuse(f"The output could not be written ({error}).", exits.NOT_READ_OR_WRITTEN)
    except Exception:
        import traceback

        traceback.print_exc()
        return _refuse("This is a fault in flightmark itself; please report it.", exits.FAULT)
    return code


def _run(argv: Sequence[str] | None, measuring: Any) -> int:
    try:
        arguments = _parser().parse_args(argv)
    except SystemExit as stop:  # help was shown, or the call was wrong
        return exits.WRONG_CALL if stop.code else exits.MEASURED
    return int(arguments.run(arguments, measuring))


def _refuse(message: object, code: int) -> int:
    print(f"flightmark: {message}", file=sys.stderr)
    return code


def _forget_stdout() -> None:
    # Python flushes standard output once more at its end, and would complain a second time.
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        sys.stdout = None


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="flightmark", description=DESCRIPTION)
    parser.add_argument("--version", action=_ShowVersion)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for command in COMMANDS:
        command.add_command(commands)
    return parser


class _ShowVersion(argparse.Action):
    """Looks the version up only when it is asked for."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**{**options, "nargs": 0, "help": "show the version and stop"})

    def __call__(self, parser: argparse.ArgumentParser, *_rest: Any) -> None:
        from importlib.metadata import version

        print(f"flightmark {version('flightmark')}")
        parser.exit()
