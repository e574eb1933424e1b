#!/usr/bin/env python3
"""Changes one place of a room's code at a time, as a slip of the pen would: prints FILE, LINE, what, old, new.

mutants.py ROOM_DIR COUNT SEED      COUNT lines "file<TAB>line<TAB>kind<TAB>new text of the line"

Places are drawn evenly over the lines that can be changed, then one of the changes that the line allows.
Comments, strings, declarations of functions, preprocessor lines and assertions are left alone.
"""
import pathlib
import random
import re
import sys

FLIPS = [
    (r"<=", "<"), (r">=", ">"), (r"(?<![<\-])<(?![<=])", "<="), (r"(?<![>\-])>(?![>=])", ">="),
    (r"==", "!="), (r"!=", "=="), (r"&&", "||"), (r"\|\|", "&&"),
    (r"(?<=[\w\)\]]) \+ (?=[\w\(])", " - "), (r"(?<=[\w\)\]]) - (?=[\w\(])", " + "),
    (r"(?<=[\w\)\]]) \* (?=[\w\(])", " / "), (r"\btrue\b", "false"), (r"\bfalse\b", "true"),
    (r"\bfmin\b", "fmax"), (r"\bfmax\b", "fmin"), (r"\+\+", "--"), (r"\+= ", "-= "), (r"-= ", "+= "),
]
NUMBER = re.compile(r"(?<![\w.\"'])(\d+\.\d+|\d+)(?![\w.\"'])")
CONDITION = re.compile(r"^(\s*(?:\} else )?(?:else )?if \()(.*)(\)( \{)?)$")
RETURN = re.compile(r"^(\s*return )(.+);$")
# A call or an assignment that stands alone on its line.
STATEMENT = re.compile(r"^\s+(?!return|break|continue|case|default|goto|static|const|struct|enum|typedef|extern|for|while|if|else|switch|do)"
                       r"([A-Za-z_][\w\->.\[\]]*)(\(.*\)| (=|\+=|-=|\|=|&=) [^={][^{]*|\+\+|--);$")
DECLARED = re.compile(r"^\s+(const |unsigned |signed |static )*(bool|char|double|int|long|size_t|float|uint\d+_t|int\d+_t|unsigned|struct \w+|enum \w+)[ *]")


def code_of(text):
    """The text with comments and literals blanked, so that nothing in them is changed."""
    def blank(match):
        return re.sub(r"[^\n]", "\x01", match.group(0))
    return re.sub(r"/\*.*?\*/|//[^\n]*|\"(?:\\.|[^\"\\\n])*\"|'(?:\\.|[^'\\\n])+'", blank, text, flags=re.S)


def changed_number(text):
    if "." in text:
        value = float(text)
        return "1.0" if value == 0 else repr(round(value * 1.5, 6))
    value = int(text)
    return str(value + 1 if value < 20 else value * 3 // 2)  # a limit of 5000 ms need not notice one more


def changes(code, line):
    """Every change that a line allows: (kind, new line)."""
    out = []
    if re.match(r"\s*#|\s*(_Static_assert|static_assert|assert)\b|\s*case ", code) or not re.match(r"\s", code):
        if not re.match(r"static const|#define \w+ [\d.]", code):
            return out

    def put(kind, start, end, new):
        out.append((kind, line[:start] + new + line[end:]))

    for pattern, new in FLIPS:
        for match in re.finditer(pattern, code):
            put("flip", match.start(), match.end(), new)
    for match in NUMBER.finditer(code):
        if not re.search(r"\[\s*$", code[:match.start()]) or not DECLARED.match(code):
            put("number", match.start(), match.end(), changed_number(match.group(0)))
    match = CONDITION.match(code)
    if match:
        put("negate", match.start(2), match.end(2), "!(" + line[match.start(2):match.end(2)] + ")")
    match = RETURN.match(code)
    if match and re.search(r"[<>=!&|]|\b(is|has|may|must)_", match.group(2)):
        put("negate", match.start(2), match.end(2), "!(" + line[match.start(2):match.end(2)] + ")")
    if STATEMENT.match(code) and not DECLARED.match(code) and code.count("(") == code.count(")"):
        indent = len(line) - len(line.lstrip())
        out.append(("drop", line[:indent] + "(void)0;"))
    return out


def main():
    room, count, seed = pathlib.Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    places = []
    for file in sorted(room.glob("*.c")):
        text = file.read_text()
        for number, (code, line) in enumerate(zip(code_of(text).split("\n"), text.split("\n")), 1):
            found = [c for c in changes(code, line) if c[1] != line]
            if found:
                places.append((file, number, found))
    draw = random.Random(seed)
    draw.shuffle(places)
    for file, number, found in places[:count]:
        kind, new = draw.choice(found)
        print(file, number, kind, new, sep="\t")


main()
