"""The web application of Lightgap: pages, fragments and JSON over the engine's answers.

It computes nothing electrical, and of the engine it sees the package face alone.
"""

__version__ = "0.1.0"
