"""What a meter shows of circuits on a line: the mean over the cycle on direct ranges, the rms on alternating ones.

`parts` takes a side by itself, completes a bridge, puts circuits at many instants of the line; `stored` follows
capacitors until they repeat; `load` knows what a triac makes of its own line; `reading` has one way to read them all.
"""

from engine.line_meter.parts import side_of
from engine.line_meter.reading import AC, DC, LineMeter, on_line, readable, unread_because

__all__ = ["AC", "DC", "LineMeter", "on_line", "readable", "side_of", "unread_because"]
