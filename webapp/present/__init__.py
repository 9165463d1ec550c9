"""View records: what templates print, worked out to the last letter, with nothing electrical in it."""
