"""`/api/lessons`: what a lesson tells of itself, and that no answer is told before it is asked for."""

import json
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.api.test_fuzz import SPECIMENS, refuse_constants
from tests.api.test_kept import problem
from tests.asking import Asking
from webapp.app import create_app
from webapp.hunting.rates import Allowance, Rates
from webapp.lessons.shipped import shipped_lessons
from webapp.settings import Settings

READY = "from-switch-to-logic"
WIDE = Allowance(1e9, 1e9)
STEPS = [
    {"title": "Look", "text": "At *this*.", "scenario": "vs=24V&rl=1k", "panel": "life", "notes": "Mine alone."},
    {"title": "Own", "scenario": "vs=36V", "panel": "off", "ask": {"what": "IF", "question": "IF?", "answer": "So."}},
    {
        "title": "Changed",
        "scenario": "vs=24V&rl=1k",
        "ask": {"what": "VOUT", "question": "VOUT?", "after": "vs=24V&rl=1k&ctr=min", "answer": "Weak."},
    },
    {"title": "Level", "scenario": "vs=12V", "ask": {"what": "level", "question": "Read?", "after": "vs=5V"}},
    {"title": "Words", "scenario": "vs=44V", "ask": {"what": "words", "question": "Why?", "answer": "Because."}},
    {"title": "On", "scenario": "vs=24V&ctr=min&rl=1k&sw=open"},
]
LESSON = {"format": "lightgap-lesson", "version": 1, "title": "Mine", "intro": "Of *my* own.", "steps": STEPS}


@pytest.fixture(scope="module")
def client(module_database):
    app = create_app(Settings(database=module_database))
    app.state.hunt_rates = Rates(keeping=WIDE, keeping_all=WIDE)
    yield Asking(app, base_url="http://testserver", follow_redirects=False)
    app.state.store.close()


@pytest.fixture
def made(client):
    """The path of a lesson of one's own in the API, and its key."""
    sent = {"file": ("lesson.json", json.dumps(LESSON).encode())}
    page, _, key = client.post("/lesson/import", files=sent).headers["Location"].partition("/edit/")
    return f"/api{page.replace('/lesson/', '/lessons/')}", key.partition("?")[0]


def read(client, path, **query):
    answer = client.get(path, params=query)
    assert answer.status_code == 200, answer.text
    assert answer.headers["Content-Type"] == "application/json"
    return answer.json()


def test_the_list_has_every_lesson_that_comes_along(client):
    found = read(client, "/api/lessons")["lessons"]
    assert [one["id"] for one in found] == list(shipped_lessons())
    for one in found:
        assert client.get(one["page"]).status_code == 200
        assert read(client, f"/api/lessons/{one['id']}") | {"steps": one["steps"]} == one | {"revision": None}


def test_a_lesson_tells_its_steps_but_no_stage_that_gives_an_answer(client, made):
    path, key = made
    answer = client.get(path)
    told = answer.json()
    assert (told["title"], told["intro"], told["revision"]) == ("Mine", "Of *my* own.", 1)
    assert [step["title"] for step in told["steps"]] == [step["title"] for step in STEPS]
    assert [step["scenario"] for step in told["steps"]] == [
        "vs=24V&rl=1k",
        None,
        "vs=24V&rl=1k",
        "vs=12V",
        "vs=44V",
        None,
    ]
    assert told["steps"][2]["ask"] == {"question": "VOUT?", "what": "VOUT", "state": "closed"}
    assert told["steps"][0]["ask"] is None
    assert all(client.get(step["page"]).status_code == 200 for step in told["steps"])
    for hidden in (key, "Mine alone.", "So.", "Weak.", "Because.", "vs=36V", "ctr=min"):
        assert hidden not in answer.text


@pytest.mark.parametrize(
    ("number", "scenario", "hidden"),
    [(2, None, "vs=36V"), (3, "vs=24V&rl=1k", "ctr=min"), (4, "vs=12V", "vs=5V"), (5, "vs=44V", "Because.")],
)
def test_an_answer_is_told_to_who_asks_alone(client, made, number, scenario, hidden):
    path = f"{made[0]}/{number}"
    before = client.get(path)
    told = before.json()
    assert (told["scenario"], told["answer"], told["predicted"], told["panel"]) == (scenario, None, None, None)
    assert hidden not in before.text
    after = read(client, path, show="1")
    assert hidden in json.dumps(after["answer"]) + str(after["scenario"])
    assert after["predicted"] is None
    assert after["scenario"] == STEPS[number - 1]["scenario"]


def test_what_is_asked_is_told_with_unit_levels_and_changes(client, made):
    path = made[0]
    own, changed, level, words = (read(client, f"{path}/{number}")["ask"] for number in (2, 3, 4, 5))
    assert (own["unit"], own["choices"], own["changes"]) == ("A", [], [])
    assert changed["unit"] == "V"
    assert [one["after"] for one in changed["changes"]] == ["min"]
    assert (level["unit"], level["choices"]) == (None, ["low", "undefined", "high"])
    assert (words["what"], words["unit"]) == ("words", None)


def test_the_answer_is_that_of_the_stage(client, made):
    answer = read(client, f"{made[0]}/3", show="")["answer"]
    states = [client.get(f"/api/stage?{query}").json()["states"] for query in ("vs=24V&rl=1k", answer["scenario"])]
    before, after = (state["closed"]["quantities"]["VOUT"] for state in states)
    assert (answer["value"], answer["low"], answer["high"]) == (after["value"], after["low"], after["high"])
    assert answer["before"] == before["value"]
    assert answer["said"] == "Weak."
    level = read(client, f"{made[0]}/4", show="")["answer"]
    assert level["level"] == client.get("/api/stage?vs=5V").json()["states"]["closed"]["receiver"]["level"]


def test_a_prediction_is_weighed_beside_the_answer(client, made):
    path = f"{made[0]}/3"
    value = read(client, path, show="")["answer"]["value"]
    near = read(client, path, guess=f"{value * 1.04:.6g} V")
    assert near["answer"]["value"] == value
    assert near["predicted"]["off"] == pytest.approx(0.04, rel=1e-3)
    assert (near["predicted"]["right"], near["predicted"]["near"]) == (True, 0.05)
    assert (near["predicted"]["way"], near["predicted"]["predicted_way"]) == ("rises", "rises")
    wrong = read(client, path, guess="0.01 V")["predicted"]
    assert (wrong["right"], wrong["predicted_way"]) == (False, "falls")
    words = read(client, f"{made[0]}/5", guess="No idea.")
    assert words["predicted"]["right"] is None
    assert words["answer"]["said"] == "Because."


@pytest.mark.parametrize("guess", ["", "much", "4,7 V", "x" * 401, "1e30 V", "5 A"])
def test_a_prediction_that_cannot_be_read_is_refused_and_tells_no_answer(client, made, guess):
    told = problem(client.get(f"{made[0]}/3", params={"guess": guess}), 422)
    (error,) = told["errors"]
    assert error["field"] == "guess"
    assert error["reason"]
    assert "ctr" not in json.dumps(told)


@pytest.mark.parametrize(
    "path", ["/nothing", "/nothing/1", f"/{READY}/0", f"/{READY}/99", f"/{READY}/x", f"/{READY}/1.0"]
)
def test_what_is_not_there_is_told(client, path):
    problem(client.get(f"/api/lessons{path}"), 404)


def test_a_lesson_of_another_version_is_told(client, made, monkeypatch):
    monkeypatch.setattr("webapp.lessons.lesson.VERSION", 2)
    problem(client.get(made[0]), 410)


def test_a_step_whose_stage_cannot_be_read_any_more_is_told(client, made, monkeypatch):
    monkeypatch.setattr("webapp.lessonanswers.unit_of", dict().__getitem__)
    problem(client.get(f"{made[0]}/3"), 410)


def test_the_description_names_the_lesson_that_is_always_there(client):
    paths = client.get("/openapi.json").json()["paths"]
    for path in ("/api/lessons/{lesson}", "/api/lessons/{lesson}/{step}"):
        given = {one["name"]: one["schema"].get("default") for one in paths[path]["get"]["parameters"]}
        named = path.format_map(given)
        assert client.get(named).status_code == 200
        assert {"200", "404", "410"} <= set(paths[path]["get"]["responses"])


pieces = st.one_of(st.sampled_from([*SPECIMENS, READY, "1", "6"]), st.text(max_size=20))


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lesson=pieces, step=pieces, query=st.dictionaries(st.sampled_from(["guess", "show", "sw", "vs"]), pieces))
def test_any_address_gets_a_clear_answer(client, lesson, step, query):
    places = [f"/api/lessons/{quote(lesson[:200], safe='')}", f"/api/lessons/{READY}/{quote(step[:200], safe='')}"]
    for place in (*places, f"/api/lessons/{READY}/2"):
        answer = client.get(place, params={key: text[:3000] for key, text in query.items()})
        assert answer.status_code in (200, 307, 404, 422), answer.text[:300]
        assert "Traceback" not in answer.text
        if answer.status_code != 307:
            json.loads(answer.text, parse_constant=refuse_constants)
