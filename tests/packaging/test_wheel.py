"""The wheel, built from the source archive, installed by itself and used away from the checkout."""

import re
import shutil
import subprocess
import sys
import sysconfig
import zipfile
from collections.abc import Iterator
from importlib.metadata import distribution, version
from pathlib import Path

import httpx2
import pytest

from tests.serving import serving
from tests.tree import ROOT, project_files

pytestmark = pytest.mark.allow_hosts(["127.0.0.1"])

LOCK = ROOT / "requirements.lock"
HTMX = ROOT / "node_modules/htmx.org"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from the source archive, built in turn from a copy of the project."""
    copy = tmp_path_factory.mktemp("copy")
    for path in [*project_files(), HTMX / "dist/htmx.min.js", HTMX / "LICENSE"]:
        target = copy / path.relative_to(ROOT)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(path, target)
    built = tmp_path_factory.mktemp("built")
    run("tar", "--extract", "--file", build("sdist", copy, built), cwd=built)
    return build("wheel", next(path for path in built.iterdir() if path.is_dir()), built)


@pytest.fixture(scope="module")
def address(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of the installed application, started where neither the checkout nor Node.js is in reach."""
    folder = tmp_path_factory.mktemp("installed")
    run(sys.executable, "-m", "venv", "--without-pip", folder)
    environment = {"PATH": str(folder / "bin"), "HOME": str(folder), "OMP_NUM_THREADS": "1"}
    environment |= link_locked(folder)
    install = ["-m", "pip", "--python", folder / "bin/python", "install", "--quiet", "--no-compile", "--no-deps"]
    run(sys.executable, *install, wheel)
    with serving([folder / "bin/lightgap", "--port", "0"], folder / "output.txt", folder, environment) as address:
        yield address


def locked(path: Path) -> dict[str, set[str]]:
    """Return each requirement of a lock file, name and version, and the hashes that it may have."""
    found: dict[str, set[str]] = {}
    for line in path.read_text().splitlines():
        if pinned := re.match(r"[\w.-]+==[^ ;]+", line):
            hashes = found.setdefault(pinned[0], set())
        hashes |= set(re.findall(r"--hash=(\S+)", line)) if found else set()
    return found


def link_locked(folder: Path) -> dict[str, str]:
    """Put what the lock names, and nothing else, into a new environment, as it is installed for the tests.

    Returns
    -------
    dict of str to str
        What the environment must say so that nothing is compiled again.
    """
    place = Path("lib", f"python{sys.version_info.major}.{sys.version_info.minor}", "site-packages")
    parts = {
        file.parts[0] for requirement in locked(LOCK) for file in distribution(requirement.partition("==")[0]).files
    }
    folders = {folder / place: Path(sysconfig.get_path("purelib"))}
    if sys.pycache_prefix:
        compiled = folder / "compiled"
        folders |= {
            compiled / new.relative_to("/"): Path(sys.pycache_prefix) / old.relative_to("/")
            for new, old in folders.items()
        }
    for new, old in folders.items():
        new.mkdir(parents=True, exist_ok=True)
        for part in parts - {".."}:
            if (old / part).exists():
                (new / part).symlink_to(old / part)
    return {"PYTHONPYCACHEPREFIX": str(compiled)} if sys.pycache_prefix else {}


def build(target: str, source: Path, destination: Path) -> Path:
    """Return what hatchling makes of the project in `source`."""
    run(sys.executable, "-m", "hatchling", "build", "--target", target, "--directory", destination, cwd=source)
    return next(destination.glob("*.whl" if target == "wheel" else "*.tar.gz"))


def run(*command: str | Path, cwd: Path | None = None) -> None:
    """Run `command`; a failure shows what it printed."""
    result = subprocess.run(command, cwd=cwd, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    assert result.returncode == 0, result.stdout


def get(address: str, path: str) -> httpx2.Response:
    return httpx2.get(address + path, trust_env=False)


def test_the_wheel_holds_everything_that_is_used(wheel):
    used = [path.relative_to(ROOT) for path in project_files()]
    wanted = {path.as_posix() for path in used if path.parts[0] in ("engine", "webapp")}
    wanted |= {f"webapp/{path.as_posix()}" for path in used if path.parts[0] in ("templates", "static")}
    wanted |= {"webapp/static/vendor/htmx.min.js", "webapp/static/vendor/htmx.LICENSE.txt"}
    with zipfile.ZipFile(wheel) as archive:
        held = {name for name in archive.namelist() if ".dist-info/" not in name}

    assert held == wanted


def test_what_is_installed_for_the_tests_is_what_the_lock_names():
    for_tests = locked(ROOT / "requirements-test.lock")
    assert {name: for_tests.get(name) for name in locked(LOCK)} == locked(LOCK)
    assert [
        name for name in locked(LOCK) if name != f"{name.partition('==')[0]}=={version(name.partition('==')[0])}"
    ] == []


def test_the_command_serves(address):
    assert get(address, "/healthz").json()["status"] == "ok"


def test_htmx_is_the_one_from_npm(address):
    assert get(address, "/static/vendor/htmx.min.js").content == (HTMX / "dist/htmx.min.js").read_bytes()


def test_the_start_page_answers(address):
    assert get(address, "/").status_code == 200
