"""Nothing collides, is cut off or makes the page wider than the window, whatever the sides, values and window."""

import math
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
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

FETCH = """(addresses) => {
  const fetched = async () => {
    const answers = [];
    for (const address of addresses) {
      const answer = await fetch(address);
      answers.push(answer.ok ? await answer.text() : "");
    }
    return answers;
  };
  window.answers = fetched();
}"""

WHOLE, DRAWN = "/stage/explorer", "/embed"
"""Where the explorer of a stage is asked for, and where its drawing alone, which takes far less work."""

BATCH = 12
"""How many stages are looked at while the next ones are fetched."""

SHOW = """() => {
  window.show = (html) => {
    document.getElementById("explorer").innerHTML = html;
    document.getElementById("subject").textContent = document.getElementById("followers").dataset.title;
    for (const box of document.querySelectorAll("details")) box.open = true;
  };
  window.draw = (html) => {
    const made = new DOMParser().parseFromString(html, "text/html");
    document.getElementById("schematic").replaceWith(made.getElementById("schematic"));
  };
}"""

FAULTS = """({ pages, mayScroll, widest }) => pages.map(({ html, drawn, long }) => {
  (drawn ? draw : show)(html);
  const seen = drawn ? [] : cut(mayScroll);
  if (long) return [...collisions(), ...seen];
  return [...collisions(widest).map((text) => `${text}, with the longest figures`), ...seen];
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


def inputs() -> tuple[list[dict[str, str]], list[dict[str, str]]]:
    """Return input sides: those that say something of their own, and those of which the drawing alone differs.

    The former are every drive plain and with everything, options alone, and other kinds in all their drawings; the
    latter every drive with a bypass in each place.
    """
    bypasses = [option for name, option in OPTIONS.items() if name.startswith("bypass")]
    whole = list(TOGETHER.values())[-1]
    own = list(DRIVES.values())
    own += [with_option(DRIVES["contact-low"], option) for option in OPTIONS.values()]
    own += [with_option(drive, whole) for drive in DRIVES.values()]
    drawn = [with_option(drive, option) for drive in DRIVES.values() for option in bypasses]
    others = [drawing for kind in INPUTS.values() if kind.kind not in kinds() for drawing in drawings("in", kind)]
    return taken(own) + others, [pairs for pairs in taken(drawn) if pairs not in taken(own)]


def taken(queries: list[str]) -> list[dict[str, str]]:
    return [pairs for pairs in map(pairs_of, dict.fromkeys(queries)) if is_taken(pairs)]


def pairs_of(query: str) -> dict[str, str]:
    return dict(pair.split("=") for pair in query.split("&"))


def stages() -> tuple[list[dict[str, str]], list[dict[str, str]]]:
    """Return the stages that are looked at whole, and those of which the drawing is: both switch states in turn.

    Input sides take the output sides in turn; one that goes with none of those that it would take stands on the usual
    input.
    """
    loads = [drawing for kind in OUTPUTS.values() for drawing in drawings("out", kind)]
    states, found = cycle(STATES), []
    for sides in inputs():
        paired = [side | load for side, load in zip(sides, cycle(loads), strict=False)]
        found.append([stage | {"sw": next(states)} for stage in paired if is_taken(stage)])
    seen = [{key: stage.get(key) for key in load} for stage in found[0] for load in loads]
    alone = [{"in": next(iter(INPUTS)), **load, "sw": next(states)} for load in loads if load not in seen]
    return found[0] + alone, found[1]


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


@dataclass(frozen=True)
class Shown:
    """A stage that is looked at: by which address, and whether its own figures are of any length."""

    address: str
    long: bool

    @property
    def drawn(self) -> bool:
        """Whether its drawing alone is looked at."""
        return self.address.startswith(DRAWN)


def all_shown() -> list[Shown]:
    """Return what is looked at: of the stages some with long values, every fifth again with wild ones."""
    dice = random.Random(20)
    whole, drawn = stages()
    long = long_ones(whole)
    turns = [
        Shown(at(WHOLE, filled(stage, long_text) if k in long else stage), k in long) for k, stage in enumerate(whole)
    ]
    wild = [filled(stage, lambda parameter: wild_text(parameter, dice)) for stage in whole[::5]]
    turns += [Shown(at(WHOLE, stage), True) for stage in wild]
    return list(dict.fromkeys(turns + [Shown(at(DRAWN, stage), False) for stage in drawn]))


def long_ones(whole: list[dict[str, str]]) -> set[int]:
    """Return the numbers of the stages with which a kind of side is met for the first time."""
    met, found = set(), set()
    for k, stage in enumerate(whole):
        if not {stage["in"], stage["out"]} <= met:
            met |= {stage["in"], stage["out"]}
            found.add(k)
    return found


def at(path: str, stage: dict[str, str]) -> str:
    return f"{path}?{query_of(stage)}"


class Fragments:
    """Some stages, fetched once; the server works on a batch while the last is looked at.

    Parameters
    ----------
    page : Page
        A page that has nothing else to do.
    asked : list of Shown
        The stages.
    """

    def __init__(self, page: Page, asked: list[Shown]) -> None:
        self.page = page
        self.batches = [asked[i : i + BATCH] for i in range(0, len(asked), BATCH)]
        self.fetched: list[dict[Shown, str]] = []
        self._ask()

    def __iter__(self) -> Iterator[dict[Shown, str]]:
        """Yield the batches, each as stage to markup."""
        for i in range(len(self.batches)):
            if i == len(self.fetched):
                self._take()
            yield self.fetched[i]

    def _ask(self) -> None:
        """Ask for the next batch."""
        self.page.evaluate(FETCH, [shown.address for shown in self.batches[len(self.fetched)]])

    def _take(self) -> None:
        """Take the batch that has been asked for, and ask for the next one."""
        shown = self.batches[len(self.fetched)]
        answers = dict(zip(shown, self.page.evaluate("() => window.answers"), strict=True))
        assert [shown.address for shown, html in answers.items() if not html] == []
        self.fetched.append(answers)
        if len(self.fetched) < len(self.batches):
            self._ask()

    def faults(self, page: Page, mayScroll: bool, every: int) -> dict[str, list[str]]:
        """Return what is wrong on a page with each stage, of whose figures the usual ones give way to the longest.

        Of so many stages one is looked at, and drawings alone only where every stage is.
        """
        found = {}
        for batch in self:
            asked = [shown for shown in batch if every == 1 or not shown.drawn][::every]
            pages = [{"html": batch[shown], "drawn": shown.drawn, "long": shown.long} for shown in asked]
            answer = page.evaluate(FAULTS, {"pages": pages, "mayScroll": mayScroll, "widest": WIDEST})
            found |= zip([shown.address for shown in asked], answer, strict=True)
        return found


@pytest.fixture(scope="module")
def fragments(person: BrowserContext) -> Iterator[Fragments]:
    """All that is looked at."""
    page = person.new_page()
    page.goto("/healthz")
    yield Fragments(page, all_shown())
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
def test_every_other_page_can_be_read(looking: Page, path):
    looking.goto(path)
    looking.evaluate(TOOLS)
    faults = {}
    for width, height in WINDOWS:
        looking.set_viewport_size({"width": width, "height": height})
        faults[f"{width} wide"] = looking.evaluate("(mayScroll) => cut(mayScroll)", width < NARROW)
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


def test_faults_are_seen(tools: Page):
    plain = tools.evaluate("async (address) => (await fetch(address)).text()", WHOLE)
    page = {"html": plain, "drawn": False, "long": False}
    assert tools.evaluate(FAULTS, {"pages": [page], "mayScroll": False, "widest": WIDEST}) == [[]]
    unseen = []
    for spoil, fault in SPOILT:
        tools.evaluate("(html) => { document.adoptedStyleSheets = []; show(html); }", plain)
        tools.evaluate(spoil)
        faults = tools.evaluate("() => [...collisions(), ...cut(false)]")
        if not any(re.search(fault, text) for text in faults):
            unseen.append(f"{fault}: {faults}")
    assert unseen == []
