"""`/api/kept`: keeping, reading, saving over, deleting; whatever is sent gets a clear answer."""

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.api.test_fuzz import SPECIMENS, refuse_constants
from tests.asking import Asking
from webapp.app import create_app
from webapp.hunting.rates import Allowance, Rates
from webapp.settings import Settings

SENT = {"title": "A panel of 36 V", "notes": "R1 runs *warm*.", "scenario": "r1=6800&vs=36 V"}
WIDE = Allowance(1e9, 1e9)


@pytest.fixture(scope="module")
def client(module_database):
    app = create_app(Settings(database=module_database))
    app.state.hunt_rates = Rates(keeping=WIDE, keeping_all=WIDE, saving=WIDE)
    yield Asking(app, base_url="http://testserver")
    app.state.store.close()


@pytest.fixture
def made(client):
    """The answer to a scenario that was kept just now."""
    answer = client.post("/api/kept", json=SENT)
    assert answer.status_code == 201
    return answer.json()


def put(client, made, base='"1"', key=None, **sent):
    headers = {"Lightgap-Key": made["key"] if key is None else key} | ({"If-Match": base} if base else {})
    return client.put(f"/api/kept/{made['id']}", json=SENT | sent, headers=headers)


def problem(answer, status):
    """Return a problem after RFC 9457."""
    assert answer.status_code == status
    assert answer.headers["Content-Type"] == "application/problem+json"
    told = answer.json()
    assert (told["type"], told["status"], bool(told["title"]), bool(told["detail"])) == (
        "about:blank",
        status,
        True,
        True,
    )
    return told


def test_what_is_kept_is_answered_in_its_canonical_form_with_both_links(client, made):
    assert made["scenario"] == "vs=36V&r1=6k8"
    assert made["view"].endswith(f"/s/{made['id']}")
    assert made["edit"] == f"{made['view']}/edit/{made['key']}"
    assert all(client.get(made[link]).status_code == 200 for link in ("view", "edit"))


def test_place_and_revision_are_told(client):
    answer = client.post("/api/kept", json=SENT)
    found = client.get(answer.headers["Location"])
    assert found.headers["ETag"] == answer.headers["ETag"] == '"1"'
    expected = {name: text for name, text in answer.json().items() if name not in ("key", "view", "edit")}
    assert found.json() == expected
    assert (expected["format"], expected["version"], expected["revision"]) == ("lightgap-scenario", 1, 1)


def test_saving_over_the_present_revision_keeps_both(client, made):
    answer = put(client, made, title="Two", scenario="vs=24V")
    assert (answer.status_code, answer.headers["ETag"], answer.json()["revision"]) == (200, '"2"', 2)
    path = f"/api/kept/{made['id']}"
    assert client.get(path).json()["title"] == "Two"
    assert client.get(f"{path}?revision=1").json()["title"] == "A panel of 36 V"


@pytest.mark.parametrize("base", ['"1"', '"3"', '"0"', "2", "*", 'W/"2"', '"2", "1"', "x", '"99999999999999"'])
def test_saving_over_another_revision_changes_nothing(client, made, base):
    put(client, made, title="Of the other")
    told = problem(put(client, made, base, title="Mine"), 412)
    assert (told["current"]["title"], told["current"]["revision"]) == ("Of the other", 2)
    assert client.get(f"/api/kept/{made['id']}").json()["title"] == "Of the other"


def test_saving_blindly_is_refused(client, made):
    problem(put(client, made, base=None), 428)


def test_what_is_given_back_can_be_sent_as_it_came(client, made):
    found = client.get(f"/api/kept/{made['id']}").json()
    assert put(client, made, **found).status_code == 200


def test_deleting_needs_the_key_and_is_for_good(client, made):
    path = f"/api/kept/{made['id']}"
    problem(client.delete(path), 404)
    assert client.get(path).status_code == 200
    answer = client.delete(path, headers={"Lightgap-Key": made["key"]})
    assert (answer.status_code, answer.content) == (204, b"")
    for answer in (client.get(path), put(client, made), client.delete(path, headers={"Lightgap-Key": made["key"]})):
        problem(answer, 404)


def test_unknown_deleted_and_wrong_key_are_one_answer(client, made):
    gone = client.post("/api/kept", json=SENT).json()
    client.delete(f"/api/kept/{gone['id']}", headers={"Lightgap-Key": gone["key"]})
    nowhere = {"id": "nothing", "key": made["key"]}
    answers = [put(client, made, key="wrong"), put(client, made, key=""), put(client, gone), put(client, nowhere)]
    answers += [client.get("/api/kept/nothing"), client.get(f"/api/kept/{made['id']}?revision=9")]
    assert {(answer.status_code, answer.text) for answer in answers} == {(404, answers[0].text)}


@pytest.mark.parametrize("revision", ["", "0", "-1", "x", "1.0", "\u0661", "9" * 30])
def test_a_revision_that_is_none_is_not_found(client, made, revision):
    problem(client.get(f"/api/kept/{made['id']}", params={"revision": revision}), 404)


@pytest.mark.parametrize(
    ("change", "fields"),
    [
        ({"title": ""}, ["title"]),
        ({"title": "t" * 121, "scenario": "vs=much"}, ["title", "scenario"]),
        ({"notes": 3}, ["notes"]),
        ({"notes": "n" * 5001}, ["notes"]),
        ({"scenario": None}, ["scenario"]),
        ({"format": "x"}, ["format"]),
        ({"format": "lightgap-scenario", "version": 2}, ["version"]),
        ({"colour": 1}, ["colour"]),
        ({"title": "\ud800"}, ["title"]),
    ],
)
def test_every_rejected_member_is_named(client, made, change, fields):
    text = json.dumps(SENT | change)
    key = {"Lightgap-Key": made["key"], "If-Match": '"1"'}
    for answer in (
        client.post("/api/kept", content=text),
        client.put(f"/api/kept/{made['id']}", content=text, headers=key),
    ):
        assert [one["field"] for one in problem(answer, 422)["errors"]] == fields


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"\xff", b"[" * 20_000, b"null", b'{"title":'])
def test_what_is_no_object_is_told(client, body):
    problem(client.post("/api/kept", content=body), 400)


def test_a_body_that_is_too_long_is_refused(client):
    problem(client.post("/api/kept", content=b" " * 65_537), 413)


def test_the_description_has_every_answer(client):
    paths = client.get("/openapi.json").json()["paths"]
    assert set(paths["/api/kept"]) == {"post"}
    assert set(paths["/api/kept/{document}"]) == {"get", "put", "delete"}
    assert {"200", "404", "412", "422", "428", "429"} <= set(paths["/api/kept/{document}"]["put"]["responses"])


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=40) | st.sampled_from(SPECIMENS),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
members = st.sampled_from(["title", "notes", "scenario", "format", "version", "id", "at"])
scenarios = st.builds("{}={}".format, st.sampled_from(["vs", "r1", "in", "ctr", "rl", "x"]), st.sampled_from(SPECIMENS))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    sent=anything
    | st.dictionaries(members | st.text(max_size=8), anything, max_size=6)
    | st.fixed_dictionaries({"title": st.text(max_size=20), "notes": st.text(max_size=60), "scenario": scenarios}),
    base=st.sampled_from(['"1"', "*", "", "\x00", "é"]) | st.text(max_size=8),
)
def test_anything_that_is_sent_gets_a_clear_answer(client, made, sent, base):
    text = json.dumps(sent)
    key = {"Lightgap-Key": made["key"], "If-Match": base.encode("utf-8", "replace")}
    try:
        answers = [client.post("/api/kept", content=text)]
        answers.append(client.put(f"/api/kept/{made['id']}", content=text, headers=key))
    except UnicodeError:  # what no header can carry
        return
    for answer in answers:
        assert answer.status_code in (200, 201, 400, 412, 413, 422)
        json.loads(answer.text, parse_constant=refuse_constants)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(body=st.binary(max_size=200), kind=st.sampled_from(["/keep", "/keep/import", "/api/kept"]))
def test_any_bytes_get_a_clear_answer(client, body, kind):
    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    answer = client.post(kind, content=body, headers=headers, follow_redirects=False)
    assert answer.status_code in (303, 400, 422)
    assert "Traceback" not in answer.text
