"""A long spread as a stream of events: how far it is, then what was found."""

import asyncio
import time
from collections.abc import AsyncIterator

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import StreamingResponse

from engine import ConvergenceError, Problem, Run, ScenarioError, SpreadOf, scenario_from
from webapp.present.panels.drawn import told
from webapp.present.panels.spread import UNSOLVED, chosen_of, result_view, run_of, usual_quantity
from webapp.render import fragment
from webapp.routes.panels import own_values
from webapp.routes.scenario import pairs_of

router = APIRouter(include_in_schema=False)

LONGEST = 120.0
"""Seconds after which a run is left off."""

_AT_ONCE = asyncio.Semaphore(2)  # runs that go on at the same time; others wait


@router.get("/stage/spread/run")
async def spread_run(request: Request):
    """Answer a long run with an event for each chunk that is solved, and the result or what was refused."""
    return StreamingResponse(_events(request), media_type="text/event-stream", headers={"Cache-Control": "no-store"})


async def _events(request: Request) -> AsyncIterator[str]:
    """Yield the events of a run; it ends with the connection."""
    try:
        scenario = scenario_from(pairs_of(request))
        run, key = await run_in_threadpool(run_of, scenario, own_values(request))
        async with _AT_ONCE:
            start = time.monotonic()
            while not run.finished:
                done = await run_in_threadpool(run.step)
                yield _event("progress", f"{done} {run.plan.samples}")
                _in_time(run, start, LONGEST)
            found = await run_in_threadpool(run.result)
        key = key if chosen_of(found, key) is not None else usual_quantity(scenario)
        result = result_view(found, key)
        yield _event("result", fragment(request, "fragments/_spread_result.html", result=result).body.decode())
    except ScenarioError as error:
        yield _event("refused", told(error.problems))
    except ConvergenceError:
        yield _event("refused", UNSOLVED)


def _event(name: str, text: str) -> str:
    """Return one event; each line of its text is a line of its data."""
    return f"event: {name}\n" + "".join(f"data: {line}\n" for line in text.splitlines()) + "\n"


def _in_time(run: Run, start: float, longest: float) -> None:
    """Raise ScenarioError where a run takes too long."""
    if not run.finished and time.monotonic() - start > longest:
        reason = f"this stage takes longer than {longest:.0f} seconds to be solved so often"
        raise ScenarioError([Problem("samples", f"{run.plan.samples}", "fewer samples", reason)])


def finished(run: Run, longest: float) -> SpreadOf:
    """Return what a run finds; raise ScenarioError where it takes too long."""
    start = time.monotonic()
    while not run.finished:
        run.step()
        _in_time(run, start, longest)
    return run.result()
