"""The command line: read, call, print."""

from __future__ import annotations

import json
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from evenwall.errors import EvenwallError, InputError

if TYPE_CHECKING:
    from evenwall.files.open_job import Opened
    from evenwall.job import Plan

app = typer.Typer(
    help="Plan, run and learn from hollow resin castings turned by hand in closed molds.",
    add_completion=False,
    pretty_exceptions_enable=False,
)
#: a command or option that is none; typer names its class only through this one
USAGE_FAULT: type[Exception] = typer.BadParameter.__bases__[0]
Folder = Annotated[Path, typer.Argument(help="the job's folder")]
AsJson = Annotated[bool, typer.Option("--json", help="print JSON (SI units)")]
Fineness = Annotated[str, typer.Option(help="quick, fine or finest")]


def main() -> None:
    """Run the command line; a fault is one line on stderr and exit code 2."""
    try:
        code = app(sys.argv[1:] or ["--help"], standalone_mode=False)
    except USAGE_FAULT as fault:
        words = " ".join(getattr(fault, "format_message", fault.__str__)().split()).rstrip(".")
        print(f"evenwall: {words}: see evenwall --help", file=sys.stderr)
        code = 2
    except EvenwallError as fault:
        print(f"evenwall: {fault}", file=sys.stderr)
        code = 2
    except (KeyboardInterrupt, typer.Abort):
        code = 130
    sys.exit(code if isinstance(code, int) else 0)


@app.command()
def new(
    folder: Folder,
    mesh: Annotated[Path | None, typer.Option(help="mesh of the piece, copied into the job")] = None,
    unit: Annotated[str | None, typer.Option(help="the mesh's unit: mm, cm, m, in or ft")] = None,
    name: Annotated[str | None, typer.Option(help="what the job is called")] = None,
    reading: Annotated[
        list[str] | None,
        typer.Option(
            help='without a mesh, e.g. "hollow casting: weight_g=150 density_g_mL=1.05 wall_mm=3,2.8"'
        ),
    ] = None,
) -> None:
    """Make a new job folder."""
    from evenwall.files.estimate_file import typed_reading
    from evenwall.files.job_file import check_job, write_job_file, write_whole

    if folder.exists() and any(folder.iterdir()):
        raise InputError(f"{folder} is not empty: name a new folder, nothing is overwritten")
    piece: dict[str, Any] = {}
    if mesh is not None:
        if not mesh.is_file():
            raise InputError(f"{mesh} is not a file: give the path of the piece's mesh")
        piece = {"mesh": mesh.name, **({"unit": unit} if unit else {})}
    if reading:
        piece["readings"] = [typed_reading(text) for text in reading]
    job = check_job({"name": name or folder.resolve().name, "piece": piece})
    folder.mkdir(parents=True, exist_ok=True)
    if mesh is not None:
        write_whole(folder / mesh.name, mesh.read_bytes())
    write_job_file(folder, job)
    print(f"{folder} is made; say more in {folder / 'job.toml'}, then: evenwall plan {folder}")


@app.command()
def demo(folder: Annotated[Path, typer.Argument(help="folder for the demo")] = Path("demo")) -> None:
    """Plan the demo ammonite from its mesh to its worksheet."""
    from evenwall.files.demo import has_job, make_demo

    if not has_job(folder):
        make_demo(folder)
        print(f"made the demo in {folder}: a mesh and job.toml", file=sys.stderr)
    opened, planned = _planned(folder)
    _print_plan(opened, planned)
    print(f"\nworksheet: {_write_sheet(opened, planned)}\nfiles: {folder.resolve()}")


@app.command()
def measure(
    mesh: Annotated[Path, typer.Argument(help="STL, OBJ, PLY, 3MF, GLB, or one of these with .gz")],
    unit: Annotated[str | None, typer.Option(help="the mesh's unit: mm, cm, m, in or ft")] = None,
    height_mm: Annotated[float | None, typer.Option(help="scale the piece to this height")] = None,
    up: Annotated[str | None, typer.Option(help="axis that points up: x, y, z, -x, -y or -z")] = None,
    distance_mm: Annotated[
        float | None, typer.Option(help="scale to this distance between two points")
    ] = None,
    between: Annotated[
        str | None, typer.Option(help='the two points in the file\'s numbers: "x y z x y z"')
    ] = None,
    scan_of: Annotated[str, typer.Option(help="master, casting or cavity")] = "master",
    mold_shrink: Annotated[
        float, typer.Option(help="how much smaller the mold is than its master [%]")
    ] = 0.0,
    resin_shrink: Annotated[
        float, typer.Option(help="how much smaller a casting is than its mold [%]")
    ] = 0.0,
    answer: Annotated[list[str] | None, typer.Option(help="to a question, e.g. bodies=all")] = None,
    refuse: Annotated[list[str] | None, typer.Option(help="a repair to leave out, by name")] = None,
    rebuild: Annotated[bool, typer.Option("--rebuild", help="build the wall anew from distances")] = False,
    as_json: AsJson = False,
) -> None:
    """Area, volume and state of a mesh."""
    from evenwall.files.measure_mesh import MeasureAsk, measured
    from evenwall.files.mesh_json import measure_as_json, measure_lines

    reading = measured(
        mesh,
        MeasureAsk(
            unit=unit,
            height_mm=height_mm,
            up=up,
            distance_mm=distance_mm,
            between=between,
            scan_of=scan_of,
            mold_shrink_percent=mold_shrink,
            resin_shrink_percent=resin_shrink,
            answers=tuple(answer or ()),
            refused=tuple(refuse or ()),
            rebuild=rebuild,
        ),
    )
    if as_json:
        _print_json(measure_as_json(reading))
    else:
        print("\n".join(measure_lines(reading)))


@app.command()
def estimate(folder: Folder, as_json: AsJson = False) -> None:
    """Area and volume without a scan, from the readings in job.toml."""
    from evenwall.files.estimate_file import estimate_as_json, estimate_lines
    from evenwall.files.job_file import read_job_file

    file = read_job_file(folder)
    if as_json:
        _print_json(estimate_as_json(file))
    else:
        print("\n".join(estimate_lines(file)))


@app.command()
def resin(
    folder: Folder,
    put: Annotated[
        list[str] | None,
        typer.Option("--set", help="a value of the sheet, e.g. pot_life_min=2.5 (once a value)"),
    ] = None,
    source: Annotated[str, typer.Option(help="where the values set come from")] = "",
    pedigree: Annotated[
        str | None, typer.Option(help="of the values set: measured, data sheet, typical or assumed")
    ] = None,
    new: Annotated[str | None, typer.Option(help="start an empty sheet for a resin called so")] = None,
    use: Annotated[
        str | None, typer.Option(help="take another resin: of evenwall's list, or a TOML file")
    ] = None,
    cup: Annotated[
        list[str] | None,
        typer.Option(
            "--cup", help="a cup test, e.g. mass_g=5 temperature_C=22 gel_min=6.5 cup_mm=60 (once a value)"
        ),
    ] = None,
    readings: Annotated[Path | None, typer.Option(help="CSV of the test's temperatures")] = None,
    forget_cup: Annotated[int | None, typer.Option(help="take this cup test out again")] = None,
    shelf: Annotated[bool, typer.Option("--shelf", help="keep the resin for the shop's other jobs")] = False,
    picture: Annotated[Path | None, typer.Option(help="write cup and film over the minutes as PNG")] = None,
    as_json: AsJson = False,
) -> None:
    """The resin: its data sheet typed or corrected, cup tests, today's minutes and how sure they are."""
    from evenwall.files import resin_job
    from evenwall.reports.cure_picture import cure_picture
    from evenwall.reports.resin_report import resin_as_json, resin_lines

    asked = resin_job.Asked(
        put=tuple(put or ()),
        source=source,
        pedigree=pedigree,
        new=new,
        use=use,
        cup=resin_job.cup_test_of(cup or (), readings=readings),
        forget_cup=forget_cup,
        shelf=shelf,
    )
    for line in resin_job.done(folder, asked):
        print(line, file=sys.stderr)
    seen = resin_job.resin_seen(folder)
    if picture is not None:
        picture.write_bytes(cure_picture(seen.today.curves, us=seen.us))
    if as_json:
        _print_json(resin_as_json(seen.found, seen.job, seen.today, seen.sure))
    else:
        print("\n".join(resin_lines(seen.found, seen.job, seen.today, seen.sure, us=seen.us)))


@app.command()
def plan(folder: Folder, as_json: AsJson = False) -> None:
    """Shots, times and cost for the wanted wall."""
    from evenwall.reports.as_json import plan_as_json

    opened, planned = _planned(folder)
    if as_json:
        _print_json(plan_as_json(planned))
    else:
        _print_plan(opened, planned)


@app.command()
def forecast(
    folder: Folder,
    fineness: Fineness = "fine",
    stop_turning_s: Annotated[
        float | None, typer.Option(min=0.0, help="stop turning so many seconds after each mixing")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """The wall that the planned shots make, map and figures."""
    from evenwall.files.kept import kept_forecast, kept_plan
    from evenwall.files.open_job import open_job
    from evenwall.job import FINENESS, throws
    from evenwall.reports.as_json import forecast_as_json
    from evenwall.reports.summary import forecast_lines

    if fineness not in FINENESS:
        raise InputError(f"fineness {fineness!r} is not one of {', '.join(FINENESS)}")
    opened = open_job(folder)
    with _watched() as (progress, stop):
        planned = None if throws(opened.job) else kept_plan(opened, progress=progress, stop=stop)
        film = kept_forecast(
            opened,
            planned,
            nodes=FINENESS[fineness],
            stop_turning=stop_turning_s,
            progress=progress,
            stop=stop,
        )
    if as_json:
        _print_json(forecast_as_json(film))
    else:
        print("\n".join(forecast_lines(film, us=opened.file.units == "us")))


@app.command()
def balance(folder: Folder, as_json: AsJson = False) -> None:
    """Where the mold sits, which weights to hang, and the push that is left at the rim."""
    from evenwall.files.kept import plan_at_hand
    from evenwall.files.machine_file import balance_of
    from evenwall.files.open_job import open_job
    from evenwall.reports.balance_report import balance_as_json, balance_lines

    opened = open_job(folder)
    report = balance_of(opened, plan_at_hand(opened))
    if as_json:
        _print_json(balance_as_json(report))
    else:
        print("\n".join(balance_lines(report, us=opened.file.units == "us")))


@app.command()
def sheet(folder: Folder) -> None:
    """The worksheet to tape on the wall, as PDF."""
    opened, planned = _planned(folder)
    print(_write_sheet(opened, planned))


@app.command()
def proof(
    full: Annotated[bool, typer.Option("--full", help="the long studies too")] = False,
    as_json: AsJson = False,
) -> None:
    """Every check against the world outside."""
    from evenwall.proof.rows import all_rows

    rows = []
    for row in all_rows(full=full):
        rows.append(row)
        if not as_json:
            mark = "holds" if row.holds else "FAILS"
            print(
                f"{mark}  {row.check}: {row.got:.6g} {row.unit}, expected {row.expected:.6g} ({row.source})"
            )
    if as_json:
        _print_json({"rows": [asdict(row) | {"holds": row.holds} for row in rows]})
    failed = sum(not row.holds for row in rows)
    if not as_json:
        print(f"{len(rows) - failed} of {len(rows)} checks hold")
    raise typer.Exit(1 if failed else 0)


@app.command(name="app")
def open_app(
    jobs: Annotated[list[Path] | None, typer.Argument(help="job folders to open")] = None,
    port: Annotated[int, typer.Option(help="port on this machine; 0: a free one")] = 0,
    browser: Annotated[bool, typer.Option(help="open a browser")] = True,
) -> None:
    """The whole job in a browser, on this machine only."""
    from evenwall.web.app import serve

    serve(list(jobs or []), port=port, browser=browser)


def _planned(folder: Path) -> tuple[Opened, Plan]:
    from evenwall.files.kept import kept_plan
    from evenwall.files.open_job import open_job

    opened = open_job(folder)
    with _watched() as (progress, stop):
        return opened, kept_plan(opened, progress=progress, stop=stop)


def _write_sheet(opened: Opened, planned: Plan) -> Path:
    from evenwall.files.machine_file import balance_of
    from evenwall.reports.worksheet import write_worksheet

    machine = balance_of(opened, planned)
    return write_worksheet(opened.folder, opened.file.units, opened.job, planned, machine)


def _print_plan(opened: Opened, planned: Plan) -> None:
    from evenwall.reports.summary import plan_lines

    print("\n".join(plan_lines(opened.job, planned, us=opened.file.units == "us")))


def _print_json(answer: object) -> None:
    print(json.dumps(answer, indent=1, allow_nan=False, default=float))


@contextmanager
def _watched() -> Iterator[tuple[Callable[[float, str], None], Callable[[], bool]]]:
    """A progress bar on stderr, and a stop that Ctrl-C sets."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    asked = False

    def ask(*_: object) -> None:
        nonlocal asked
        if asked:
            raise KeyboardInterrupt
        asked = True

    before = signal.signal(signal.SIGINT, ask)
    columns = (BarColumn(), TimeRemainingColumn(), TextColumn("{task.description}"))
    try:
        with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
            task = bar.add_task("compiling the film's kernels (first use only)", total=1.0)
            yield lambda share, text: bar.update(task, completed=share, description=text), lambda: asked
    finally:
        signal.signal(signal.SIGINT, before)
    if asked:
        print("stopped; what was computed is kept", file=sys.stderr)
