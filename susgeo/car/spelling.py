"""What is wrong with the spelling of a car file, in a builder's words: TOML's own name none."""

import re
import tomllib

from ..files import legible

WORDS = {
    "Expected newline": "more stands there than a value (a comma, a unit, the letter O for a zero)",
    "Expected '='": "there is no = between a name and its value",
    "Expected ']'": "a table's name lacks its ]",
    "Invalid value": "behind the = is no number, no text in quotes and no point",
    "Unclosed array": "a point lacks a comma or its ]",
    "Unclosed inline": "a { is not closed",
    "Cannot overwrite": "this name, or this table, stands twice",
    "Unescaped": "write / for a backslash",
    "Invalid statement": "this is no name = value and no [table]",
    "Illegal character": "a text lacks its closing quote, or a character may not stand there",
    "Expected": "a text lacks its closing quote",
}
"""By how Python's reader begins its complaint."""


def misspelled(text: str, error: Exception) -> str:
    """Return what breaks the rules of TOML, with its line and what stands there.

    Args:
        text: of the file. error: raised by ``tomllib.loads``.

    >>> text = "[rear]\\ntrack = 14OO"
    >>> try:
    ...     content = tomllib.loads(text)
    ... except tomllib.TOMLDecodeError as error:
    ...     print(misspelled(text, error))
    line 2, "track = 14OO": more stands there than a value (a comma, a unit, the letter O for a zero)
    """
    if isinstance(error, RecursionError):
        return "brackets are nested too deeply"
    if not isinstance(error, tomllib.TOMLDecodeError):
        return "a number is too long"
    said, lines = str(error), text.splitlines()
    at = re.search(r"at line (\d+)", said)
    number = int(at[1]) if at else next((k for k, line in reversed([*enumerate(lines, 1)]) if line.strip()), 1)
    if said.startswith("Unclosed") and not at:
        number = next((k for k, line in reversed([*enumerate(lines, 1)]) if line.count("[") > line.count("]")), number)
    table = re.match(r"Cannot declare \((.*?),?\) twice", said)
    what = next((words for start, words in WORDS.items() if said.startswith(start)), said[:100])
    if table:
        what = f"the table [{'.'.join(part.strip(chr(39)) for part in table[1].split(', '))[:60]}] stands twice"
    return f'line {number}, "{legible(lines[number - 1].strip(), 60)}": {what}'
