"""Start Switchover, or run its tests, on a machine that has only Python.

    python3 start.py                    the example study in the browser
    python3 start.py --no-browser       the same, saying only the address
    python3 start.py serve              your own studies
    python3 start.py test               the tests; further words go to pytest

On Windows write `py start.py`. The packages are put into the folder `.venv` beside this file on
the first start, which needs the network; later starts do not.
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036  (older ones are to read a sentence, not a traceback)
    sys.exit(
        "Switchover needs Python 3.11 or newer; this is Python %d.%d.%d."  # noqa: UP031
        % sys.version_info[:3]
    )

import hashlib
import os
import shutil
import subprocess
import tomllib
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent
ENVIRONMENT = ROOT / ".venv"
COMMANDS = (
    "demo",
    "serve",
    "evaluate",
    "arrange",
    "explore",
    "match",
    "schedule",
    "decide",
    "measure",
    "import",
    "export",
    "backup",
    "restore",
    "check",
)


def main(words):
    """Make or refresh the environment, then run what the words ask for; return the exit code."""
    testing = words[:1] == ["test"]
    try:
        python = ready_environment(testing)
    except subprocess.CalledProcessError as error:
        print(f"The packages could not be installed (exit code {error.returncode}).")
        print("The first start needs the network. See the lines above for the reason.")
        return 1
    if testing:
        return run([str(python), "-m", "pytest", *words[1:]])
    asks_for_command = bool(words) and (words[0] in COMMANDS or words[0] in ("-h", "--help"))
    return run([str(python), "-m", "webapp", *([] if asks_for_command else ["demo"]), *words])


def ready_environment(testing):
    """Return the environment's Python with every package in place, installed only if need be."""
    python = ENVIRONMENT / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    wanted = stamp(testing)
    kept = ENVIRONMENT / "switchover-installed.txt"
    present = kept.read_text(encoding="utf-8").split() if kept.is_file() else []
    if wanted in present and python.is_file():
        return python
    if not python.is_file() or not runs(python) or stamp_of_python() not in present:
        print("Making the environment in .venv (once) ...", flush=True)
        make_environment()
        present = []
    print("Installing packages (once; about a minute) ...", flush=True)
    install(python, testing)
    # What serves the tests serves the app as well.
    done = {stamp_of_python(), wanted, stamp(testing=False)}
    kept.write_text("\n".join(sorted(done)) + "\n", encoding="utf-8")
    return python


def make_environment():
    """Make a fresh virtual environment; say what to do where the system's Python cannot."""
    if ENVIRONMENT.exists():
        shutil.rmtree(ENVIRONMENT)
    try:
        venv.create(ENVIRONMENT, with_pip=True)
    except (subprocess.CalledProcessError, ImportError):
        shutil.rmtree(ENVIRONMENT, ignore_errors=True)
        sys.exit(
            "This Python cannot make environments. On Debian and Ubuntu install the package "
            "python3-venv, then start again."
        )


def install(python, testing):
    """Install the packages that pyproject.toml names, in the tested versions."""
    command = [
        str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check",
        "--constraint", str(ROOT / "constraints.txt"), *requirements(testing),
    ]  # fmt: skip
    subprocess.run(command, check=True, cwd=ROOT)


def requirements(testing):
    """Return what has to be installed; the project itself runs from this folder."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extra = project["optional-dependencies"]["test"] if testing else []
    return [*project["dependencies"], *extra]


def stamp(testing):
    """Return a mark of everything that decides what is installed."""
    content = hashlib.sha256("\n".join(requirements(testing)).encode())
    content.update((ROOT / "constraints.txt").read_bytes())
    content.update(stamp_of_python().encode())
    return f"{'test' if testing else 'app'}-{content.hexdigest()[:32]}"


def stamp_of_python():
    """Return a mark of the interpreter, since packages belong to one minor version."""
    return "python-%d.%d-%s" % (*sys.version_info[:2], sys.platform)  # noqa: UP031


def runs(python):
    """Return whether the environment's Python still starts: a system upgrade can break it."""
    try:
        return subprocess.run([str(python), "-c", ""], check=False).returncode == 0
    except OSError:
        return False


def run(command):
    """Run a command from this folder's code; the app keeps the user's own working folder.

    Where the system can, the command takes the place of this process, so that it gets every
    signal that is meant for it.
    """
    path = os.pathsep.join(part for part in (str(ROOT), os.environ.get("PYTHONPATH")) if part)
    environment = {**os.environ, "PYTHONPATH": path}
    if "pytest" in command:
        os.chdir(ROOT)
    if os.name != "nt":
        sys.stdout.flush()
        os.execve(command[0], command, environment)  # noqa: S606  (our own command line)
    child = subprocess.Popen(command, env=environment)
    while True:
        try:
            return child.wait()
        except KeyboardInterrupt:
            # Ctrl+C reaches the server too; wait until it has stopped by itself.
            continue


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
