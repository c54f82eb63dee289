"""The commands: what each asks for and prints; heavy modules are loaded inside them."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from exports.interruption import END_ASKED, Interrupted
from geom.errors import LayoutError
from layouts.routing.effort import EFFORTS, NORMAL

if TYPE_CHECKING:
    from geom.findings import Finding
    from layouts.failure import LayoutFailure

EXIT_FAULT = 1

LEAST_MEMORY = 2
"""GB that a process of the page which makes solids needs at least."""


class _NamedPath(click.Path):
    """A path; the empty one, which would mean the folder that one stands in, is wrong usage."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the path."""
        if not os.fspath(value):
            self.fail("the path is empty; give a name", param, ctx)
        return super().convert(value, param, ctx)


PATH = _NamedPath(path_type=Path)

EFFORT = click.option(
    "--effort",
    type=click.Choice(tuple(EFFORTS)),
    default=NORMAL.name,
    show_default=True,
    help="How long to look for a better layout and for a proof that there is none; counted in steps, so that the "
    "answer is the same on any machine.",
)


class _Command(click.Group):
    """The group of commands; turns what only means "stop" into a quiet end."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the chosen command."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt as error:
            raise Interrupted from error
        except BrokenPipeError as error:
            # Whoever reads the output has closed it, as `head` does: nothing is left to tell.
            raise click.exceptions.Exit(0) from error


NOTE_ROOM = 24
"""Letters that a passing note takes: as many as the line of a finished stage."""


class _Stages:
    """Tells stages on standard error where that is a terminal, and keeps the seconds of each."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self._shown = sys.stderr.isatty()

    def tell(self, stage: str, seconds: float) -> None:
        """Note a finished stage; end here where a request to end was swallowed on the way."""
        if END_ASKED.is_set():
            raise KeyboardInterrupt
        self.seconds[stage] = self.seconds.get(stage, 0.0) + seconds
        if self._shown:
            click.secho(f"\r{stage:<12}{seconds:7.2f} s", err=True, dim=True)

    def note(self, what: str) -> None:
        """Tell what a stage is at, over what stood there; end here as `tell` does."""
        if END_ASKED.is_set():
            raise KeyboardInterrupt
        if self._shown:
            click.secho(f"\r{what:<{NOTE_ROOM}}", err=True, dim=True, nl=False)


@click.group(cls=_Command, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=lambda context, option, wanted: _print_version(context, wanted),
    help="Show the version and exit.",
)
def rillplate() -> None:
    """Plan, check and make panels that distribute coolant.

    A panel file says what must be joined; the plate that comes out can be cut or printed.

    Exit codes: 0 done, 1 a check found a fault, 2 usage or file, 3 geometry.
    """


@rillplate.command()
@click.argument("file", type=PATH)
def new(file: Path) -> None:
    """Write a commented starting FILE that passes; an existing file is left as it is."""
    from exports.writing import write_new_file
    from layouts.panels.catalogue import TEMPLATE, demo_path

    write_new_file(file, demo_path(TEMPLATE).read_bytes(), overwrite=False)
    click.echo(f"wrote {file}; next: rillplate plan {file}")


@rillplate.command()
@click.argument("file", type=PATH)
@click.option("--picture", type=PATH, help="Write the plan as a picture (SVG).")
@click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")
@click.option("--seed", type=click.IntRange(min=0), default=0, show_default=True, help="Seed of the router.")
@EFFORT
def plan(file: Path, picture: Path | None, as_json: bool, seed: int, effort: str) -> None:
    """Place, route and check FILE without any solid: seconds for a common panel, longer with more effort.

    Exit codes: 0 done, 1 a check found a fault, 2 usage or file, 3 no layout.
    """
    from exports.pipeline import plan_panel

    stages = _Stages()
    try:
        planned = plan_panel(file, stages.tell, seed, EFFORTS[effort], stages.note)
    except LayoutError as error:
        if error.failure is None:
            raise
        _tell_failure(error.failure)
        if picture is not None:
            _write_failure_picture(error.failure, picture)
        if as_json:
            from exports.report.failure import failure_document

            _print_json(failure_document(error.failure, (), stages.seconds))
        raise click.exceptions.Exit(error.exit_code) from error
    if picture is not None:
        from exports.pictures.plan_picture import draw_plan
        from exports.writing import write_new_file

        write_new_file(picture, draw_plan(planned).encode("utf-8"), overwrite=True)
        click.echo(f"wrote {picture}", err=True)
    if as_json:
        from exports.report.document import report_document

        _print_json(report_document(planned, None, planned.findings, (), stages.seconds))
    else:
        from exports.tables.panel_tables import describe_findings, describe_plan

        click.echo(describe_plan(planned))
        click.echo()
        click.echo(describe_findings(planned.findings))
    _exit_on_fault(planned.findings)


@rillplate.command()
@click.argument("file", type=PATH)
@click.option("--out", type=PATH, required=True, help="Folder for all files.")
@click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")
@click.option("--seed", type=click.IntRange(min=0), default=0, show_default=True, help="Seed of the router.")
@EFFORT
def make(file: Path, out: Path, as_json: bool, seed: int, effort: str) -> None:
    """Build, check and export FILE into a folder.

    Always written: report.html, report.json, the cost sheet and pictures. Of a panel without faults also the papers
    to work from (drawing.pdf, drawing.dxf, sheets.pdf, parts.csv) and the solids (STEP, STL, 3MF, GLB, and DXF
    profiles of milled parts). A fault withholds papers and solids; those of an earlier run stay, and are named. With no
    layout, only the reports and a picture of the reason are written.

    Exit codes: 0 done, 1 a check found a fault, 2 usage, file or folder, 3 no layout, or a solid that failed.
    """
    from exports.pipeline import make_panel
    from exports.report.document import report_document
    from exports.wording.withheld import BY_FAULT, BY_LAYOUT, tell_withheld
    from exports.writing import REPORT_NAME, earlier_files
    from geom.findings import has_fault

    stages = _Stages()
    before = earlier_files(out)
    try:
        made = make_panel(file, out, stages.tell, seed, EFFORTS[effort], stages.note)
    except LayoutError as error:
        if error.failure is None:
            raise
        _tell_failure(error.failure)
        report = json.loads((out / REPORT_NAME).read_bytes())
        _tell_written(out, [*(record["name"] for record in report["files"]), REPORT_NAME], err=True)
        click.echo(tell_withheld(BY_LAYOUT), err=True)
        _tell_left(out, [record["name"] for record in report["earlier_files"]])
        if as_json:
            _print_json(
                {**report, "seconds": {stage: round(took, 3) for stage, took in stages.seconds.items()}}
            )
        raise click.exceptions.Exit(error.exit_code) from error
    written = {record.name for record in made.files}
    left = tuple(r for r in before if r.name not in written) if has_fault(made.findings) else ()
    if as_json:
        document = report_document(
            made.plan, made.checked, made.findings, made.files, stages.seconds, left, made.cost
        )
        _print_json(document)
    else:
        from exports.tables.panel_tables import describe_findings, describe_made, describe_plan

        click.echo(describe_plan(made.plan, brief=made.plan.filling is None))
        if made.plan.filling is not None:
            from exports.tables.filling_tables import describe_filled

            click.echo()
            click.echo(describe_filled(made.plan, made.plan.filling))
        if made.checked is not None:
            click.echo()
            click.echo(describe_made(made.checked))
            if made.checked.bending:
                from exports.tables.cover_tables import describe_bending

                click.echo()
                click.echo(describe_bending(made.plan, made.checked.bending))
            if made.checked.poses:
                from exports.tables.printing_tables import describe_poses

                click.echo()
                click.echo(describe_poses(made.plan.panel, made.checked.poses))
            if made.checked.prints:
                from exports.print_meshes import describe_meshes

                click.echo()
                click.echo(describe_meshes(made.checked.prints))
            if made.checked.worst:
                from exports.report.tolerances import describe_worst

                click.echo()
                click.echo(describe_worst(made.plan, made.checked.worst))
        if made.plan.milled is not None and made.plan.milled.setups:
            from exports.tables.milling_tables import describe_cutters

            click.echo()
            click.echo(describe_cutters(made.plan.milled))
        from exports.tables.cost_tables import describe_cost

        click.echo()
        click.echo(describe_cost(made.cost))
        click.echo()
        _tell_written(out, [*(record.name for record in made.files), REPORT_NAME])
        click.echo()
        click.echo(describe_findings(made.findings))
    if has_fault(made.findings):
        click.echo(tell_withheld(BY_FAULT), err=True)
        _tell_left(out, [record.name for record in left])
    _exit_on_fault(made.findings)


@rillplate.command()
@click.argument("file_a", metavar="A", type=PATH)
@click.argument("file_b", metavar="B", type=PATH)
@click.option(
    "--picture", type=PATH, help="Write both plans, one beside or above the other, as a picture (SVG)."
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")
@click.option("--seed", type=click.IntRange(min=0), default=0, show_default=True, help="Seed of the router.")
@EFFORT
def compare(file_a: Path, file_b: Path, picture: Path | None, as_json: bool, seed: int, effort: str) -> None:
    """Plan the panel files A and B and tell what differs: in the plans, the findings and the files.

    No solid is built. Exit code 1 where either panel has a fault, 3 where either has no layout.
    """
    from exports.comparing.compare_panels import compare_planned, plan_files

    stages = _Stages()
    a, b, keys = plan_files((file_a, file_b), stages.tell, seed, EFFORTS[effort], stages.note)
    comparison = compare_planned(a, b, keys)
    # The same file twice fails for one reason.
    for one in (a,) if comparison.same_file else (a, b):
        if one.failure is not None:
            _tell_failure(one.failure)
        elif one.problem:
            click.echo(f"rillplate: {one.problem}", err=True)
    if picture is not None:
        from exports.pictures.comparison_picture import draw_comparison
        from exports.writing import write_new_file

        drawn = draw_comparison(comparison, a.plan, b.plan)
        write_new_file(picture, drawn.encode("utf-8"), overwrite=True)
        click.echo(f"wrote {picture}", err=True)
    if as_json:
        from exports.report.comparison import comparison_document

        _print_json(comparison_document(comparison, stages.seconds))
    else:
        from exports.tables.comparison_tables import describe_comparison

        click.echo(describe_comparison(comparison))
    if a.plan is None or b.plan is None:
        raise click.exceptions.Exit(LayoutError.exit_code)
    _exit_on_fault((*a.plan.findings, *b.plan.findings))


def _check_memory(context: click.Context, option: click.Parameter, memory: int) -> int:
    if memory < LEAST_MEMORY:
        raise click.BadParameter(
            f"{memory} GB is too little: the solid of a common panel alone takes more than 1 GB, and its process would "
            f"be started anew each time; give at least {LEAST_MEMORY}"
        )
    return memory


@rillplate.command()
@click.argument("file", type=PATH)
@click.option(
    "--port", type=click.IntRange(1, 65535), help="Port to listen at; any free one where not given."
)
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.option(
    "--memory",
    type=click.IntRange(1, 1024),
    default=4,
    show_default=True,
    callback=_check_memory,
    help="GB that a process which computes may take, at least 2; it is started anew where it passes this.",
)
@click.option("--seed", type=click.IntRange(min=0), default=0, show_default=True, help="Seed of the router.")
@EFFORT
def page(file: Path, port: int | None, no_browser: bool, memory: int, seed: int, effort: str) -> None:
    """Open FILE in the browser: see the plan, move what stands in it, make its files.

    The page is served on this computer alone, at an address that nobody can guess and that is printed. FILE is written
    with each edit; where there is none yet, the page offers a start. Ctrl-C ends it. Effort and seed are those of whole
    plans and of the files, which are then those of `make` with the same; what follows a drag is always quick.

    Exit codes: 0 ended, 2 usage, file or port.
    """
    from exports.page.serving.serve import Serving, serve_page

    wanted = Serving(file, port or 0, memory * 10**9, not no_browser, effort, seed)
    serve_page(wanted, _tell_address, lambda line: click.echo(f"rillplate: {line}", err=True))


@rillplate.command()
@click.argument("code", required=False)
def rules(code: str | None) -> None:
    """Tell what each check asks, its limit, why, and its source; or one CODE alone."""
    from exports.tables.panel_tables import describe_rule
    from layouts.rules.catalogue import RULES

    if code is None:
        click.echo("\n\n".join(describe_rule(rule) for rule in RULES))
        return
    for rule in RULES:
        if rule.code == code:
            click.echo(describe_rule(rule))
            return
    import difflib

    known = [rule.code for rule in RULES]
    near = difflib.get_close_matches(code, known, n=3) or known
    raise click.UsageError(f'no check has the code "{code}"; there is: {", ".join(near)}')


@rillplate.command()
@click.option("--out", type=PATH, help="Write it to this file.")
def schema(out: Path | None) -> None:
    """Print the JSON Schema of a panel file."""
    from layouts.file.model import panel_schema

    text = json.dumps(panel_schema(), indent=2, ensure_ascii=False) + "\n"
    if out is None:
        click.echo(text, nl=False)
        return
    from exports.writing import write_new_file

    write_new_file(out, text.encode("utf-8"), overwrite=True)
    click.echo(f"wrote {out}")


@rillplate.command()
def doctor() -> None:
    """Tell what this machine has and what it lacks."""
    from exports.doctor import examine_machine

    checks = examine_machine()
    width = max(len(check.name) for check in checks)
    for check in checks:
        click.echo(f"{'ok  ' if check.good else 'LACK'} {check.name:<{width}}  {check.found}")
        if check.remedy:
            click.echo(f"     {'':<{width}}  {check.remedy}")
    if not all(check.good for check in checks):
        raise click.exceptions.Exit(EXIT_FAULT)


def _print_version(context: click.Context, wanted: bool) -> None:
    if not wanted or context.resilient_parsing:
        return
    from importlib import metadata

    try:
        click.echo(f"rillplate {metadata.version('rillplate')}")
    except metadata.PackageNotFoundError:
        click.echo("rillplate, run from its sources without being installed")
    context.exit()


def _tell_address(address: str) -> None:
    """Print where the page is, and on standard error how it ends."""
    click.echo(address)
    # Whoever waits for the address reads it now.
    sys.stdout.flush()
    click.echo("Ctrl-C ends it.", err=True)


def _print_json(document: dict[str, Any]) -> None:
    click.echo(json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False))


def _tell_written(out: Path, names: list[str], err: bool = False) -> None:
    """Name the files that were written: the folder, then their names."""
    from exports.tables.text_tables import LINE
    from exports.wording.figures import wrap_words

    click.echo(f"wrote to {out}:", err=err)
    for line in wrap_words(", ".join(names), LINE - 2):
        click.echo(f"  {line}", err=err)


def _tell_left(out: Path, names: list[str]) -> None:
    """Warn of the files of an earlier run that are still in a folder, papers first."""
    from exports.tables.text_tables import LINE
    from exports.wording.figures import wrap_words
    from exports.wording.withheld import order_left, warn_of_left

    if not names:
        return
    for line in wrap_words(f"{warn_of_left(str(out))}:", LINE):
        click.echo(line, err=True)
    for line in wrap_words(", ".join(order_left(names)), LINE - 2):
        click.echo(f"  {line}", err=True)


def _tell_failure(failure: LayoutFailure) -> None:
    """Say on standard error why there is no layout."""
    from exports.report.failure import describe_failure

    click.echo(describe_failure(failure), err=True)


def _write_failure_picture(failure: LayoutFailure, picture: Path) -> None:
    from exports.pictures.failure_picture import draw_failure
    from exports.writing import write_new_file

    write_new_file(picture, draw_failure(failure).encode("utf-8"), overwrite=True)
    click.echo(f"wrote {picture}", err=True)


def _exit_on_fault(findings: tuple[Finding, ...]) -> None:
    from geom.findings import has_fault

    if has_fault(findings):
        raise click.exceptions.Exit(EXIT_FAULT)
