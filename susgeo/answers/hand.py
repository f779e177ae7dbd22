"""What people write around their lines: arrows, bullets, words, decimal commas, lines broken and several in a row.

Here a text becomes plain lines ``name = formula``; what each holds is read elsewhere. Nothing is dropped that could
be meant as part of a formula.
"""

import re
from contextlib import suppress

from .lines import LONGEST_LINE, LONGEST_WORKING, REMARK
from .numbers import Unreadable, read_number

_NAME, _LETTERS = r"[^\W\d]\w*", r"[^\W\d_]{2,}"
_WORDS = rf"(?:{_LETTERS}[.,]? +)"
_HEAD = re.compile(r"\A.*^[ \t]*Lines:[ \t]*$", re.MULTILINE | re.DOTALL)
_EQUALS = str.maketrans("≈≃≅≐≒＝~∼→⇒⟹⟶", "============", "$`")
_JOINTS = "so|then|thus|hence|therefore|and|with|now|where|we|get|have|find|gives|the|as|for|from|it|follows|that|also|here|let"
_BROKEN = re.compile(
    rf"\n[ \t]*(?==|[/÷×·+](?! ?{_NAME} *=))|(?<=[+/÷×·(])[ \t]*\n|(?<==)[ \t]*\n(?=[^\n=]*\d[^\n=]*(?:\n|$))"
)
"""A line that goes on in the next one: before or after an equals sign, after a sign or a bracket."""
_THEN = re.compile(rf"(?<=[\w)\].%°\"″'])(?:\t+| {{2,}}|,? +and +)(?={_NAME} *=)")
"""What stands between two lines in one row, beside a comma."""
_DASH = re.compile(r" *[-*–—+] +(?=[^\W\d])")
_LEAD = re.compile(
    rf"^ *(?:[•‣▪>=∴] *)?(?:\(?[a-z\d]{{1,2}}[).:] +|(?:step|line) ?\d+ ?[.:)]? +)?"
    rf"(?:{_WORDS}*{_LETTERS}[:,] +|(?:(?:{_JOINTS}),? +)+)?(?={_NAME} *[=:])",
    re.IGNORECASE,
)
"""A bullet, a number, words with a colon or a comma behind them, or words that join, before ``name =``."""
_AFTER = re.compile(rf" *(?:[✓✔☑]|\({_WORDS}+{_LETTERS}\)| [-–—] {_WORDS}+{_LETTERS})$")
_ENDS = re.compile(r" *(?:answer|result|solution): *(?=[-+−(√.\d])", re.IGNORECASE)
_POWERS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺−–", "0123456789-+--")
_OF_TEN = re.compile(
    r"((?:^|[=(+−–-]) *)(\d+(?:[.,]\d+)?) ?[·×⋅∙•*xX] ?10"
    r"(?:(?:\^|\*\*) ?\(?([-+−–]?\d{1,2})\)?|([⁺⁻]?[⁰¹²³⁴⁵⁶⁷⁸⁹]{1,2}))(?![\w.^])"
)
"""A number times a power of ten, which stands first in its side or its bracket."""


def plain_rows(text: str) -> str:
    """Return lines as they are read: one a row, without what people write before and behind them.

    >>> print(plain_rows("• slope: s_L → 35/560\\n  => 6.25·10⁻² (rising forward)\\nso c_L = 230 mm, and c_U = 440"))
    s_L = 35/560 = 6.25e-2
    c_L = 230 mm
    c_U = 440
    """
    text = re.sub(" {5,}", "    ", text)
    text = re.sub(rf"(?:(?<![-=])[-=]{{1,3}}>|[→⇒⟹⟶]) *(?={_NAME} *=)", "\n", text)  # what follows is a line of its own
    text = re.sub(r"(?<![-=])[-=]{1,3}>", "=", text.translate(_EQUALS))
    rows = text.splitlines()
    if len(rows) > 2 * LONGEST_WORKING or any(len(row) > LONGEST_LINE for row in rows):
        return text  # it is refused as too long
    text = re.sub(r"_\{(\w+)\}", r"_\1", text)
    for sign, word in (("(?:″|''|′′)", "second"), ("['′’]", "prime")):
        text = re.sub(rf"(?<![\w.])({_NAME}){sign}(?![\w'′])", rf"\1_{word}", text)
    for squared in dict.fromkeys(re.findall(rf"(?m)^(?:.*[;,])? *({_NAME}) ?(?:²|\^2|\*\*2) *=", text)):
        text = re.sub(rf"(?<!\w){squared} ?(?:²|\^2|\*\*2)(?!\w)", f"{squared}_squared", text)
    for turn, name in dict.fromkeys(re.findall(rf"(?m)^(?:.*[;,])? *(sin|cos|tan) *\(?({_NAME})\)? *=", text)):
        text = re.sub(rf"(?<!\w){turn} *(?:\({name}\)|{name}(?!\w))", f"{turn}_{name}", text)
    rows = re.sub(r"(?<=\d)(?:…|\.\.\.)(?! *\d)", "", text).splitlines()
    if len(rows) > 1:
        rows = [row for row in (REMARK.split(row)[0].rstrip() for row in rows) if row]
        if all(_DASH.match(row) for row in rows):  # with one dash a minus may be meant
            rows = [_DASH.sub("", row, count=1) for row in rows]
    rows = [_AFTER.sub("", _LEAD.sub("", row, count=1)) for row in rows]
    rows = [_THEN.sub("\n", "\n".join(re.split(rf",? +(?:with|where) +(?={_NAME} *=)", row)[::-1])) for row in rows]
    rows = _BROKEN.sub(" ", "\n".join(rows)).splitlines()
    if any("=" in row for row in rows):
        rows = [row for row in rows if not re.fullmatch(rf" *{_WORDS}+{_LETTERS}[.,]? *|[^=]*{_LETTERS} *:", row)]
    if rows and (end := _ENDS.match(rows[-1])):
        rows[-1] = rows[-1][end.end() :].strip()
        rows = rows[:-1] if len(rows) > 1 and rows[-2].rstrip().endswith(rows[-1]) else rows
    times = r"\1" if any(re.match(r" *x *=", row) for row in rows) else "*"
    return "\n".join(
        re.sub(r"(?<=[\d)\]])( [xX] )(?=[\d(\[√.]|(?:sqrt|pi|sin|cos|tan)\b)", times, _turned(row)) for row in rows
    )


def _turned(row: str) -> str:
    """Return a row with its name first, its equals sign written, and powers of ten as a computer writes them."""
    row = re.sub(
        r" ?[*·×] ?100 ?%(?=.*=.*%)|(?<=[*·×] 100) ?%|(?<=[*·×]100) ?%|(?<=100) ?%(?= ?[*·×])", "", row
    )  # a share
    row = re.sub(rf"^( *{_NAME})(?:: +| (?:is|equals) +(?=[-+−(√.\d]))(?=[^=]*$)", r"\1 = ", row)
    first, *sides = (side.strip() for side in row.split("="))
    if first and sides and not re.fullmatch(_NAME, first) and re.fullmatch(_NAME, sides[-1]):
        row = " = ".join((sides[-1], first, *sides[:-1]))
    return _OF_TEN.sub(lambda one: f"{one[1]}{one[2]}e{int((one[3] or one[4]).translate(_POWERS))}", row)


def lines_of(answer: object, length: str = "mm") -> object:
    """Return an answer without the head of a printed solution, in plain rows.

    Within arithmetic a decimal comma becomes a point, and a length in the page's own unit a plain number.
    """
    if not isinstance(answer, str):
        return answer
    if len(answer) > LONGEST_LINE * LONGEST_WORKING:
        raise Unreadable(f"The answer is {len(answer):,} characters long; a line for each step is enough.")
    text = plain_rows(_HEAD.sub("", answer, count=1)).lstrip("= ")
    unit = rf"(?<=[\d.)²³]) ?{length}\b(?! ?(?:\^|\*\*|[²³⁴]|[/*·] ?(?:mm|in|N|k?g|deg|rad)\b))"

    def plain(side: str) -> str:
        if not re.search(rf",\d|{length}", side) or re.search("atan2|hypot", side):
            return side
        if sure and "\n" in text:
            side = _ANY.sub(r"\1.", side)
        with suppress(Unreadable):
            read_number(side)
            return side
        return (_ANY if sure else _COMMA).sub(r"\1.", re.sub(unit, "", side))

    sure = _COMMA.search(text) and not re.search(r"\d\.\d", text)
    return "\n".join("=".join(map(plain, re.split(":?=+", row))) for row in text.splitlines())


_ANY = re.compile(r"(\d),(?=\d)")
_COMMA = re.compile(r"(?<![\d.,])(?![1-9]\d{0,2},\d{3}(?!\d))(\d+),(?=\d+(?!\d|[.,]\d))")
"""A comma between digits that cannot mark thousands."""
