"""Tests of Lightgap. What is asked of them stands in `tests/house`."""
