"""Every figure of docs/performance.md, in under twenty minutes: python benchmarks/all.py [RESULT.md | --page]

Best on a machine that does nothing else. Each measurement runs in a process of its own; the first one compiles
the kernels. Writes tables with date and machine to the screen and the file named, or with --page into the page itself.
"""

from __future__ import annotations

import math
import os
import platform
import sys
import time
from pathlib import Path
from typing import Any

from film_cases import apart

FULL = [
    ("egg", 1250), ("figurine", 2500), ("egg", 2500), ("egg", 5000), ("figurine", 5000), ("egg", 10000),
    ("figurine", 10000), ("egg", 20000), ("figurine", 20000),
]  # fmt: skip
LARGEST = ("egg", 80000)  # last, where the time allows: its row may be cut off, no other is
THREADS = [("egg", 10000)]
FORECASTS = [
    ("egg", 2500, 1), ("figurine", 2500, 1), ("egg", 10000, 1), ("egg", 20000, 1), ("egg", 20000, 3),
]  # fmt: skip
COARSE = [2500, 10000]
PAGE = Path(__file__).parents[1] / "docs" / "performance.md"
BEGIN, END = "<!-- measured -->", "<!-- end of measured -->"
BUDGET = 1080.0  # [s]; longer tables are cut off, and it is said


def row(*cells: object) -> str:
    return "| " + " | ".join(f"{cell:.3g}" if isinstance(cell, float) else str(cell) for cell in cells) + " |"


def head(*cells: str) -> list[str]:
    return ["", row(*cells), "|" + "---|" * len(cells)]


def exponent(few: dict[str, Any], many: dict[str, Any], of: str = "cpu") -> float:
    return math.log(many[of] / few[of]) / math.log(many["nodes"] / few["nodes"])


class Report:
    """The lines so far, and the time that is left."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.began = time.perf_counter()

    def say(self, *lines: str) -> None:
        self.lines += lines
        print(*lines, sep="\n", flush=True)

    def late(self) -> bool:
        return time.perf_counter() - self.began > BUDGET

    def measure(self, script: str, *words: object) -> dict[str, Any]:
        if self.late():
            self.say(f"not measured, the time was up: {script} {' '.join(map(str, words))}")
            return {}
        left = max(30.0, BUDGET - (time.perf_counter() - self.began))
        found = apart(script, *words, timeout=left)
        if "failed" in found:
            self.say(f"failed: {script} {' '.join(map(str, words))}: {found['failed']}")
            return {}
        return found


def machine() -> str:
    name = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.is_file():
        named = [line.split(":")[1].strip() for line in info.read_text().splitlines() if "model name" in line]
        name = named[0] if named else name
    load = f"load {os.getloadavg()[0]:.1f} when begun" if hasattr(os, "getloadavg") else ""
    return f"{time.strftime('%d %B %Y')}, {name}, {os.cpu_count()} cores, Python {platform.python_version()}, {load}"


def in_full(report: Report) -> None:
    report.say("", "One coat of 1 mm in full, as many threads as the program takes:")
    report.say(
        *head("shape", "nodes", "steps", "wall s", "CPU s", "ns/node/step", "MB", "p05", "median", "p95")
    )
    done: dict[str, list[dict[str, Any]]] = {}
    for shape, nodes in FULL:
        f = report.measure("film.py", "full", shape, nodes)
        if f:
            done.setdefault(shape, []).append(f)
            report.say(
                row(
                    shape, f["nodes"], f["steps"], f["wall"], f["cpu"], f["ns"], round(f["MB"]),
                    f["p05"], f["median"], f["p95"],
                )
            )  # fmt: skip
    for shape, found in done.items():
        if len(found) > 1:
            found.sort(key=lambda one: one["nodes"])
            report.say("", f"{shape}: CPU grows as N^{exponent(found[0], found[-1]):.2f}")
    pool = report.measure("film.py", "full", "egg", 5000, 0, 5.0, "museum-sudden")
    more = report.measure("film.py", "full", "egg", 10000, 0, 5.0, "museum-sudden")
    if pool and more:
        apart_by = max(abs(pool[name] / more[name] - 1.0) for name in ("p05", "median", "p95"))
        report.say(
            f"5 mm that gels with its pool, {pool['nodes']} nodes: {pool['wall']:.1f} s; p05, median and p95 differ"
            f" from {more['nodes']} nodes by at most {apart_by:.1%}"
        )


def threads(report: Report) -> None:
    report.say("", "Threads (the wall is the same to the last bit):")
    report.say(*head("shape", "nodes", "1 thread s", "2 threads s", "faster by"))
    for shape, nodes in THREADS:
        one, two = (report.measure("film.py", "full", shape, nodes, count) for count in (1, 2))
        if one and two:
            report.say(row(shape, one["nodes"], one["wall"], two["wall"], one["wall"] / two["wall"]))


def forecasts(report: Report) -> None:
    report.say("", "Forecasts of a new piece: remeshing, second mesh, coats, figures:")
    report.say(*head("shape", "nodes", "coats", "wall s", "CPU s", "MB", "history"))
    for shape, nodes, coats in FORECASTS:
        f = report.measure("film.py", "forecast", shape, nodes, coats)
        if f:
            report.say(row(shape, f["nodes"], coats, f["wall"], f["cpu"], round(f["MB"]), f["history"]))
    report.say("", "A resin whose pool lives long, on the figurine, with its second mesh:")
    report.say(*head("nodes", "wall s", "CPU s", "history", "p05", "median", "p95"))
    found = []
    for nodes in COARSE:
        f = report.measure("film.py", "coarse", "figurine", nodes)
        if f:
            found.append(f)
            report.say(row(f["nodes"], f["wall"], f["cpu"], f["history"], f["p05"], f["median"], f["p95"]))
    if len(found) > 1:
        report.say("", f"CPU grows as N^{exponent(found[0], found[-1]):.2f}")


def rest(report: Report) -> None:
    for words, what in (
        (("plan",), "whole plan of the demo's piece"),
        (("many",), "100 forecasts in one process, memory held"),
        (("stop", 2500), "progress and stop of a forecast of 2,500 nodes, longest [s]"),
        (("bandwidth",), "triad, one thread [GB/s]"),
    ):
        found = report.measure("film.py", *words)
        said = ", ".join(f"{k} {v:.3g}" if isinstance(v, float) else f"{k} {v}" for k, v in found.items())
        report.say("", f"{what}: {said}")


def against_others(report: Report) -> None:
    found = report.measure("film_stiff.py")
    if found:
        report.say("", f"Stiff integrators, {found.pop('nodes')} nodes, {found.pop('seconds')} s of turning:")
        report.say(*head("way", "CPU s", "error", "own steps faster by"))
        for way, one in found.items():
            report.say(row(way, one["cpu"], one["error"], one["ours faster by"]))


def largest(report: Report) -> None:
    f = report.measure("film.py", "full", *LARGEST)
    if f:
        report.say(
            "", f"{f['nodes']} nodes in full: {f['wall']:.0f} s, CPU {f['cpu']:.0f} s, {f['MB']:.0f} MB"
        )


def kernels(report: Report) -> None:
    for nodes in (2500, 10000):
        found = report.measure("film_kernels.py", nodes)
        report.say("", f"Kernels at {nodes} nodes while a pool sweeps, one thread, ns a node:")
        report.say(*(f"- {name}: {value}" for name, value in found.items()))


def written(page: Path, tables: str) -> None:
    """The page with what stands between its two marks replaced by the tables."""
    before, rest_of_page = page.read_text(encoding="utf-8").split(BEGIN)
    after = rest_of_page.split(END)[1]
    page.write_text(f"{before}{BEGIN}\n{tables}\n{END}{after}", encoding="utf-8")


def main(place: str | None) -> None:
    report = Report()
    report.say(machine())
    apart("film.py", "plan")  # compiles, or loads what was compiled
    for part in (rest, against_others, kernels, threads, forecasts, in_full, largest):
        part(report)
    report.say("", f"all in {time.perf_counter() - report.began:.0f} s")
    if place == "--page":
        written(PAGE, "\n".join(report.lines))
    elif place:
        Path(place).write_text("\n".join(report.lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else None)
