"""Benchmarks, run by `python -m tests.benchmarks`; each reports ratios against a reference of the same run."""
