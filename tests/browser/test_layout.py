"""Nothing collides, is cut off or makes the page wider than the window, whatever the sides, values and window."""

import math
import random
import re
from collections.abc import Iterator
from itertools import cycle
from urllib.parse import urlencode

import pytest
from playwright.sync_api import BrowserContext, Page

from engine import INPUTS, OUTPUTS, STATES, Conditions, Coupling, ScenarioError, declared, in_query, scenario_from
from tests.browser.explorer import Explorer
from tests.browser.faults import TOOLS, restyled, told
from tests.stages import DRIVES, OPTIONS, TOGETHER, kinds, with_option

WINDOWS = ((1280, 720), (1920, 1080), (390, 844))
WIDE = 1500
NARROW = 1000
"""Width of the window below which wide tables and formulas may scroll sideways, each in its own box."""

WIDEST = {
    "flag": {"reading": "-88.8 mV", "range": "8.9 µV – 890 mV"},
    "current": {"reading": "88.8 mA", "range": "890 pA – 890 µA"},
}
"""The longest that figures get, in letters as wide as theirs get."""

OTHER_PAGES = (
    "/",
    "/api",
    "/findings",
    "/specimen",
    "/nowhere",
    "/bench",
    "/bench?in=ac&out=relay",
    "/bench?vs=24V&r.r1.closed=23.2V&r.out.closed=3.3V",
    "/bench?vs=24V&r.r1.closed=23.2V&r.out.closed=3,3V",
    f"/stage?vs=much&r1=4,7k&rl=&ta=1e9&vcc={'9' * 60}",
)

FETCH = """(queries) => {
  const fetched = async () => {
    const answers = [];
    for (const query of queries) {
      const answer = await fetch(`/stage/explorer?${query}`);
      answers.push(answer.ok ? await answer.text() : "");
    }
    return answers;
  };
  window.answers = fetched();
}"""

BATCH = 12
"""How many stages are looked at while the next ones are fetched."""

SHOW = """() => {
  window.show = (html) => {
    document.getElementById("explorer").innerHTML = html;
    document.getElementById("subject").textContent = document.getElementById("followers").dataset.title;
    for (const box of document.querySelectorAll("details")) box.open = true;
  };
}"""

FAULTS = """({ pages, mayScroll, widest }) => pages.map((html) => {
  show(html);
  const faults = [...collisions(), ...cut(mayScroll)];
  const atWidest = widest ? collisions(widest).map((text) => `${text}, with the longest figures`) : [];
  return [...faults, ...atWidest];
})"""


def alternatives(parameter, usual) -> list[str]:
    """Return texts of a parameter that may change a drawing: every choice, and for a part that is away its presence."""
    if parameter.longest:
        return [""]
    if parameter.unit is None:
        return list(parameter.words)
    return ["", in_query(parameter.high / 1000, parameter.unit)] if usual in (0, "none") else [""]


def drawings(key: str, kind) -> list[dict[str, str]]:
    """Return as many settings of a side as it takes to see each alternative of each of its parameters once."""
    usual = kind()
    texts = {p.key: alternatives(p, getattr(usual, name)) for name, p in declared(kind).items()}
    made = []
    for i in range(max(len(options) for options in texts.values())):
        stage = {key: kind.kind}
        for field, options in texts.items():
            tried = stage | {field: options[i % len(options)]}
            stage = tried if is_taken(tried) else stage
        made.append(stage)
    return made


def inputs() -> list[dict[str, str]]:
    """Return the input sides: every drive plain, with a bypass in each place and with everything; options alone."""
    bypasses = [option for name, option in OPTIONS.items() if name.startswith("bypass")]
    whole = list(TOGETHER.values())[-1]
    queries = list(DRIVES.values())
    queries += [with_option(DRIVES["contact-low"], option) for option in OPTIONS.values()]
    queries += [with_option(drive, option) for drive in DRIVES.values() for option in (*bypasses, whole)]
    taken = [pairs for pairs in map(pairs_of, dict.fromkeys(queries)) if is_taken(pairs)]
    return taken + [drawing for kind in INPUTS.values() if kind.kind not in kinds() for drawing in drawings("in", kind)]


def pairs_of(query: str) -> dict[str, str]:
    return dict(pair.split("=") for pair in query.split("&"))


def stages() -> list[dict[str, str]]:
    """Return every input side with the drawings of the output sides in turn, and each of those on the usual input."""
    loads = [drawing for kind in OUTPUTS.values() for drawing in drawings("out", kind)]
    paired = [side | load for side, load in zip(inputs(), cycle(loads), strict=False)]
    return [stage for stage in paired if is_taken(stage)] + [{"in": next(iter(INPUTS)), **load} for load in loads]


def parameters(stage: dict[str, str]) -> list:
    records = (INPUTS[stage["in"]], Coupling, OUTPUTS[stage["out"]], Conditions)
    return [parameter for record in records for parameter in declared(record).values()]


def long_text(parameter) -> str:
    """Return a value that takes four figures, as large as the parameter allows."""
    end = parameter.high or parameter.low
    power = math.floor(math.log10(abs(end) / 3.995))
    return in_query(math.copysign(float(f"3.995e{power}"), end), parameter.unit)


def wild_text(parameter, dice: random.Random) -> str:
    """Return an end of what a parameter allows, or three figures from somewhere in the decades below its upper end."""
    decades = 9 if len(parameter.unit.scales) > 1 else 1
    figures = float(f"{parameter.high * 10 ** -dice.uniform(0, decades):.3g}")
    value = dice.choice([parameter.low, parameter.high, max(figures, parameter.low)])
    return in_query(value, parameter.unit)


def filled(stage: dict[str, str], text_of) -> dict[str, str]:
    """Return a stage with a text for each of its quantities that goes with the others; its drawing stays as it is."""
    for parameter in parameters(stage):
        if parameter.unit and not stage.get(parameter.key):
            tried = stage | {parameter.key: text_of(parameter)}
            stage = tried if is_taken(tried) else stage
    return stage


def query_of(stage: dict[str, str]) -> str:
    return urlencode({key: text for key, text in stage.items() if text})


def is_taken(stage: dict[str, str]) -> bool:
    try:
        scenario_from([(key, text) for key, text in stage.items() if text])
    except ScenarioError:
        return False
    return True


def queries() -> list[str]:
    """Return the stages to look at: both switch states in turn, usual and long values in turn, and some wild ones."""
    dice = random.Random(20)
    usual = stages()
    tame = [stage | {"sw": state} for stage, state in zip(usual, cycle(STATES), strict=False)]
    turns = [filled(stage, long_text) if k % 4 > 1 else stage for k, stage in enumerate(tame)]
    wild = [filled(stage, lambda parameter: wild_text(parameter, dice)) for stage in tame[::3]]
    return [query_of(stage) for stage in (*turns, *wild)]


class Fragments:
    """The explorer for each of some stages, fetched once; the server works on a batch while the last is looked at.

    Parameters
    ----------
    page : Page
        A page that has nothing else to do.
    asked : list of str
        Query strings of the stages.
    """

    def __init__(self, page: Page, asked: list[str]) -> None:
        self.page = page
        self.batches = [asked[i : i + BATCH] for i in range(0, len(asked), BATCH)]
        self.fetched: list[dict[str, str]] = []
        self.page.evaluate(FETCH, self.batches[0])

    def __iter__(self) -> Iterator[dict[str, str]]:
        """Yield the batches, each as query string to the explorer's markup."""
        for i in range(len(self.batches)):
            if i == len(self.fetched):
                self._take()
            yield self.fetched[i]

    def _take(self) -> None:
        """Take the batch that has been asked for, and ask for the next one."""
        queries = self.batches[len(self.fetched)]
        answers = dict(zip(queries, self.page.evaluate("() => window.answers"), strict=True))
        assert [query for query, html in answers.items() if not html] == []
        self.fetched.append(answers)
        if len(self.fetched) < len(self.batches):
            self.page.evaluate(FETCH, self.batches[len(self.fetched)])

    def faults(self, page: Page, mayScroll: bool, every: int) -> dict[str, list[str]]:
        """Return what is wrong on a page with each stage, and with each drawing when its figures are the longest.

        Of so many batches one is looked at.
        """
        found, drawings = {}, math.ceil(len(stages()) / BATCH)
        for i, batch in enumerate(self):
            if i % every:
                continue
            how = {"mayScroll": mayScroll, "widest": WIDEST if i < drawings else None}
            found |= zip(batch, page.evaluate(FAULTS, {"pages": list(batch.values()), **how}), strict=True)
        return found


@pytest.fixture(scope="module")
def fragments(person: BrowserContext) -> Iterator[Fragments]:
    """The explorer for every stage that is looked at."""
    page = person.new_page()
    page.goto("/healthz")
    yield Fragments(page, list(dict.fromkeys(queries())))
    page.close()


@pytest.fixture
def tools(page: Page) -> Page:
    """The explorer's page with what shows stages on it and looks for faults."""
    Explorer(page)
    page.evaluate(TOOLS)
    page.evaluate(SHOW)
    return page


@pytest.mark.parametrize(("width", "height"), WINDOWS)
def test_every_stage_can_be_read_and_its_drawing_has_room_for_the_longest_figures(
    tools: Page, fragments, width, height
):
    tools.set_viewport_size({"width": width, "height": height})
    # The widest window has the places of the middle one, only with more room; a phone has one column for all.
    found = told(fragments.faults(tools, width < NARROW, 4 if width > WIDE else 2 if width < NARROW else 1))
    assert not found, found


@pytest.mark.parametrize("path", OTHER_PAGES, ids=lambda path: path[:20])
def test_every_other_page_can_be_read(page: Page, path):
    page.goto(path)
    page.evaluate(TOOLS)
    faults = {}
    for width, height in WINDOWS:
        page.set_viewport_size({"width": width, "height": height})
        faults[f"{width} wide"] = page.evaluate("(mayScroll) => cut(mayScroll)", width < NARROW)
    found = told(faults)
    assert not found, found


def moved(element: str, **places) -> str:
    """Return a script that changes attributes of an element of the drawing."""
    return f"() => Object.entries({places}).map((place) => document.querySelector('{element}').setAttribute(...place))"


SPOILT = (
    (moved("#flag-VS .reading", x=40), "VS 48.0 V does not fit into flag-VS"),
    (moved("#toggle .label tspan", y=262), "S1 closed is crossed by wire"),
    (moved("#current-IF .reading", x=225, y=95), "mA overlaps R1"),
    (moved("#current-IF .reading", x=440), "mA leaves its side"),
    (moved("#current-IF .reading", x=170, y=117), "mA overlaps part-R1"),
    (moved("#flag-A rect", x=140), "flag-VS overlaps flag-A"),
    (moved("#part-LED", transform="translate(480 187)"), "part-LED leaves its side"),
    (moved("#flag-A .pole", points="192,76 192,112"), "pole of flag-A crosses part-R1"),
    (restyled(".verdicts { position: relative; left: 4rem }"), "is cut off by|sticks out of aside#verdict"),
    (restyled(".verdicts { overflow: hidden; height: 1rem }"), "is cut off by ul.verdicts"),
    (restyled(".more .field { grid-template-columns: 1fr 2rem }"), 'input#vcctol cuts off "5 %"'),
    (restyled("#in { width: 4rem }"), "select#in cuts off"),
    (restyled(".conditions label { position: relative; left: 4rem }"), "lies on (input|select)#"),
    (restyled(".findings li { height: 0 }"), '" lies on "'),
    (restyled(".nodes { width: 200% }"), "div.scroll has to be scrolled"),
    (restyled(".home, main { min-width: 101vw }"), "the page is too wide by"),
)
"""What is done to the page, and what must be said of it."""


def test_faults_are_seen(tools: Page, fragments):
    plain = next(iter(next(iter(fragments)).values()))
    assert tools.evaluate(FAULTS, {"pages": [plain], "mayScroll": False, "widest": WIDEST}) == [[]]
    unseen = []
    for spoil, fault in SPOILT:
        tools.evaluate("(html) => { document.adoptedStyleSheets = []; show(html); }", plain)
        tools.evaluate(spoil)
        faults = tools.evaluate("() => [...collisions(), ...cut(false)]")
        if not any(re.search(fault, text) for text in faults):
            unseen.append(f"{fault}: {faults}")
    assert unseen == []
