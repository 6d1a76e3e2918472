"""Pictures of an order sheet and of Today, for README: python demo/make_pictures.py runs/2026-11-26

Needs LibreOffice (`soffice`) and poppler (`pdftoppm`). The pictures go to demo/pictures.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

PICTURES = Path(__file__).parent / "pictures"
RESOLUTION = 84
WIDTH = 694  # of an A4 page, in pixels
# Name of the picture, workbook in the run folder, and height to keep, in pixels.
PAGES = (("today", "order-book.xlsx", 850), ("order-sheet", "orders/sallowgate-butchers.xlsx", 640))


def main(run: Path) -> None:
    """Convert the first page of each workbook and keep its upper part."""
    PICTURES.mkdir(exist_ok=True)
    for name, workbook, height in PAGES:
        with tempfile.TemporaryDirectory() as folder:
            office = ["soffice", f"-env:UserInstallation=file://{folder}/office", "--headless"]
            convert = [*office, "--convert-to", "pdf", "--outdir", folder, str(run / workbook)]
            subprocess.run(convert, check=True, capture_output=True)
            page = Path(folder) / Path(workbook).with_suffix(".pdf").name
            part = ["-x", "0", "-y", "0", "-W", str(WIDTH), "-H", str(height)]
            draw = ["pdftoppm", "-png", "-gray", "-r", str(RESOLUTION), "-f", "1", "-singlefile", *part]
            subprocess.run([*draw, str(page), str(PICTURES / name)], check=True)
        print(PICTURES / f"{name}.png")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
