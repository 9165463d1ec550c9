"""The reasoning: loops close, Ohm's law holds, hand values are the hand calculation."""
