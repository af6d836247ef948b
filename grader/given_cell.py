# Run this cell first. It lets you answer with:   answer("1a", 412, "lb/bbl")
# Put your own number in place of None. You can answer as often as you like: the last answer counts.
PARTS = ()  # filled in for each paper

recorded = {}


def answer(part, value=None, unit="", *more):
    """Record an answer: part, number (or letters), unit."""
    part = part.strip().lower() if isinstance(part, str) else part
    if part not in PARTS:
        print(f"There is no part {part!r} in this paper. The parts are: {', '.join(PARTS)}")
        return
    if hasattr(value, "magnitude") and hasattr(value, "units"):
        value, unit = value.magnitude, unit or str(value.units)
    unit = str(unit) if type(unit).__name__ == "Unit" else unit
    if more or not isinstance(unit, str):
        print(f"{part}: not recorded. Write the number without a comma, and the unit in quotes: 6442.5, \"psi\"")
        return
    if value is None or value is ... or (isinstance(value, str) and not value.strip()):
        print(f"{part}: no answer yet")
        return
    wrong = what_is_wrong(value) or ("the unit is too long." if len(unit) > 60 else "")
    if wrong:
        print(f"{part}: not recorded, {wrong}")
        return
    recorded[part] = (value, unit)
    shown = f"{value:.6g}" if isinstance(value, float) else value
    is_number = not isinstance(value, str) or any(sign.isdigit() for sign in value)
    hint = ' without a unit; if the question wants one, write it behind the number: 6442.5, "psi"'
    print(f"{part}: recorded {shown} {unit}".rstrip() + (hint if is_number and not unit.strip() else ""))


def what_is_wrong(value):
    """Why a value cannot be an answer, or an empty text."""
    if isinstance(value, str):
        return what_is_wrong_with_text(value)
    kind = type(value).__name__
    if kind in ("bool", "bool_"):
        return "true or false is not an answer: give a number, or letters in quotes."
    if kind.startswith("complex"):
        return "a complex number is not an answer: give a plain number."
    try:
        len(value)
        return f"a {kind} is not an answer: give one number."
    except TypeError:
        pass  # it is a single thing, as it should be
    try:
        number = float(value)
    except OverflowError:
        return "the number is too large."
    except (TypeError, ValueError):
        return f"a {kind} is not an answer: give a number, or letters in quotes."
    return "" if abs(number) < float("inf") else f"{number} is not a number that can be right: look at your sum."


def what_is_wrong_with_text(text):
    """The same for a text: letters of a choice, or a number such as "412.5" or "412,5"."""
    if len(text) > 200:
        return "the text is too long."
    if not any(sign.isdigit() for sign in text):
        letters = [sign for sign in text.upper() if sign.isalpha()]
        if letters and len(letters) == len(set(letters)) and set(letters) <= set("ABCDEFGHIJKL"):
            return ""
        return f'"{text}" is neither a number nor letters of the paper.'
    plain = "".join(text.split()).replace("'", "").replace("_", "").replace("\N{MINUS SIGN}", "-")
    before, comma, after = plain.lstrip("+-").partition(",")
    if comma and before.isdigit() and after.isdigit() and len(before) < 4 and len(after) == 3 and before[0] != "0":
        return f'"{text}" can be read in two ways: write {before}{after} or {before}.{after}'
    if "," in plain and "." in plain:
        plain = plain.replace("," if plain.rindex(".") > plain.rindex(",") else ".", "")
    elif plain.count(",") > 1:
        plain = plain.replace(",", "")
    try:
        number = float(plain.replace(",", "."))
    except ValueError:
        return f'"{text}" is not a number. Write number and unit apart: 412, "lb/bbl"'
    if len(plain.lower().partition("e")[2].lstrip("+-")) > 3:
        return f'"{text}" is too large or too small.'
    return "" if abs(number) < float("inf") else f'"{text}" is too large.'
