# Run this cell first. It lets you answer with:   answer("1a", 412, "lb/bbl")
# Put your own number in place of None. You can answer as often as you like: the last answer counts.
PARTS = ()  # filled in for each paper

recorded = {}


def answer(part, value=None, unit="", *more):
    """Record an answer: part, number (or letters), unit."""
    if part not in PARTS:
        print(f"There is no part {part!r} in this paper. The parts are: {', '.join(PARTS)}")
    elif more or not isinstance(unit, str):
        print(f"{part}: not recorded. Write the number without a comma, and the unit in quotes: 6442.5, \"psi\"")
    elif value is None or value is ...:
        print(f"{part}: no answer yet")
    else:
        recorded[part] = (value, unit)
        shown = f"{value:.6g}" if isinstance(value, float) else value
        print(f"{part}: recorded {shown} {unit}".rstrip())
