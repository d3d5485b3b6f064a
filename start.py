"""Set evenwall up in this folder and run it. Needs nothing but Python 3.11 to 3.14.

python3 start.py            open the app
python3 start.py demo       run the whole plan on the demo ammonite (writes the folder `demo`)
python3 start.py test       run the tests
python3 start.py check      format, lint, types, imports
python3 start.py WORDS...   any other evenwall command, for example: plan my-job

The first call makes the folder .venv beside this file and installs evenwall into it.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

HOUSE = Path(__file__).resolve().parent
VENV = HOUSE / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = BIN / ("python.exe" if os.name == "nt" else "python")
OLDEST, NEWEST = (3, 11), (3, 14)
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge", "microsoft-edge")


def main(words: list[str]) -> int:
    """Do what `words` (the command line) ask for; the exit code is the called program's."""
    if not OLDEST <= sys.version_info[:2] <= NEWEST:
        print(f"evenwall needs Python 3.11 to 3.14; this is {sys.version.split()[0]}.", file=sys.stderr)
        return 2
    match words:
        case ["-h" | "--help"]:
            print(__doc__)
            return 0
        case ["test", *more]:
            install(developer=True)
            return test(more)
        case ["check"]:
            install(developer=True)
            return check()
        case ["demo", *more]:
            install()
            return run("evenwall", "demo", *(more or ["demo"]), here=Path.cwd())
        case []:
            install()
            return run("evenwall", "app", here=Path.cwd())
        case _:
            install()
            return run("evenwall", *words, here=Path.cwd())


def install(*, developer: bool = False) -> None:
    """Make .venv and install evenwall into it, unless that was done for this pyproject.toml."""
    wanted = hashlib.sha256((HOUSE / "pyproject.toml").read_bytes()).hexdigest()
    stamp = VENV / ("installed-dev" if developer else "installed")
    if PYTHON.exists() and stamp.exists() and stamp.read_text() == wanted:
        return
    if not PYTHON.exists():
        print(f"making {VENV} ...", file=sys.stderr, flush=True)
        venv.create(VENV, with_pip=True)
    what = f"{HOUSE}[dev]" if developer else str(HOUSE)
    print("installing evenwall and what it stands on (a minute or two) ...", file=sys.stderr, flush=True)
    call = [str(PYTHON), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--editable", what]
    if subprocess.run(call, stdout=sys.stderr).returncode:
        raise SystemExit("The installation failed; the lines above say why. Is this computer online?")
    for name in ("installed", "installed-dev") if developer else ("installed",):
        (VENV / name).write_text(wanted)


def run(module: str, *words: str, here: Path = HOUSE) -> int:
    """Run `python -m module words` in our environment; its exit code."""
    try:
        return subprocess.run([str(PYTHON), "-m", module, *words], cwd=here).returncode
    except KeyboardInterrupt:
        return 130


def test(more: list[str]) -> int:
    """Run the tests; without a browser say so, and fail for it where CI asks."""
    browser = next((b for b in BROWSERS if shutil.which(b)), None)
    if browser is None and os.environ.get("CI") == "true":
        print("No Chromium, Chrome or Edge: the browser tests can't run. .ci/run installs one.")
        return 1
    kinds = more if browser else ["-m", "not browser", *more]
    code = run("pytest", "-n", str(min(4, os.cpu_count() or 1)), "--dist", "loadgroup", *kinds)
    if browser is None:
        print("The browser tests were not run: install Chromium, Chrome or Edge and run this again.")
    return code


def check() -> int:
    """The rest of the gate: format, lint, types, imports; 0 if all pass."""
    gates = [
        ("ruff", "format", "--check", "."),
        ("ruff", "check", "."),
        ("mypy",),
        ("importlinter.cli",),
    ]
    failed = [gate[0] for gate in gates if _gate(*gate)]
    print("check failed: " + ", ".join(failed) if failed else "check passed")
    return 1 if failed else 0


def _gate(module: str, *words: str) -> int:
    if module == "importlinter.cli":
        return subprocess.run([str(BIN / "lint-imports"), "--no-cache"], cwd=HOUSE).returncode
    return run(module, *words)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
