"""Logbooks of real units: what is kept, and its bounds."""
