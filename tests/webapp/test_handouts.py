"""Hand-outs: a worksheet without answers, the answers, a report of what was chosen; titles and wrong choices."""

import re
from xml.etree import ElementTree

import pytest

from engine import (
    INPUTS,
    OUTPUTS,
    UNITS,
    findings_of,
    operating_point,
    questions_of,
    reading,
    scenario_from_query,
)
from tests.markup import tree_of
from webapp import __version__
from webapp.present.handouts.options import LONGEST_TITLE, PARTS, SHEETS
from webapp.present.handouts.sheet import LONGEST_LINK
from webapp.present.qr import qr_of

STAGE = "in=contact-high&vs=24V&r1=4k7"
LINE = "in=ac&dropper=capacitor&cs=10uF&out=controller"
SECTIONS = {
    "schematic": ".drawn", "parts": "#report-parts", "worked": "#report-worked", "findings": "#report-findings",
    "life": "#report-life", "timing": "#report-timing", "bench": "#report-bench",
    "insulation": "#report-insulation", "assumptions": "#report-assumptions",
}  # fmt: skip


def shown(client, query):
    answer = client.get(f"/handout?{query}")
    assert answer.status_code == 200, answer.text
    return tree_of(answer.text)


def text_of(node):
    return " ".join(node.get_text(" ").split())


def everything(page):
    """Return all that a page says, in texts and in attributes."""
    attributes = [str(value) for node in page.select("#content *") for value in node.attrs.values()]
    return " ".join([text_of(page.select_one("#content")), *attributes]).replace("\xa0", " ")


def asked(query):
    return questions_of(operating_point(scenario_from_query(query)))


def figures_to_find(query):
    return {
        " ".join(reading(one.value, UNITS[one.unit])).strip()
        for question in asked(query)
        for one in question.blanks
        if one.unit and one.value
    }


# ---------------------------------------------------------------- worksheet and answers


@pytest.mark.parametrize(
    "query", ["", STAGE, "r1=5k6&rl=auto", "in=logic&if=9mA", LINE, "out=relay", "out=ac-triac&if=15mA"]
)
def test_a_worksheet_holds_no_answer(client, query):
    page = shown(client, f"{query}&sheet=worksheet")
    picture = client.get(page.select_one(".drawn img")["src"]).text
    given = everything(page) + " " + re.sub(r"<[^>]*>", " ", picture[picture.index("</style>") :])
    found = figures_to_find(query)
    assert len(found) > 6
    told = {figure for figure in found if re.search(rf"(?<![\d.]){re.escape(figure)}(?!\w)", given)}
    assert not told
    assert not page.select(".answered, .step, #report-findings, .verdicts")


def test_a_worksheet_asks_every_question_with_its_blanks(client):
    page, questions = shown(client, f"{STAGE}&sheet=worksheet"), asked(STAGE)
    items = page.select("#handout-questions > li")
    assert [text_of(item.p) for item in items] == [question.asks for question in questions]
    for item, question in zip(items, questions, strict=True):
        assert len(item.select(".blank")) == sum(not one.words for one in question.blanks)
        assert len(item.select(".box")) == sum(len(one.words) for one in question.blanks)
    assert {span.get_text() for span in page.select(".written span")} == {"Name", "Class", "Date"}
    assert {term.get_text() for term in page.select(".given dt")} >= {
        "VS",
        "R1",
        "CTR",
        "VCE(sat)",
        "VOUT",
        "Resistors",
    }


def test_what_was_sized_is_not_given_but_the_current_it_is_sized_for_is(client):
    def terms(query):
        return {term.get_text() for term in shown(client, query).select(".given dt")}

    assert terms("") >= {"IF", "VS", "RL"}
    assert "R1" not in terms("")
    assert terms("r1=10k&if=5mA") >= {"R1", "RL"}
    assert "IF" not in terms("r1=10k&if=5mA"), "R1 decides it"
    assert terms("in=limited&if=5mA") >= {"R1", "IF"}


def test_the_answer_sheet_has_every_answer_with_its_window(client):
    page = shown(client, f"{STAGE}&sheet=answers")
    items = page.select("#handout-questions.answered > li")
    assert len(items) == len(asked(STAGE))
    answers = {bold.get_text() for item in items for bold in item.select(".blanks b")}
    assert answers >= figures_to_find(STAGE) | {"yes", "low", "high"}
    drive = next(item for item in items if item.p.get_text().startswith("Which current IF"))
    assert text_of(drive.select_one(".step")).startswith("IF = (24.0 V - VF) / R1 = 4.86 mA by hand.")
    assert text_of(drive.select_one(".blanks")) == "IF: 4.86 mA (4.11 – 5.68 mA)"


@pytest.mark.parametrize("query", [*(f"in={k}" for k in INPUTS if k != "contact-low"), *(f"out={k}" for k in OUTPUTS)])
@pytest.mark.parametrize("sheet", SHEETS)  # all of one stage in turn, as its figures are worked out once
def test_every_kind_of_stage_has_every_sheet(client, query, sheet):
    quick = "&p.part=parts&p.part=worked&p.part=findings" if sheet == "report" else ""
    page = shown(client, f"{query}&sheet={sheet}{quick}")
    assert text_of(page.h1) == SHEETS[sheet]
    assert page.select_one(".cautions")
    assert "None" not in text_of(page.select_one(".paper"))
    assert "nan" not in text_of(page.select_one(".paper")).lower().split()


# ---------------------------------------------------------------- report


def test_a_report_has_all_its_parts(client):
    page = shown(client, f"{STAGE}&rate=1kHz&vb=300V&sheet=report")
    assert [name for name, place in SECTIONS.items() if not page.select(place)] == []
    pictures = [ElementTree.fromstring(client.get(image["src"]).text) for image in page.select(".drawn img")]
    assert [("S1 closed" in "".join(p.itertext()), "S1 open" in "".join(p.itertext())) for p in pictures] == [
        (True, False),
        (False, True),
    ]
    found = findings_of(operating_point(scenario_from_query(f"{STAGE}&rate=1kHz&vb=300V")))
    assert len(page.select("#report-findings tbody tr")) == len(found)
    rows = {
        row.th.get_text(): [text_of(cell) for cell in row.select("td")] for row in page.select("#report-parts tbody tr")
    }
    assert rows["R1"][1] == "4.7 kΩ"
    assert rows["R1"][3] == "500 mW"
    assert rows["U1"][3].startswith("150 mW; VCE up to 70 V")
    assert f"Lightgap {__version__}" in text_of(page.select_one("#report-link"))
    link = f"http://testserver/stage?{STAGE}&rate=1kHz&vb=300V"
    assert page.select_one(".code-modules")["d"] == qr_of(link).path


def test_a_report_has_only_what_is_chosen(client):
    page = shown(client, "sheet=report&p.part=worked&p.part=assumptions")
    assert [name for name, place in SECTIONS.items() if page.select(place)] == ["worked", "assumptions"]
    checked = [box["value"] for box in page.select("#handout-choices [name='p.part'][checked]")]
    assert checked == ["worked", "assumptions"]
    assert [box["value"] for box in page.select("#handout-choices [name='p.part']")] == list(PARTS)


def test_what_is_not_asked_of_a_stage_is_not_in_its_report(client):
    page = shown(client, "sheet=report&p.part=timing&p.part=insulation")
    assert not page.select("#report-timing, #report-insulation")


def test_the_report_of_a_failing_stage_names_the_mend_and_the_margin(client):
    page = shown(client, "r1=100k&ctrmin=20%25&sheet=report&p.part=findings")
    row = page.select_one("#report-findings tr.caution, #report-findings tr.stop")
    assert row.select_one(".number").get_text().startswith("−")
    assert "Mend it: " in text_of(page.select_one("#report-findings"))


def test_a_line_has_its_timing_and_the_words_about_its_crest(client):
    page = shown(client, f"{LINE}&rate=5&sheet=report&p.part=timing&p.part=assumptions")
    assert "Highest rate, off told from on" in text_of(page.select_one("#report-timing"))
    assert "crest" in text_of(page.select_one("#report-assumptions"))


# ---------------------------------------------------------------- what is chosen


def test_a_title_of_ones_own_is_the_heading(client):
    page = shown(client, "sheet=answers&p.title=<b>Tank%0A%0B %26 pump</b>")
    assert page.h1.get_text() == "<b>Tank & pump</b>"
    assert page.select_one("#handout-title")["value"] == "<b>Tank & pump</b>"
    assert not page.select("h1 b")


def test_the_paper_is_a_style_sheet_of_its_own(client):
    for paper, name in (("a4", "A4"), ("letter", "letter")):
        page = shown(client, f"p.paper={paper}")
        (sheet,) = [link["href"] for link in page.select("link[media=print]") if "css/paper-" in link["href"]]
        assert f"size: {name};" in client.get(sheet).text
        assert page.select_one("#handout-paper option[selected]")["value"] == paper


def test_the_form_carries_the_stage_and_the_sheet(client):
    page = shown(client, f"{STAGE}&sheet=answers")
    sent = [(hidden["name"], hidden["value"]) for hidden in page.select("#handout-choices [type=hidden]")]
    assert sent == [("in", "contact-high"), ("vs", "24V"), ("r1", "4k7"), ("sheet", "answers")]
    links = [link["href"] for link in page.select(".kinds a")]
    assert links == [f"/handout?{STAGE}&sheet=worksheet", f"/handout?{STAGE}&sheet=report"]


def test_the_foot_has_the_link_cut_where_nobody_would_type_it(client):
    page = shown(client, STAGE)
    assert page.select_one(".paper-foot a").get_text() == f"http://testserver/stage?{STAGE}"
    long = f"{STAGE}&vstol=1%25&r1w=1W&rb=2k&rbw=1W&nd=1&vz=3V3&lamp=red&cf=1nF&rc=1R&line=10R&ctr=100%25&ctrmin=50%25"
    long += "&ctrmax=200%25&vcctol=1%25&rl=5k6&rlw=1W&ta=20C&tamin=-10C&tamax=60C&years=5&tol=1%25&series=E96&vb=300V"
    foot = shown(client, long).select_one(".paper-foot a")
    assert len(foot.get_text()) == LONGEST_LINK + 2
    assert foot.get_text().endswith(" …")


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("sheet=poster", "there is no sheet &#39;poster&#39;"),
        ("p.paper=a3", "there is no paper &#39;a3&#39;"),
        ("sheet=report&p.part=none", "there is no part &#39;none&#39;"),
        ("sheet=%3Cscript%3E", "there is no sheet &#39;&lt;script&gt;&#39;"),
        (f"p.title={'x' * (LONGEST_TITLE + 1)}", "the title has 101 characters"),
        ("sheet=report&vs=much", "much"),
        ("sheet=report&vs=1V", "no resistor gives 3 mA"),
    ],
)
def test_what_there_is_not_is_refused_in_a_sentence(client, query, field):
    answer = client.get(f"/handout?{query}")
    assert answer.status_code == 422
    assert answer.template.name == "problems/not_found.html"
    assert field in answer.text
