"""The entry: runs the command, tells every failure in one message, and leaves with the exit code.

Nothing that takes time is loaded before a request to end is answered: `main` first sets the answers, then
loads the commands.
"""

from __future__ import annotations

import sys

EXIT_USAGE = 2
EXIT_GEOMETRY = 3
EXIT_INTERRUPTED = 130


def main(arguments: list[str] | None = None) -> None:
    """Run the command and leave the process with its exit code.

    Parameters
    ----------
    arguments : list of str, optional
        Without the program's name; those of the process where None.
    """
    try:
        from exports.interruption import leave_after_cleaning, leave_at_once

        leave_at_once()
        import gc

        import exports.commands  # noqa: F401

        # A run makes many small lasting values and few cycles: looking for cycles less often, and not at all
        # at the end, takes 0.2 s off the second that a plan may take.
        gc.set_threshold(100_000, 20, 20)
        leave_after_cleaning()
        code = run_command(arguments)
    except KeyboardInterrupt:
        sys.exit(EXIT_INTERRUPTED)
    code = _flush_output(code)
    gc.freeze()
    sys.exit(code)


def run_command(arguments: list[str] | None = None) -> int:
    """Run the command and return its exit code; every failure is told in one message on standard error.

    Parameters
    ----------
    arguments : list of str, optional
        Without the program's name; those of the process where None.

    Returns
    -------
    int
        0 done, 1 a check found a fault, 2 usage or file, 3 geometry, 130 interrupted.
    """
    from exports.interruption import END_ASKED, SAID, Interrupted

    # Before anything is loaded: what is asked for meanwhile is only noted, and must not be forgotten.
    END_ASKED.clear()
    import click

    from exports.commands import rillplate
    from geom.errors import RillplateError

    try:
        result = rillplate.main(arguments, prog_name="rillplate", standalone_mode=False)
    except click.exceptions.Exit as leave:
        return leave.exit_code
    except click.ClickException as error:
        error.show()
        return EXIT_USAGE
    except RillplateError as error:
        _tell(f"rillplate: {error}")
        return error.exit_code
    except (Interrupted, KeyboardInterrupt, click.Abort):
        _tell(SAID)
        return EXIT_INTERRUPTED
    except ImportError as error:
        from exports.doctor import name_missing_library

        remedy = name_missing_library(str(error)) or "rillplate doctor tells what this machine lacks"
        _tell(f"rillplate: {error}; {remedy}")
        return EXIT_USAGE
    except OSError as error:
        _tell(f"rillplate: {_describe_os_error(error)}")
        return EXIT_USAGE
    # The last resort of the whole program: a mistake in it must not reach its user as a traceback.
    except Exception as error:  # noqa: BLE001
        if END_ASKED.is_set():
            _tell(SAID)
            return EXIT_INTERRUPTED
        said = " ".join(str(error).split())
        _tell(f"internal error: {type(error).__name__}: {said}; please report with the panel file")
        return EXIT_GEOMETRY
    return result if isinstance(result, int) else 0


def _describe_os_error(error: OSError) -> str:
    """Tell a failure of the system; one that names no file is of the output, since files are told where used."""
    import errno

    reason = error.strerror or str(error)
    if error.filename is not None:
        return f"{error.filename}: {reason}; see that it is there and that you may use it"
    if error.errno == errno.ENOSPC:
        return "standard output: the disk is full; free some space or write elsewhere"
    return f"standard output could not be written ({reason}); write elsewhere"


def _tell(text: str) -> None:
    """Say one message on standard error; where that cannot be written either, the exit code must do."""
    import contextlib

    import click

    with contextlib.suppress(OSError):
        click.echo(text, err=True)


def _flush_output(code: int) -> int:
    """Flush the outputs and return the exit code: 2 where what was printed could not all be written.

    Python flushes again at exit, and would complain: a stream that failed is led to nowhere. A reader that
    is gone, as behind `head`, is no failure.
    """
    import os

    for stream in (sys.stdout, sys.stderr):
        if stream is None:
            continue
        try:
            stream.flush()
        except OSError as error:
            if not isinstance(error, BrokenPipeError) and code == 0:
                _tell(f"rillplate: {_describe_os_error(error)}")
                code = EXIT_USAGE
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
    return code
