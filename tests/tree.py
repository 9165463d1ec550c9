"""The files of the project, as tests see them."""

import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def project_files() -> list[Path]:
    """Return every file that is tracked, or would be after `git add --all`."""
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    listing = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    paths = [ROOT / name for name in sorted(set(listing.split("\0"))) if name]
    return [path for path in paths if path.is_file()]
