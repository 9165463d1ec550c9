"""Every symbol of the engine says what it means, in one sentence that can be read at a glance."""

import re
from itertools import product

import pytest

from engine import INPUTS, OUTPUTS, Conditions, Coupling, declared, operating_point, reasoning_of, scenario_from_query
from webapp.present.cycle import MEANINGS
from webapp.present.load_figures import NAMES
from webapp.present.panels import PANELS
from webapp.terms import LONGEST_SENTENCE, TERMS, term_of, terms_said

FIELDS = {
    parameter.symbol
    for record in (*INPUTS.values(), *OUTPUTS.values(), Coupling, Conditions)
    for parameter in declared(record).values()
}
UNITS = {"", "1", "A", "C", "F", "H", "Hz", "V", "V, A", "V/s", "W", "a", "count", "deg", "degC", "eV", "m", "ohm", "s"}


def quantities() -> set[str]:
    """Return the names of all that is solved, and compared by hand, of a stage of every input and output side."""
    found = set(NAMES) | set(MEANINGS)
    for side, load in product(INPUTS, OUTPUTS):
        if side == "contact-low" or load == "pull-up":
            point = operating_point(scenario_from_query(f"in={side}&out={load}"))
            found |= {name for state in point.states.values() for name in state.quantities}
            found |= {c.symbol for state in point.states for c in reasoning_of(point, state).comparisons}
    return found


@pytest.mark.parametrize("symbol", sorted(FIELDS))
def test_every_field_has_a_term(symbol):
    assert term_of(symbol) is not None


def test_every_quantity_has_a_term():
    found = quantities()
    assert {"IF", "CTR_needed", "overdrive", "V_peak", "VLOAD", "V line"} <= found
    assert [name for name in sorted(found) if term_of(name) is None] == []


def test_the_words_that_everybody_stumbles_over_have_a_term():
    said = (
        "CTR", "saturation", "overdrive", "ICEO", "VCE(sat)", "VF", "R1", "pull-up", "pull-down", "worst case",
        "corner", "sinking", "sourcing", "creepage", "clearance", "storage time", "VIL", "VIH", "CMTI",
        "TJ", "derating",
    )  # fmt: skip
    assert [symbol for symbol in said if symbol not in TERMS] == []


@pytest.mark.parametrize("term", TERMS.values(), ids=lambda term: term.symbol)
def test_a_term_is_one_or_two_plain_sentences(term):
    assert term.name
    assert 20 <= len(term.sentence) <= LONGEST_SENTENCE
    assert re.fullmatch(r"[A-Z0-9].*\.", term.sentence)
    assert term.unit in UNITS
    assert [symbol for symbol in term.see if symbol not in TERMS or symbol == term.symbol] == []


def test_no_two_terms_share_a_place_or_a_label():
    labels = [label for term in TERMS.values() for label in (term.symbol, *term.covers)]
    assert len({term.id.lower() for term in TERMS.values()}) == len(TERMS)
    assert len(set(labels)) == len(labels)


def test_what_panels_name_has_a_term():
    named = {symbol for panel in PANELS.values() for symbol in panel.terms}
    assert len(named) > 15
    assert named <= set(TERMS)


@pytest.mark.parametrize(
    ("label", "symbol"),
    [("IC_needed", "IC needed"), ("VS tolerance", "VS"), ("VCE(sat), typical", "VCE(sat)"), ("Delay", "delay")],
)
def test_a_label_leads_to_its_term(label, symbol):
    assert term_of(label).symbol == symbol


@pytest.mark.parametrize("label", ["", ",", "Flux", "IFX", "overdriven"])
def test_another_label_leads_to_none(label):
    assert term_of(label) is None


def test_a_text_names_the_terms_that_it_speaks_of():
    text = "At the worst corner RL and ICEO count; CTRL and cornered do not."
    assert [term.symbol for term in terms_said(text)] == ["corner", "RL", "ICEO"]
