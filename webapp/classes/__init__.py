"""Classes that follow what somebody shows: the code, what is kept, and who is told of each change.

`codes` makes codes that can be read out, `room` knows what is kept, `hub` tells those who follow, `stopping` whether
the server is about to end.
"""
