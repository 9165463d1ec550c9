"""Findings: what raises each rule, what does not, and whether its remedy holds."""
