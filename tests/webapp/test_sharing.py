"""A stage passed on: the link and its code, the picture, the view for frames, the text; what may frame what."""

import base64
import hashlib
import random
import re
from xml.etree import ElementTree

import numpy as np
import pytest
import zxingcpp

from engine import card_from_toml, card_to_toml, load_card, pack_card
from tests.each import of_each
from tests.markup import tree_of
from tests.tree import ROOT
from webapp.present.qr import DENSE, qr_of

HERE = "http://testserver"
STAGE = "in=contact-high&vs=24V&r1=4k7&vb=300V"
LINE = "in=ac&dropper=capacitor&cs=10uF&out=controller"
HOSTILE = """<script>"&'</script> ]]>"""
ADDRESSES = ("/share", "/share.txt", "/embed", "/stage/schematic.svg", "/handout")
SVG = "{http://www.w3.org/2000/svg}"


def parsed(answer):
    return tree_of(answer.text)


def own_card(title):
    """Return a packed card with a title of one's own."""
    text = card_to_toml(load_card("general")).replace("General-purpose coupler", title.replace('"', '\\"'))
    return pack_card(card_from_toml("own", text))


def long_card():
    """Return a packed card that no QR code holds: words of letters at random, curves of many points."""
    draw = random.Random(1)
    card = load_card("general")
    text = card_to_toml(card)
    for old, letters in ((card.title, 80), (card.summary, 300)):
        text = text.replace(old, "".join(chr(draw.randrange(0x20000, 0x2A6D0)) for _ in range(letters)))
    IF, V = np.array(card.VF_points).T
    currents = np.geomspace(IF[0], IF[-1], 24)
    rows = [
        f'["{current:.9g} A", "{volts:.9g} V"]'
        for current, volts in zip(currents, np.interp(np.log(currents), np.log(IF), V), strict=True)
    ]
    text = re.sub(r"(?m)^VF = .*$", f"VF = [{', '.join(rows)}]", text)
    return pack_card(card_from_toml("own", text))


def drawn_code(view):
    """Return the modules of a code as they are drawn, four pixels each, on white."""
    image = np.full((view.size, view.size), 255, dtype=np.uint8)
    for x, y, width in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", view.path):
        image[int(y), int(x) : int(x) + int(width)] = 0
    return np.kron(image, np.ones((4, 4), dtype=np.uint8))


# ---------------------------------------------------------------- link and code


def test_the_explorer_links_to_the_page_with_the_stage_as_it_is(client):
    for address in ("/stage", "/stage/live"):
        link = parsed(client.get(f"{address}?{STAGE}")).select_one("#share")
        assert link["href"] == f"/share?{STAGE}"


def test_the_link_is_whole_and_in_the_order_of_every_link(client):
    page = parsed(client.get("/share?vb=300&r1=4700&vs=24&in=contact-high"))
    assert page.select_one("#link").get_text().strip() == f"{HERE}/stage?{STAGE}"
    assert parsed(client.get("/share")).select_one("#link").get_text().strip() == f"{HERE}/stage"


@of_each([f"{HERE}/stage?{STAGE}", f"{HERE}/stage", "http://localhost:8000/stage?card=" + "aB3-_" * 200, "x" * 2900])
def test_a_code_reads_back_as_the_link(link):
    (read,) = zxingcpp.read_barcodes(drawn_code(qr_of(link)))
    assert read.text == link


def test_the_code_of_the_page_is_that_of_its_link(client):
    code = parsed(client.get(f"/share?{STAGE}")).select_one("svg.code")
    view = qr_of(f"{HERE}/stage?{STAGE}")
    assert code.select_one(".code-modules")["d"] == view.path
    assert code["viewbox" if code.has_attr("viewbox") else "viewBox"] == f"0 0 {view.size} {view.size}"
    assert code.select_one(".code-ground")["width"] == str(view.size)
    assert code["aria-label"]


def test_a_link_that_is_too_long_is_told_in_a_sentence(client):
    assert qr_of("x" * 2953) is not None
    assert qr_of("x" * 2954) is None
    assert qr_of("x" * 2953).size >= DENSE > qr_of(HERE).size
    query = f"coupler=own&card={long_card()}"
    assert len(query) > 2953
    page = parsed(client.get(f"/share?{query}"))
    assert page.select_one("svg.code") is None
    assert "too long for a QR code" in page.select_one("#no-code").get_text()
    assert page.select_one("#link").get_text().strip() == f"{HERE}/stage?{query}"
    report = parsed(client.get(f"/handout?{query}&sheet=report&p.part=assumptions"))
    assert report.select_one("svg.code") is None
    assert "too long for a QR code" in report.select_one("#report-link").get_text()


# ---------------------------------------------------------------- picture


@pytest.mark.parametrize("query", ["", LINE, "p.figures=none", "p.ink=black", f"{LINE}&bridge=returns&sw=open"])
def test_a_picture_is_well_formed_and_stands_alone(client, query):
    answer = client.get(f"/stage/schematic.svg?{query}")
    root = ElementTree.fromstring(answer.content)
    assert answer.headers["Content-Type"].startswith("image/svg+xml")
    assert root.tag == f"{SVG}svg"
    assert (root.find(f"{SVG}title").text, root.find(f"{SVG}desc").text) > ("", "")
    assert root.attrib["viewBox"] == f"0 0 {root.attrib['width']} {root.attrib['height']}"
    assert not {name.split("}")[-1] for node in root.iter() for name in node.attrib} & {"href", "src", "style"}
    assert not [node for node in root.iter() if node.tag.split("}")[-1] in {"script", "image", "foreignObject", "a"}]
    style = root.find(f"{SVG}style").text
    assert "url(" not in style
    assert "@import" not in style
    assert "var(" not in style
    assert re.findall(r"font: \S+ ([^;]+);", style) == ["sans-serif"]


def test_the_policy_of_a_picture_names_its_style_and_nothing_else(client):
    answer = client.get("/stage/schematic.svg")
    style = ElementTree.fromstring(answer.content).find(f"{SVG}style").text
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = answer.headers.get_list("Content-Security-Policy")
    assert policy == [f"default-src 'none'; style-src 'sha256-{digest}'; frame-ancestors 'none'"]


def test_a_picture_has_the_figures_or_blanks_in_their_place(client):
    def texts(query):
        root = ElementTree.fromstring(client.get(f"/stage/schematic.svg?{query}").content)
        return {" ".join("".join(node.itertext()).split()) for node in root.iter(f"{SVG}text")}

    solved, blank = texts(""), texts("p.figures=none")
    assert {"R1 16 kΩ", "VS 48.0 V", "OUT 120 mV", "IF 2.93 mA"} <= solved
    assert {"R1 ?", "VS", "OUT", "IF", "RL 4.7 kΩ"} <= blank
    assert not [text for text in blank if re.search(r"16 kΩ|mV|mA|µA|reads ?low", text)]
    assert "R1 4.7 kΩ" in texts("r1=4k7&p.figures=none")


def test_both_states_are_drawn(client):
    pictures = [client.get(f"/stage/schematic.svg?sw={state}").text for state in ("closed", "open")]
    assert "S1 closed" in pictures[0]
    assert "S1 open" in pictures[1]
    assert "reads high" in pictures[1]


# ---------------------------------------------------------------- frame and text


def test_the_code_for_another_page_is_one_frame(client):
    code = parsed(client.get(f"/share?{STAGE}")).select_one("#embed").get_text().strip()
    (frame,) = tree_of(code).body.contents
    assert frame.name == "iframe"
    assert frame["src"] == f"{HERE}/embed?{STAGE}"
    assert frame["loading"] == "lazy"
    assert frame["title"] == "24 V contact to supply, general-purpose coupler, 3.3 V pull-up to logic"


@pytest.mark.parametrize("query", ["", STAGE, LINE, "sw=open"])
def test_a_frame_shows_a_stage_to_be_read_only(client, query):
    answer = client.get(f"/embed?{query}")
    page = parsed(answer)
    assert page.select_one("#schematic svg")
    assert len(page.select(".verdicts li")) == 2
    assert {row.get_text() for row in page.select(".figures tbody th")} >= {"IF", "VF"}
    assert not page.select("form, input, button, script, textarea, select")
    assert "Set-Cookie" not in answer.headers
    assert page.select_one(".open a")["href"] == (f"/stage?{query}" if query else "/stage")
    links = [link["href"] for link in page.select("a:not(.open a)")]
    assert links
    assert all(link.startswith("/embed") for link in links)


def paths_of(routes):
    for route in routes:
        if hasattr(route, "path"):
            yield route.path
        else:
            yield from paths_of(route.original_router.routes)


def test_only_a_frame_may_be_framed(app, client):
    """What a stage is worked out for is asked with one that is refused, as policies do not go by what is found."""
    long = {"/couplers", "/specimen", "/openapi.json"}  # what they show has nothing to do with a stage
    refused = [f"{path}?vs=much" for path in paths_of(app.routes) if "{" not in path and path not in long]
    assert len(refused) > 40
    shown = ["/embed", "/share", "/handout", "/stage/schematic.svg", "/nowhere", "/static/favicon.svg"]
    framed = {}
    for address in (*refused, *shown):
        (policy,) = client.get(address, follow_redirects=False).headers.get_list("Content-Security-Policy")
        if "frame-ancestors 'none'" not in policy:
            framed[address] = policy
    assert set(framed) == {"/embed", "/embed?vs=much"}
    for policy in framed.values():
        assert policy.endswith("frame-ancestors *")
        assert "script" not in policy
        assert "form-action 'none'" in policy


def test_no_other_module_has_a_policy_of_its_own():
    modules = {
        p.relative_to(ROOT).as_posix() for p in (ROOT / "webapp").rglob("*.py") if "frame-ancestors" in p.read_text()
    }
    assert modules == {"webapp/app.py", "webapp/routes/sharing.py"}


def test_the_text_says_what_the_stage_is(client):
    answer = client.get("/share.txt?ctr=1%25&r1=100k")
    assert answer.headers["Content-Type"] == "text/plain; charset=utf-8"
    lines = answer.text.splitlines()
    assert lines[0] == "48 V contact to return, general-purpose coupler, 3.3 V pull-up to logic"
    assert "R1 100 kΩ" in lines[2]
    assert "CTR 1 %" in lines[2]
    assert [line.split(":")[0] for line in lines if line.startswith("Contact ")] == ["Contact closed", "Contact open"]
    assert [line for line in lines if line.startswith("- STOP: ")]
    assert "qualified person" in answer.text
    assert lines[-1] == f"{HERE}/stage?r1=100k&ctr=1%25"
    assert parsed(client.get("/share?ctr=1%25&r1=100k")).select_one("#text").get_text().strip() == answer.text.strip()


# ---------------------------------------------------------------- what people type


def test_a_title_with_markup_stays_a_text(client):
    query = f"coupler=own&card={own_card(HOSTILE)}"
    for address in ("/share", "/embed", "/handout"):
        page = parsed(client.get(f"{address}?{query}"))
        assert not [script for script in page.select("script") if not script.get("src")]
        assert "<script>" in page.get_text() + page.select_one("title").get_text()
    picture = ElementTree.fromstring(client.get(f"/stage/schematic.svg?{query}").content)
    assert "<script>" in picture.find(f"{SVG}title").text
    assert picture.find(f".//{SVG}script") is None
    frame = tree_of(parsed(client.get(f"/share?{query}")).select_one("#embed").get_text()).iframe
    assert "<script>" in frame["title"]


@pytest.mark.parametrize("address", ADDRESSES)
def test_a_scenario_that_cannot_be_is_refused_with_its_field(client, address):
    answer = client.get(f"{address}?vs=much&nonsense=1")
    assert answer.status_code == 422
    assert "much" in answer.text
    assert "nonsense" in answer.text
    assert "Traceback" not in answer.text


@pytest.mark.parametrize("address", ADDRESSES)
def test_anything_typed_is_answered(client, address):
    tries = ("coupler=own&card=%00", "r1=auto&if=1A", "vs=" + "9" * 5000, "&".join(["vs=1"] * 300), "p.figures=%ff")
    for query in tries:
        assert client.get(f"{address}?{query}").status_code in (200, 422), query
