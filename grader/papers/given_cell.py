# Press Shift and Enter; nothing in this cell is to be changed. If it opens, click the bar at its left.
# It lets you answer in the cells below: put your own number in place of None, and run the cell. You can answer as often
# as you like: the last answer counts. The reply tells you what looks wrong in the form of an answer. It does not know
# whether an answer is right.
import re
import traceback
import unicodedata

# What each part asks for.
PARTS = {}  # filled in for each paper
# Parts that may be left out, and parts that are answered in words.
ON_THE_WAY = ()  # filled in for each paper
IN_WORDS = ()  # filled in for each paper
# What to say of what cannot be: beyond the least and the largest, in kilograms, metres and seconds.
POSSIBLE = {}  # filled in for each paper
# Parts whose question is to convert into a unit.
CONVERTING = {}  # filled in for each paper
# The usual units of what is asked for, and what one of each is in kilograms, metres and seconds.
USUAL_UNITS = {}  # filled in for each paper
# The least and the largest size that can be meant, in the same.
LIKELY_SIZES = {}  # filled in for each paper
# The usual units of all else.
OTHER_UNITS = {}  # filled in for each paper
# Other ways to write a unit, or a word of one. The marking knows some more.
SPELLINGS = {}  # filled in for each paper
# How a number looks, and how a simple fraction does.
NUMBER = ""  # filled in for each paper
FRACTION = ""  # filled in for each paper

UNIT_KINDS = {unit: kind for kind, units in USUAL_UNITS.items() for unit in units}
UNIT_KINDS.update((unit, kind) for kind, units in OTHER_UNITS.items() for unit in units.split(", "))
UNIT_WORDS = {spelling: word for word, others in SPELLINGS.items() for spelling in others.split(", ")}
UNIT_WORDS.update((word, word) for unit in [*UNIT_KINDS, *SPELLINGS] for word in [unit, *unit.split("/")])
BOUNDS = {part: (*bounds, says) for says, parts in POSSIBLE.items() for part, bounds in parts.items()}

recorded = {}


def answer(part, value=None, unit="", *more):
    """Record an answer: part, number (or letters), unit."""
    part = part.strip().lower() if isinstance(part, str) else part
    if not isinstance(part, str) or part not in PARTS:
        print(f"There is no part {part!r} in this paper. The parts are: {', '.join(PARTS)}")
        return
    if hasattr(value, "magnitude") and hasattr(value, "units"):
        value, unit = value.magnitude, unit or str(value.units)
    unit = str(unit) if type(unit).__name__ == "Unit" else unit
    if more or not isinstance(unit, str):
        print(f"{part}: not recorded. Write the number without a comma in it, and the unit in quotes.")
        return
    if value is None or value is ... or (isinstance(value, str) and not value.strip()):
        print(f"{part}: no answer yet")
        return
    asked = PARTS[part]
    takes_letters = " letter of " in asked
    wrong = wrong_letters(value, asked) if takes_letters else wrong_number(value)
    if wrong or len(unit) > 60:
        print(f"{part}: not recorded, {wrong or 'the unit is too long.'}")
        return
    recorded[part] = (value, unit)
    shown = f"{value:.6g}" if isinstance(value, float) else value
    look = "" if takes_letters else look_again(number_of(value), unit, asked, part)
    print(f"{part}: recorded {shown} {unit}".rstrip() + (f". Look again: {look}" if look else ""))


def unanswered():
    """Say what has no answer yet, and what to do next."""
    if answer.__globals__ is not globals():
        return  # the script is being marked
    left = [part for part in PARTS if part not in recorded and part not in ON_THE_WAY]
    if left:
        print(f"No answer yet: {', '.join(left)}.")
        print("A cell that was not run since the notebook was opened is among them too; it counts all the same.")
    else:
        print("Every part that asks for a number or letters has an answer.")
    if IN_WORDS:
        print(f"In words, so look for yourself: {', '.join(IN_WORDS)}.")
    save = "Go back to what you can still answer. Then save" if left else "Save"
    print(f"{save} the notebook (Ctrl and S), and hand in the file under the name that it has.")


def look_again(number, unit, asked, part):
    """What looks wrong with the unit or the size of a number, or an empty text."""
    usual = ", ".join(USUAL_UNITS[asked])
    if part in CONVERTING and usual_spelling(unit) != CONVERTING[part]:
        return f"Answer in {CONVERTING[part]}: converting is asked here."
    if not unit.strip():
        return f"there is no unit. The question asks for {asked} ({usual}): write it behind the number, in quotes."
    known = usual_spelling(unit)
    if known not in UNIT_KINDS:
        return (
            f'"{unit}" is none of the usual units of {asked} ({usual}). '
            "It is kept as you wrote it, and read when the paper is marked."
        )
    if UNIT_KINDS[known] != asked:
        return f"{known} measures {UNIT_KINDS[known]}; the question asks for {asked}."
    size = number * USUAL_UNITS[asked][known]
    least, largest, says = BOUNDS.get(part, (size, size, ""))
    hair = 1e-6 * max((abs(bound) for bound in (least, largest) if abs(bound) < 1e300), default=0)
    if not least - hair <= size <= largest + hair:
        return says
    size = abs(size)
    least, largest = LIKELY_SIZES.get(asked, (0, float("inf")))
    if size != 0 and not least <= size <= largest:
        way = "small" if size < least else "large"
        return f"that is a very {way} value for {asked}. Look at the unit and the decimal point."
    return ""


def usual_spelling(unit):
    """The usual spelling of a unit that was written in another way: "KG / M³" is kg/m3."""
    plain = " ".join(unit.replace("²", "2").replace("³", "3").replace("µ", "μ").replace("·", "*").split())
    if one_word(plain):
        return one_word(plain)
    plain = plain.replace("**", "^").replace(" ^ ", "^").replace(" per ", "/")
    plain = "/".join(one_word(piece.strip()) or "?" for piece in plain.split("/"))
    return UNIT_WORDS.get(plain, plain)


def one_word(text):
    """The usual spelling of one word of a unit, with its power if it has one; an empty text if it is unknown."""
    found = UNIT_WORDS.get(text) or UNIT_WORDS.get(text.lower())
    if found or text[-1:] not in ("2", "3"):
        return found or ""
    base = text[:-1].rstrip("^").strip()
    found = UNIT_WORDS.get(base) or UNIT_WORDS.get(base.lower())
    return found + text[-1] if found else ""


def wrong_letters(value, asked):
    """Why a value cannot be the letters that a part asks for, or an empty text."""
    how_many, _, letters = asked.partition(" letter of ")
    given = value.upper() if isinstance(value, str) and len(value) <= 200 else ""
    if how_many == "one":
        fits, how = given.strip().strip("().") in set(letters), "one letter"
    else:
        fits = sorted(sign for sign in given if sign.isalpha()) == sorted(letters)
        how = "each letter once, in your order"
    return "" if fits else f"answer with {how}, in quotes. The letters are {', '.join(letters)}."


def wrong_number(value):
    """Why a value cannot be the number that a part asks for, or an empty text."""
    if isinstance(value, str):
        return wrong_text(value)
    kind = type(value).__name__
    if kind in ("bool", "bool_"):
        return "true or false is not an answer: give a number."
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
        return f"a {kind} is not an answer: give a number."
    return "" if abs(number) < float("inf") else f"{number} is not a number that can be right: look at your sum."


def wrong_text(text):
    """The same for a number in quotes, with a decimal point or comma, or a simple fraction."""
    if len(text) > 200:
        return "the text is too long."
    if any(unicodedata.category(sign) == "No" for sign in text):
        return f'"{text}" holds a raised, lowered or fraction sign: write it as a plain number.'
    plain = without_gaps(text)
    if re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", plain):
        return f'"{text}" can be read in two ways: write {plain.replace(",", "")} or {plain.replace(",", ".")}'
    try:
        number = number_of(text)
    except ValueError:
        return f'"{text}" is not a number. Write number and unit apart, a comma between them, the unit in quotes.'
    return "" if abs(number) < float("inf") else f'"{text}" is too large.'


def without_gaps(text):
    """A number's text without what only groups its digits, and with a plain minus."""
    return re.sub(r"[\s'_]", "", plain_signs(text))


def plain_signs(text):
    """A text with its wide digits and its minus as a keyboard has them."""
    return unicodedata.normalize("NFKC", text).replace("\N{MINUS SIGN}", "-")


def number_of(value):
    """The number in a value, or in its text with decimal point or comma, or as a simple fraction."""
    if not isinstance(value, str):
        return float(value)
    fraction = re.fullmatch(FRACTION, plain_signs(value).strip())
    if fraction:
        sign, whole, above, below = fraction.groups()
        if int(below) and (whole is None or int(above) < int(below)):
            return (-1 if sign == "-" else 1) * (int(whole or 0) + int(above) / int(below))
    plain = without_gaps(value)
    if "," in plain and "." in plain:
        plain = plain.replace("," if plain.rindex(".") > plain.rindex(",") else ".", "")
    elif plain.count(",") > 1:
        plain = plain.replace(",", "")
    plain = plain.replace(",", ".")
    if not re.fullmatch(NUMBER, plain, re.IGNORECASE):
        raise ValueError(plain)
    return float(plain)


def kind_word(shell, kind, error, trace, tb_offset=None):
    """Say in words what Python cannot make of a cell, where it is an answer or was to be one."""
    unreadable = isinstance(error, SyntaxError)
    line = (error.text if unreadable else traceback.extract_tb(trace)[-1].line) or ""
    meant = re.match(r"answer\b", line.strip(), re.IGNORECASE)
    word = unreadable_word(line.strip(), meant) if unreadable else unusable_word(str(error), line, meant)
    if unreadable and not meant:
        shell.showsyntaxerror()
    elif not (meant and word):
        shell.showtraceback((kind, error, trace), tb_offset=tb_offset)
    if word:
        print(word)


def unusable_word(error, line, meant):
    """What to change in a line that Python reads and cannot work out, or an empty text."""
    if " for ^" in error:
        return "Not recorded: a power is written with ** in Python, not with ^."
    if not meant:
        return ""
    if "subscriptable" in error:
        return "Not recorded: an answer stands in round brackets, ( and )."
    if not error.startswith("name '"):
        return ""
    name = error.split("'")[1]
    if name.lower() == "answer":
        return "Not recorded: write answer with small letters."
    return f'Not recorded: Python knows nothing called {name}. Letters and units need quotes around them: "{name}".'


def unreadable_word(line, meant):
    """What to change in a line that Python cannot read, and how an answer looks."""
    if not meant:
        return "Nothing of this cell is recorded. Words of your own need the sign # before them in each line."
    named = next((part for part in PARTS if f'"{part}"' in line.lower()), "PART")
    rest = '"LETTERS"' if " letter of " in PARTS.get(named, "") else 'NUMBER, "UNIT"'
    return (
        f"Nothing of this cell is recorded, for Python cannot read this line:\n    {line}\n"
        f'Look again: {first_fault(line)}\nAn answer looks like this:   answer("{named}", {rest})'
    )


def first_fault(line):
    """The likeliest reason why Python cannot read an answer."""
    if re.search("[“”„‟«»‘’‚]", line):
        return 'type the plain quotes of the keyboard, ", in place of the slanted ones.'
    if line.count('"') % 2:
        return "a quote is missing. There is one before and one behind the part, and so with the unit."
    bare = re.sub(r"'[^']*'", '""', re.sub(r'"[^"]*"', '""', line))
    for fault, what in (
        (r"^answer\s*(?!\()\S", "brackets are missing. They stand round all that is behind the word answer."),
        (r"\(\s*\w+\s*,", "the part needs quotes around it."),
        (r'""\s*[\w.+-]', "a comma is missing behind the part."),
        (r",\s*=", "leave out the sign =."),
        (r"\d,\d", "write a decimal point in place of the comma, and a long number without gaps."),
        (r"\d\s+\d", "write a long number without gaps."),
        (r"[½⅓⅔¼¾⅛⅜⅝⅞¹²³]", "write fractions and powers as plain numbers."),
        (r"\.\d+\.", "there are two decimal points in the number."),
        (r"(^|[^\d.])0\d", "leave out the nought before the number."),
        (r"\dx", "times is written with the sign *."),
        (r'[\d.)]\s*(""|[^\W\d]|[%°])', "put a comma behind the number, and quotes around the unit."),
        (r"\w\s+\d", "between the commas stands nothing but the number."),
    ):
        if re.search(fault, bare, re.IGNORECASE):
            return what
    if bare.count("(") != bare.count(")"):
        return "a bracket is missing, or there is one too many."
    return "commas stand between part, number and unit, and quotes around part and unit."


if answer.__globals__ is globals():  # not so while the script is marked
    try:
        get_ipython().set_custom_exc((NameError, SyntaxError, TypeError), kind_word)
    except NameError:
        pass  # not in Jupyter
    print("Ready: answer in the cells below, and run each with Shift and Enter.")
