"""What a printer would make of our workbooks: pages and words of the PDF, each with its place and size.

LibreOffice lays the sheets out and `pdftotext -bbox` (Poppler) says where each word stands. Where either is
missing the test is skipped. Starting LibreOffice costs most: print all workbooks of a test file at once.
"""

import html
import re
import shutil
import subprocess
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

# Height of Poppler's box around a word over the size of its letters, Arial and its metric equivalents.
BOX_A_POINT = 1.288
LEVEL = 8.0  # twice the points by which middles of words on one line may differ
_PAGE = re.compile(r'<page width="([0-9.]+)" height="([0-9.]+)">(.*?)</page>', re.DOTALL)
_WORD = re.compile(
    r'<word xMin="([-0-9.]+)" yMin="([-0-9.]+)" xMax="([-0-9.]+)" yMax="([-0-9.]+)">(.*?)</word>', re.DOTALL
)


@dataclass(frozen=True)
class Word:
    """A word and its box, in points from the upper left corner of the page."""

    text: str
    left: float
    top: float
    right: float
    bottom: float

    @property
    def points(self) -> float:
        """Size of its letters."""
        return (self.bottom - self.top) / BOX_A_POINT


@dataclass(frozen=True)
class Page:
    """A page as it leaves the printer, in points."""

    width: float
    height: float
    words: tuple[Word, ...]

    @property
    def text(self) -> str:
        """Its words from the top left, line by line; words whose middles are level stand on one line."""
        ranked = sorted(self.words, key=lambda w: (round((w.top + w.bottom) / LEVEL), w.left))
        return " ".join(word.text for word in ranked)

    @property
    def least_points(self) -> float:
        """Size of its smallest letters."""
        return min(word.points for word in self.words)


def printed(workbooks: Mapping[str, bytes], folder: Path) -> dict[str, list[Page]]:
    """The pages of each workbook, by its name."""
    if not (shutil.which("soffice") and shutil.which("pdftotext")):
        pytest.skip("LibreOffice or Poppler is not installed")
    for name, content in workbooks.items():
        (folder / f"{name}.xlsx").write_bytes(content)
    own = f"-env:UserInstallation=file://{folder / 'office'}"
    files = [str(folder / f"{name}.xlsx") for name in workbooks]
    command = ["soffice", own, "--headless", "--convert-to", "pdf", "--outdir", str(folder), *files]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    return {name: pages_of(folder / f"{name}.pdf") for name in workbooks}


def pages_of(pdf: Path) -> list[Page]:
    """The pages of a PDF."""
    told = subprocess.run(["pdftotext", "-bbox", str(pdf), "-"], check=True, capture_output=True, timeout=60)
    return [
        Page(
            float(width),
            float(height),
            tuple(Word(html.unescape(w[4]), *map(float, w[:4])) for w in _WORD.findall(body)),
        )
        for width, height, body in _PAGE.findall(told.stdout.decode("utf-8"))
    ]
