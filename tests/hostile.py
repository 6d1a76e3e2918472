"""Names that try to break out of a document: formulas, line breaks, length, other scripts."""

from __future__ import annotations

NAMES = {
    "equals": '=HYPERLINK("http://x.example","click")',
    "plus": "+1+1",
    "minus": "-2+3",
    "at": "@SUM(A1:A9)",
    "tab": "\t=1+1",
    "line break": "Salt\r\nBcc: all@x.example",
    "long": "Very long name of a thing " * 8,
    "one word": "W" * 200,
    "right to left": "חומוס עם טחינה",
    "turned round": "abc\u202efdp.exe",
    "chinese": "北京烤鴨與荷葉餅",
    "accents": "Crème fraîche, épaisse",
    "markup": "<b>&amp;</b> \"quoted\" 'single'",
    "footer codes": "&B&20 big &P",
    "control": "bell\x07null\x00",
}
