"""Makes files as a careless or hostile hand might write them: most are nearly recipes, so that many are accepted."""

from hypothesis import strategies as st

PLAIN_KEYS = ("resist", "thickness_um", "sides", "dose_mj_cm2", "time_guard_s", "hold_s", "note", "a", "b", "é")
ODD_KEYS = ("<<", "yes", "no", "1", "~", "null", "on", "resist ", "'quoted'", '"dq"', "? a", "&k a", "!!str a", "")
PLAIN = (
    *("60", "60.0", "0.84", "-3", "one", "turned", "Blue film 38 µm", '"60"', "'yes'", "'it''s'", '"a\\tb"', "0", "-0"),
    *(
        "|\n{in}one\n{in}two",
        ">\n{in}one\n{in}two\n\n{in}three",
        "plain # not",
        "a#b",
        "a :b",
        "x" * 300,
        "[1, 2]",
        "{a: 1}",
    ),
)
ODD = (
    *("060", "0o14", "0x3C", "0b11", "1_000", "12e3", "1e-5", "1.5e3", "1.5e+3", ".5", "5.", "+1", "-0.0", "1:10.5"),
    *("190:20:30", ".inf", "-.Inf", ".NaN", "yes", "No", "on", "OFF", "y", "n", "true", "TRUE", "~", "null", "Null"),
    *("", "2026-11-29", "2026-99-99", "2001-12-14t21:59:43.10-05:00", "=", "<<", "&a 1", "*a", "!!str 1", "!!int '1'"),
    *("!x y", "!!python/name:os.system", "!!set {a}", "!!binary aGk=", '"\\x41"', '"\\u2028"', '"a\\\n{in}b"', "a: b"),
    *(
        "- x",
        "? x",
        "%x",
        "@x",
        "`x",
        "\\",
        "a\tb",
        "\ta",
        "a\t# c",
        "|-\n{in}x",
        ">+\n{in}x\n\n",
        "|2\n    x",
        "12 # x",
    ),
    *("[1, [2, [3]]]", "{a: 1, a: 2}", "{a: 1, <<: {b: 2}}", "[a, b: c]", "{}", "[]", "[", "}", "[" * 25 + "]" * 25),
    *(
        "a\u0085b",
        "a\u2028b",
        "\ufeff",
        "😀",
        "\u202e",
        "\x7f",
        "٣",
        "１２",
        "9" * 40,
        "1" + "0" * 400,
        "1  ",
        "0.1" + "0" * 40,
    ),
)
LETTERS = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cs"])
    | st.sampled_from("\t\n :#-'\"{}[]&*!|>%@`,?\\\u0085\u2028\ufeff"),
    max_size=12,
)
NUMBERS = st.decimals(-1000, 1000, allow_nan=False, places=3).map(str) | st.floats().map(repr) | st.integers().map(str)
COMMENTS = st.sampled_from(("", "", "", "", "  # why", " #not: this", " #", "\t# tab"))
ENDS = st.sampled_from(("\n",) * 7 + ("", "\n...\n", "\n---\na: 1\n", "\n# end", "\n\n\n", "\n\t\n"))
STARTS = st.sampled_from(("",) * 6 + ("# head\n", "---\n", "%YAML 1.1\n---\n", "%YAML 1.2\n---\n", "\ufeff", "\n\n"))


@st.composite
def groups(draw: st.DrawFn, oddness: int, depth: int = 0, indent: str = "") -> str:
    """Lines of a mapping; one value in so many is odd, and so are keys, gaps and indents now and then."""

    def odd(less: int = 1) -> bool:
        return draw(st.integers(0, oddness * less)) == 0

    keys = draw(st.lists(st.sampled_from(PLAIN_KEYS), min_size=1, max_size=4, unique=not odd(4)))
    lines = []
    for key in keys:
        shown = draw(st.sampled_from(ODD_KEYS)) if odd(4) else key
        between = draw(st.sampled_from((":", ":\t", " : ", ":   ", "\t: "))) if odd(4) else ": "
        inside = indent + (draw(st.sampled_from(("\t", " ", "    "))) if odd(4) else "  ")
        if depth < 3 and draw(st.integers(0, 5)) == 0:
            value = "\n" + draw(groups(oddness, depth + 1, inside))
        elif odd():
            value = draw(st.sampled_from(ODD) | LETTERS | NUMBERS).replace("{in}", inside)
        else:
            value = draw(st.sampled_from(PLAIN)).replace("{in}", inside)
        lines.append(f"{indent}{shown}{between}{value}{draw(COMMENTS)}")
    return "\n".join(lines)


@st.composite
def files(draw: st.DrawFn) -> str:
    """A whole file; line ends, marks and starts of documents as various hands leave them."""
    text = draw(STARTS) + draw(groups(draw(st.sampled_from((1, 3, 6, 12))))) + draw(ENDS)
    return str(text).replace("\n", draw(st.sampled_from(("\n", "\n", "\n", "\n", "\r\n", "\r"))))
