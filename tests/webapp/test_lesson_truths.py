"""Lessons as records: what may be said, what is asked of which stage, what a prediction is worth."""

import json
from dataclasses import replace

import pytest

from engine import operating_point, scenario_from_query
from tests.each import of_each
from webapp.lessons.lesson import LEVEL, Ask, Lesson, LessonError, Step, body_of, file_of, lesson_from
from webapp.lessons.shipped import shipped_lessons
from webapp.lessons.truths import (
    PredictionError,
    judged,
    query_typed,
    settled,
    settled_step,
    truth_of,
)
from webapp.lessons.typed import STEP_FIELDS, step_typed, texts_from
from webapp.present.lessons import answer_view, changes

STAGE = "vs=24V&r1=4k7&vcc=5V&rl=1k&logic=hct"
WEAK = "vs=24V&r1=4k7&ctr=min&vcc=5V&rl=1k&logic=hct"
STEP = Step("Weak", "A *text*.", STAGE, "window", Ask("VOUT", "closed", "What is VOUT?", WEAK, "So."), "Mind.")
PAGE = {"title": "T", "steps": [{"title": "S", "scenario": STAGE}], "format": "lightgap-lesson", "version": 1}


def solved(query, state="closed"):
    return operating_point(scenario_from_query(query)).states[state]


def test_the_answer_is_what_the_engine_finds_for_the_changed_stage():
    found, truth = solved(WEAK).quantities["VOUT"], truth_of(STEP)
    assert (truth.value, truth.low, truth.high) == (found.value, found.low, found.high)
    assert truth.before == solved(STAGE).quantities["VOUT"].value
    own = truth_of(replace(STEP, ask=replace(STEP.ask, after=None)))
    assert (own.value, own.before) == (truth.before, None)


def test_a_prediction_is_weighed_by_distance_window_and_direction():
    value = truth_of(STEP).value
    good = judged(STEP, f"{value * 1.04:.6f} V")
    assert good.off == pytest.approx(0.04, rel=1e-3)
    assert (good.near, good.right, good.way, good.predicted_way) == (0.05, True, "rises", "rises")
    low = judged(STEP, "300mV")
    assert (low.right, low.predicted_way) == (False, "falls")
    assert low.near is None
    assert judged(STEP, "686 mV").predicted_way == "stays"


def test_both_ends_of_the_window_count_as_within_as_they_are_printed():
    truth = truth_of(STEP)
    for end, beyond in ((truth.low, 0.98), (truth.high, 1.02)):
        assert judged(STEP, f"{end:.3g} V").right
        assert not judged(STEP, f"{end * beyond:.3g} V").right


def test_sentences_tell_the_distance_the_window_and_the_way():
    told = dict((sentence, kind) for kind, sentence in answer_view(STEP, judged(STEP, "4.9 V")).verdicts)
    assert list(told.values()) == ["told", "bad", "good"]
    assert next(iter(told)).startswith("It is 300 % above")
    far = answer_view(STEP, judged(STEP, "1 MV")).verdicts[0][1]
    assert far == "It is more than 10 times above what was worked out."
    near = answer_view(STEP, judged(STEP, f"{truth_of(STEP).value:.3g}")).verdicts[0][1]
    assert near == "It is what was worked out, to within 1 %."


def test_a_quantity_that_is_nothing_is_off_by_a_difference():
    step = Step("Dark", "", "vs=24V", "", Ask("IF", "open", "How large is IF?"))
    told = judged(step, "1 mA")
    assert told.off is None
    assert answer_view(step, told).verdicts[0] == ("told", "It is off by 1.00 mA.")


def test_a_ratio_that_counts_is_typed_without_percent():
    step = Step("Margin", "", STAGE, "", Ask("overdrive", "closed", "How many times over?"))
    assert judged(step, "1.09").near == 0.01
    assert answer_view(step, None).found == "1.09"
    with pytest.raises(PredictionError, match="'%' is not a unit"):
        judged(step, "109 %")


def test_a_level_is_right_or_not_and_one_of_those_of_the_stage():
    step = Step("Dark", "", "in=two-wire", "", Ask(LEVEL, "open", "What is read?", "in=two-wire&rb=none"))
    truth = truth_of(step)
    assert (truth.level, truth.sure, truth.level_before) == ("low", False, "high")
    assert judged(step, "low").right
    assert not judged(step, "high").right
    with pytest.raises(PredictionError, match="low, undefined, high"):
        judged(step, "lit")


def test_words_are_not_judged():
    step = Step("Why", "", STAGE, "", Ask("words", "closed", "Why?", None, "Because."))
    assert truth_of(step) is None
    assert judged(step, " it leaks ").text == "it leaks"


@of_each(["", "  ", "abc", "3 A", "nan", "inf V", "1e999", "4,7", "x" * 500, "\x00", "1" * 39])
def test_what_is_no_prediction_is_refused_in_a_sentence(text):
    with pytest.raises(PredictionError, match=r"\w.*\.$"):
        judged(STEP, text)


@of_each(
    [
        ("/stage?vs=36V&r1=6k8&panel=window&p.x=1&was=vs%3D1V", ("vs=36V&r1=6k8", "window")),
        ("http://localhost:8000/stage?r1=6800#top", ("r1=6k8", "")),
        ("r1=6800", ("r1=6k8", "")),
        ("/stage", ("", "")),
        ("", ("", "")),
        ("?", ("", "")),
        ("/stage?panel=<x>", ("", "")),
    ]
)
def test_a_stage_is_typed_as_an_address_or_a_query(text, found):
    assert query_typed(text) == found


@of_each([("hello", "no address"), ("nope=1", "no such field"), ("r1=4,7k", "comma"), ("vs=" + "1" * 9000, "longer")])
def test_what_is_no_stage_is_told(text, why):
    with pytest.raises(ValueError, match=why):
        query_typed(text)


def test_a_step_goes_through_its_form_and_back():
    assert step_typed(texts_from(STEP)) == STEP
    bare = Step("Only", scenario="")
    assert step_typed(texts_from(bare)) == bare
    usual_after = replace(STEP, ask=replace(STEP.ask, after=""))
    assert step_typed(texts_from(usual_after)) == usual_after


def test_every_wrong_field_of_a_form_is_named_at_once():
    texts = dict.fromkeys(STEP_FIELDS, "") | {"stage": "r1=4,7k", "what": "VOUT", "after": "x=1", "notes": "\x07"}
    with pytest.raises(LessonError) as caught:
        step_typed(texts)
    assert set(caught.value.wrong) == {"title", "stage", "question", "after", "notes"}


def test_what_a_stage_does_not_have_cannot_be_asked_for():
    texts = texts_from(STEP) | {"what": "VK"}
    with pytest.raises(LessonError, match="has no such quantity in this state; it has IF, VF") as caught:
        step_typed(texts)
    assert set(caught.value.wrong) == {"what"}


def test_a_lesson_goes_through_its_data_and_back():
    lesson = Lesson("T", "Intro", (STEP, Step("Plain", scenario="")))
    assert lesson_from(json.loads(json.dumps(body_of(lesson))), "T") == lesson
    assert lesson_from(json.loads(json.dumps(file_of(lesson)))) == lesson


@of_each(
    [
        (PAGE | {"format": "x"}, "format"),
        (PAGE | {"version": 2}, "version"),
        (PAGE | {"version": True}, "version"),
        (PAGE | {"title": "  "}, "title"),
        (PAGE | {"title": 1}, "title"),
        (PAGE | {"more": 1}, ""),
        (PAGE | {"steps": {}}, "steps"),
        (PAGE | {"steps": [{"title": "S"}] * 31}, "steps"),
        (PAGE | {"steps": [1]}, "steps.1"),
        (PAGE | {"steps": [{"title": "S"}, {"text": "x"}]}, "steps.2.title"),
        (PAGE | {"steps": [{"title": "S", "text": "x" * 4001}]}, "steps.1.text"),
        (PAGE | {"steps": [{"title": "S", "panel": "../x"}]}, "steps.1.panel"),
        (PAGE | {"steps": [{"title": "S", "ask": {}}]}, "steps.1.ask.what"),
        (PAGE | {"steps": [{"title": "S", "ask": {"what": "IF", "question": "?", "state": "x"}}]}, "steps.1.ask.state"),
        ([], ""),
        (None, ""),
        ("x", ""),
    ]
)
def test_data_that_are_no_lesson_are_refused_by_field(data, field):
    with pytest.raises(LessonError) as caught:
        lesson_from(data)
    assert field in caught.value.wrong


def test_stages_of_a_file_are_solved_before_it_is_kept():
    bad = lesson_from(PAGE | {"steps": [{"title": "S", "scenario": "r1=9"}, {"title": "S", "scenario": "x=1"}]})
    with pytest.raises(LessonError) as caught:
        settled(bad)
    assert set(caught.value.wrong) == {"steps.2.scenario"}
    assert settled(lesson_from(PAGE | {"steps": [{"title": "S", "scenario": "r1=6800"}]})).steps[0].scenario == "r1=6k8"


def test_changes_are_named_as_the_form_names_them():
    assert [(c.label, c.before, c.after) for c in changes(STAGE, WEAK)] == [("Transfer ratio", "typ", "min")]
    kinds = [(c.label, c.after) for c in changes("", "in=two-wire&out=indicator")]
    assert kinds == [("Input side", "Two-wire sensor"), ("Output side", "Indicator LED")]


def test_lessons_that_come_along_are_settled_and_every_answer_is_there():
    assert "from-switch-to-logic" in shipped_lessons()
    for lesson in shipped_lessons().values():
        assert settled(lesson) == lesson
        for step in lesson.steps:
            truth = truth_of(step)
            assert truth is not None
            assert truth.level or truth.low <= truth.value <= truth.high


def test_texts_of_lessons_that_come_along_do_not_type_the_answer():
    for lesson in shipped_lessons().values():
        for step in lesson.steps:
            view = answer_view(step, None)
            number = view.found.split()[0]
            assert number not in f"{step.text} {step.ask.question} {step.ask.answer}" or step.ask.what == LEVEL


def test_settling_keeps_a_step_without_a_question():
    assert settled_step(Step("S", scenario="r1=6800")).ask is None
