"""Lines of keys. The line is known beforehand, because each case is written with its number."""

import json

from hypothesis import given, settings
from hypothesis import strategies as st

from tailrace.scenario.read import Lines

TEXT = '''\
# 1 [not a table]
title = "a = [b" # 2
text = """ 3
[no]
"no" = 1 \\"""" # still the text
other = \'\'\'
[[no]]\'\'\' # 7
[method] # 8
eluent = { water = 0.25, "odd = key" = "]" } # 9
a.b = 1 # 10
[[path]] # 11
name = 'one' # 12
[path.extra] # 13
x = [ # 14
  1, # ]
  2,
]
y = 2024-01-01 # 18
[[path]] # 19
"quoted.key" = 1 # 20
[[path.inner]] # 21
z = 1
[[path.inner]] # 23
z = 1 # 24
'''

KNOWN = {
    ("title",): 2,
    ("text",): 3,
    ("other",): 6,
    ("method",): 8,
    ("method", "eluent"): 9,
    ("method", "eluent", "water"): 9,
    ("method", "a", "b"): 10,
    ("method", "missing"): 8,
    ("path",): 11,
    ("path", 0): 11,
    ("path", 0, "name"): 12,
    ("path", 0, "extra"): 13,
    ("path", 0, "extra", "x"): 14,
    ("path", 0, "extra", "x", 1): 14,
    ("path", 0, "extra", "y"): 18,
    ("path", 1): 19,
    ("path", 1, "quoted.key"): 20,
    ("path", 1, "inner", 0): 21,
    ("path", 1, "inner", 1): 23,
    ("path", 1, "inner", 1, "z"): 24,
    ("nothing",): 1,
    (): 1,
}


def test_every_key_is_found_at_its_line():
    lines = Lines(TEXT)
    assert {path: lines.line(path) for path in KNOWN} == KNOWN


def test_windows_line_ends_count_once():
    lines = Lines(TEXT.replace("\n", "\r\n"))
    assert {path: lines.line(path) for path in KNOWN} == KNOWN


VALUES = st.sampled_from(
    ["1", "'x'", '"[# \\" "', "[1, # [\n 2]", '"""\n\n"""', "'''\n'''''", "{ a = [1] }", '""', "''"]
)
KEYS = st.text(alphabet="ab =\"[]#.'", min_size=1, max_size=6)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(KEYS, VALUES), max_size=12, unique_by=lambda pair: pair[0]))
def test_keys_are_found_behind_any_values(pairs):
    text, expected = "", {}
    for key, value in pairs:
        expected[(key,)] = text.count("\n") + 1
        text += f"{json.dumps(key)} = {value} # comment ' \"\n"
    lines = Lines(text)
    assert {path: lines.line(path) for path in expected} == expected
