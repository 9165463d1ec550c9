"""Static files: read or made once at the start, served under addresses that change with their content.

The address of a file is `/static/<hash>/<path>`, the hash being one over all files. So a script module or a
style sheet that names another by a relative path finds the one of the same version. Also here: where the
folders `static` and `templates` are, in a checkout and in an installed wheel. Rendering is not here.
"""

import hashlib
import mimetypes
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

PACKAGE = Path(__file__).resolve().parent
HTMX = "vendor/htmx.min.js"
FOR_A_YEAR = "public, max-age=31536000, immutable"
ASK_AGAIN = "no-cache"


class AssetError(RuntimeError):
    """A file that pages need and that is not there; the sentence says how to get it."""


@dataclass(frozen=True, slots=True)
class StaticFile:
    """One file as it is sent.

    Attributes
    ----------
    content : bytes
        The bytes of the file.
    media_type : str
        Its type, by its name.
    etag : str
        Hash of the content, in the quotes that HTTP wants.
    """

    content: bytes
    media_type: str
    etag: str


class Assets:
    """The static files of one running application.

    Parameters
    ----------
    paths : dict of str to Path
        Where each file is read from, by its path below `/static`.
    made : dict of str to bytes
        Contents of files that are read nowhere, likewise.
    """

    def __init__(self, paths: dict[str, Path], made: Mapping[str, bytes] = MappingProxyType({})) -> None:
        contents = {name: path.read_bytes() for name, path in paths.items()} | dict(made)
        self._files = {name: _file(name, content) for name, content in sorted(contents.items())}
        versions = "".join(name + file.etag for name, file in self._files.items())
        self.version = _short_hash(versions.encode())

    def url(self, name: str) -> str:
        """Return the address of the file `name`, such as "css/page.css"."""
        if name not in self._files:
            raise AssetError(f"there is no static file {name}")
        return f"/static/{self.version}/{name}"

    async def serve(self, request: Request) -> Response:
        """Answer `/static/<path>`: for a year under the present hash, otherwise to be asked for again."""
        version, name = _split_version(request.path_params["path"])
        if name not in self._files:
            raise HTTPException(404)
        file = self._files[name]
        headers = {"ETag": file.etag, "Cache-Control": FOR_A_YEAR if version == self.version else ASK_AGAIN}
        if file.etag in request.headers.get("If-None-Match", ""):
            return Response(status_code=304, headers=headers)
        return Response(file.content, media_type=file.media_type, headers=headers)


def load_assets(made: Mapping[str, bytes] = MappingProxyType({})) -> Assets:
    """Return the files of the `static` folder, with htmx and with those that are `made`: name to content."""
    static = folder("static")
    paths = {path.relative_to(static).as_posix(): path for path in static.rglob("*") if path.is_file()}
    if HTMX not in paths:
        paths[HTMX] = _installed_htmx()
    return Assets(paths, made)


def folder(name: str) -> Path:
    """Return the folder `name`: of the wheel, in the package, or of the checkout, beside it."""
    for parent in (PACKAGE, PACKAGE.parent):
        if (parent / name).is_dir():
            return parent / name
    raise AssetError(f"the folder {name} is neither in nor beside {PACKAGE}; install Lightgap again")


def _installed_htmx() -> Path:
    """Return htmx where npm puts it."""
    path = PACKAGE.parent / "node_modules/htmx.org/dist/htmx.min.js"
    if not path.is_file():
        raise AssetError(f"htmx is missing; run 'make run' or 'npm ci' in {PACKAGE.parent}")
    return path


def _file(name: str, content: bytes) -> StaticFile:
    """Return a file as it is sent."""
    media_type = mimetypes.guess_type(name)[0] or "application/octet-stream"
    return StaticFile(content, media_type, f'"{_short_hash(content)}"')


def _split_version(path: str) -> tuple[str, str]:
    """Return the hash that leads `path`, or "", and the rest."""
    match = re.fullmatch(r"([0-9a-f]{12})/(.+)", path)
    return match.groups() if match else ("", path)


def _short_hash(content: bytes) -> str:
    """Return twelve hexadecimal digits that stand for `content`."""
    return hashlib.sha256(content).hexdigest()[:12]
