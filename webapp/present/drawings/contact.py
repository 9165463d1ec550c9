"""Contact on the input side, to return or to supply; with a current limiter behind the LED where there is one."""

from webapp.present.drawings.ladder import Ladder, branch


def contact_low(side):
    """Return the layout of a contact between LED and return."""
    ladder = Ladder(side)
    ladder.supply()
    ladder.flag_top("VS", 100)
    return_rail(ladder, [("S1", "S" if side.has_line else "K"), *([("RW", "K")] if side.has_line else [])])
    return branch(ladder)


def return_rail(ladder, parts):
    """Place parts on the lower rail, each with the node behind it, and keep the room that their flags take."""
    x, bypassed = 164, "RB" in ladder.side.shunts and ladder.side.bypass_at == "switch"
    for part, node in parts:
        ladder.along_bottom(part, x)
        if part == ladder.side.switch_part and bypassed:
            ladder.across_switch(x, upper=False)
        ladder.flag_bottom(node, x + 64 if node != ladder.side.cathode else x + (128 if bypassed else 104), None)
        x += 128


def contact_high(side):
    """Return the layout of a contact between supply and LED."""
    ladder = Ladder(side)
    ladder.supply()
    ladder.flag_top("VS", 100)
    ladder.along_top("S1", "S")
    if "RB" in side.shunts and side.bypass_at == "switch":
        ladder.across_switch(164, upper=True)
    if side.has_line:
        ladder.along_top("RW", "W")
    return branch(ladder)


def limited(side):
    """Return the layout of a contact between supply and LED, and a current limiter between LED and return."""
    ladder = Ladder(side)
    ladder.supply()
    ladder.flag_top("VS", 100)
    return_rail(ladder, [("B2", "L")])
    ladder.along_top("S1", "S")
    if "RB" in side.shunts and side.bypass_at == "switch":
        ladder.across_switch(164, upper=True)
    if side.has_line:
        ladder.along_top("RW", "W")
    return branch(ladder)
