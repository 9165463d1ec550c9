"""No file, form or prediction of a lesson yields a 5xx, a NaN or a traceback."""

import json
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from tests.api.test_fuzz import SPECIMENS
from tests.asking import Asking
from webapp.app import create_app
from webapp.hunting.rates import Allowance, Rates
from webapp.lessons.typed import STEP_FIELDS
from webapp.settings import Settings

QUICK = {"deadline": None, "suppress_health_check": [HealthCheck.function_scoped_fixture]}
GENEROUS = ("keeping", "keeping_all", "saving")

ASK = {"what": "VOUT", "state": "closed", "question": "?", "after": "rl=1k", "answer": "x"}
STEP = {"title": "A", "text": "b", "scenario": "vs=24V", "panel": "life", "notes": "c", "ask": ASK}
LESSON = {"format": "lightgap-lesson", "version": 1, "title": "T", "intro": "i", "steps": [STEP]}

texts = st.one_of(st.sampled_from(SPECIMENS), st.text(max_size=40), st.sampled_from(["level", "words", "IF", "open"]))
values = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), texts),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(texts, inner, max_size=3)),
    max_leaves=6,
)


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    """A client of an application with a database of its own, which is never asked too often."""
    app = create_app(Settings(database=str(tmp_path_factory.mktemp("fuzz") / "kept.sqlite3")))
    app.state.hunt_rates = Rates(**{name: Allowance(1e6, 1e6) for name in GENEROUS})
    return Asking(app, follow_redirects=False)


@pytest.fixture(scope="module")
def own(browser):
    """The path by which a lesson of two steps is changed."""
    steps = [STEP, STEP | {"ask": ASK | {"what": "level"}}]
    return sent(browser, json.dumps(LESSON | {"steps": steps})).headers["Location"]


def sent(browser, text):
    return browser.post("/lesson/import", files={"file": ("lesson.json", text.encode("utf-8", "surrogatepass"))})


def fine(answer, *codes):
    assert answer.status_code in codes, answer.text[:500]
    assert "Traceback" not in answer.text


@settings(max_examples=60, **QUICK)
@given(
    lesson=st.dictionaries(st.one_of(st.sampled_from(sorted(LESSON)), texts), values, max_size=3),
    step=st.dictionaries(st.one_of(st.sampled_from(sorted(STEP)), texts), values, max_size=3),
    ask=st.dictionaries(st.one_of(st.sampled_from(sorted(ASK)), texts), values, max_size=3),
)
@example(lesson={}, step={}, ask={})
@example(lesson={"title": "\ud800"}, step={}, ask={})
@example(lesson={"version": 1e999}, step={}, ask={})
@example(lesson={}, step={"scenario": "out=ac-load"}, ask={"what": "angle", "after": "out=ac-load&vcc=120V"})
def test_any_members_of_a_file(browser, lesson, step, ask):
    text = json.dumps(LESSON | {"steps": [STEP | {"ask": ASK | ask} | step]} | lesson)
    answer = sent(browser, text)
    fine(answer, 303, 422)
    if answer.status_code == 303:
        kept = answer.headers["Location"]
        path = kept.partition("/edit/")[0]
        steps = len(json.loads(text).get("steps") or [])
        for address in (path, kept, *([f"{path}/1", f"{kept}/1"] if steps else [])):
            fine(browser.get(address), 200)
        again = browser.get(f"{kept}/file")
        fine(sent(browser, again.text), 303)


@settings(max_examples=40, **QUICK)
@given(text=st.one_of(st.text(max_size=200), values.map(json.dumps)))
def test_any_text_for_a_file(browser, text):
    fine(sent(browser, text), 422)
    fine(browser.post("/lesson/import", data={"text": text}), 422)


@settings(max_examples=50, **QUICK)
@given(guess=texts, step=st.sampled_from([1, 2]), switch=texts)
def test_any_prediction(browser, own, guess, step, switch):
    path = own.partition("/edit/")[0]
    answer = browser.get(f"{path}/{step}", params={"guess": guess, "sw": switch})
    fine(answer, 200, 422)


@settings(max_examples=50, **QUICK)
@given(fields=st.dictionaries(st.sampled_from([*STEP_FIELDS, "base", "action"]), texts, max_size=6))
def test_any_form_of_a_step_or_a_lesson(browser, own, fields):
    usual = {"base": "1", "title": "A", "stage": "/stage", "what": "", "question": "?"}
    fine(browser.post(f"{own}/new", data=usual | fields), 303, 409, 422)
    fine(browser.post(own, data=usual | fields), 303, 404, 409, 422)


@settings(max_examples=40, **QUICK)
@given(parts=st.tuples(texts, texts, texts))
def test_any_address(browser, parts):
    lesson, key, rest = (quote(part[:300].encode("utf-8", "replace"), safe="") for part in parts)
    for path in (f"/lesson/{lesson}", f"/lesson/{lesson}/{rest}", f"/lesson/{lesson}/edit/{key}/{rest}"):
        fine(browser.get(path), 200, 303, 307, 404, 405, 422)
