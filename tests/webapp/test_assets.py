"""Static files: their addresses, and what is sent under them."""

import json

import pytest

from tests.tree import ROOT
from webapp import assets
from webapp.assets import HTMX, AssetError, Assets, load_assets

YEAR = "public, max-age=31536000, immutable"


@pytest.fixture
def files(tmp_path):
    (tmp_path / "a.css").write_text("a {}")
    (tmp_path / "b.js").write_text("1")
    return {"css/a.css": tmp_path / "a.css", "js/b.js": tmp_path / "b.js"}


@pytest.fixture
def htmx_url(client):
    return client.app.state.templates.env.globals["asset"](HTMX)


def test_the_hash_is_one_for_all_files(files):
    loaded = Assets(files)

    assert loaded.url("css/a.css") == f"/static/{loaded.version}/css/a.css"
    assert loaded.url("js/b.js") == f"/static/{loaded.version}/js/b.js"


def test_the_hash_changes_with_any_content_and_any_name(files):
    versions = {Assets(files).version, Assets({**files, "js/c.js": files["js/b.js"]}).version}
    files["js/b.js"].write_text("2")
    versions.add(Assets(files).version)

    assert len(versions) == 3


def test_what_is_made_is_sent_like_what_is_read(files):
    made = Assets(files, {"names.json": b"{}"})

    assert made.url("names.json") == f"/static/{made.version}/names.json"
    assert len({made.version, Assets(files).version, Assets(files, {"names.json": b"[]"}).version}) == 3


def test_a_file_that_is_not_there_has_no_address(files):
    with pytest.raises(AssetError, match=r"there is no static file css/b\.css"):
        Assets(files).url("css/b.css")


def test_htmx_is_the_installed_one_and_of_the_wanted_version(client, htmx_url):
    wanted = json.loads((ROOT / "package.json").read_text())["dependencies"]["htmx.org"]
    installed = ROOT / "node_modules/htmx.org"

    assert json.loads((installed / "package.json").read_text())["version"] == wanted
    assert client.get(htmx_url).content == (installed / "dist/htmx.min.js").read_bytes()


def test_the_present_hash_is_kept_for_a_year(client, htmx_url):
    answer = client.get(htmx_url)

    assert answer.status_code == 200
    assert answer.headers["Cache-Control"] == YEAR
    assert answer.headers["Content-Type"].startswith("text/javascript")


@pytest.mark.parametrize("address", [f"/static/{HTMX}", f"/static/0123456789ab/{HTMX}"])
def test_any_other_address_is_asked_for_again(client, htmx_url, address):
    answer = client.get(address)

    assert answer.content == client.get(htmx_url).content
    assert answer.headers["Cache-Control"] == "no-cache"
    assert client.get(address, headers={"If-None-Match": answer.headers["ETag"]}).status_code == 304
    assert client.get(address, headers={"If-None-Match": '"another"'}).status_code == 200


@pytest.mark.parametrize(
    "path",
    ["", "vendor", "nothing.css", "..%2fpyproject.toml", "%2e%2e/pyproject.toml", "vendor/..%2f..%2fpyproject.toml"],
)
def test_nothing_else_is_sent(client, htmx_url, path):
    folder = htmx_url.removesuffix(HTMX)

    assert client.get(folder + path).status_code == 404
    assert client.get("/static/" + path).status_code == 404


def test_without_htmx_the_way_to_get_it_is_told(monkeypatch, tmp_path):
    (tmp_path / "webapp").mkdir()
    (tmp_path / "static").mkdir()
    monkeypatch.setattr(assets, "PACKAGE", tmp_path / "webapp")

    with pytest.raises(AssetError, match="htmx is missing; run 'make run' or 'npm ci' in"):
        load_assets()


def test_a_folder_in_the_package_comes_first(monkeypatch, tmp_path):
    (tmp_path / "webapp/static").mkdir(parents=True)
    (tmp_path / "static").mkdir()
    monkeypatch.setattr(assets, "PACKAGE", tmp_path / "webapp")

    assert assets.folder("static") == tmp_path / "webapp/static"
    with pytest.raises(AssetError, match="the folder templates is neither in nor beside"):
        assets.folder("templates")
