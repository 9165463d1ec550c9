"""The command: every benchmark, or those that are named."""

import os

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")  # before numpy is loaded: the systems are small and many

import argparse  # noqa: E402
import importlib  # noqa: E402

NAMES = {
    "update": "one full update: query, both states, corners, findings, page fragment",
    "bands": "the feasible bands of all sliders of a stage",
    "bench": "what a meter shows at every point of a stage, all corners",
    "diagnosis": "how often a fault is found by what a meter reads, and how soon",
    "timing": "both edges of a stage, nominal and corners, against a general integrator",
    "batch": "2,000 operating points in one batch against a general root finder",
    "kept": "500 saves while the server is killed again and again, and what is there afterwards",
    "hunt": "a reading of the meter in a fault hunt, as a whole request",
    "drag": "real drags in Chromium: how soon the picture follows the hand",
    "spread": "100,000 samples judged and counted, against a root finder one by one",
    "follow": "a class of 200: how soon all have what they are shown, also over a restart",
    "convergence": "random wild scenarios: all solved, laws kept",
}


def main() -> None:
    """Run the named benchmarks, by default all of them."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks")
    parser.add_argument("names", nargs="*", choices=[*NAMES, []], help="; ".join(f"{n}: {w}" for n, w in NAMES.items()))
    parser.add_argument("--count", type=int, default=100_000, help="scenarios of the benchmark convergence")
    parser.add_argument("--only", action="append", default=[], help="part of the query of stages, for diagnosis")
    parser.add_argument("--postgresql", action="store_true", help="two processes on PostgreSQL too, for follow")
    options = parser.parse_args()
    own = {
        "convergence": ["--count", str(options.count)],
        "follow": ["--postgresql"] if options.postgresql else [],
        "diagnosis": [text for only in options.only for text in ("--only", only)],
    }
    for name in options.names or NAMES:
        print(f"\n{name}: {NAMES[name]}", flush=True)
        module = importlib.import_module(f"tests.benchmarks.{name}")
        module.main(own.get(name, []))


if __name__ == "__main__":
    main()
