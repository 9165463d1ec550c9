"""Fault hunts: a stage with one hidden fault, a meter to find it with, and who has found it.

`readings` knows what the meter shows, `game` what is kept of hunts and of those who take part, `rates` how often
somebody may ask. What is printed of it is in `present.hunts`. Whatever a student is answered before having found the
fault depends on it by the readings alone.
"""
