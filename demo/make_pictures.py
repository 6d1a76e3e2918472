"""Pictures for README: python demo/make_pictures.py runs/2026-11-26 review/review-2026-10-29-2026-11-25.html

Today, the start list and an order sheet of a run, its page for the phone, and the first screen of a review.
Needs LibreOffice (`soffice`), poppler (`pdftoppm`) and Chromium (`chromium`). They go to demo/pictures.
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
PAGES = (
    ("today", "order-book.xlsx", 834),
    ("start-list", "start-list.xlsx", 640),
    ("order-sheet", "orders/sallowgate-butchers.xlsx", 640),
)


PHONE_WIDTH = 500  # pixels; Chromium opens no narrower window


def on_a_phone(page: Path, picture: Path, height: int) -> None:
    """A page of our own as a phone shows its first screens."""
    size = f"--window-size={PHONE_WIDTH},{height}"
    looks = ["--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", size]
    words = ["chromium", *looks, f"--screenshot={picture}", page.resolve().as_uri()]
    subprocess.run(words, check=True, capture_output=True)
    print(picture)


def main(run: Path, review: Path | None = None) -> None:
    """Convert the first page of each workbook and keep its upper part."""
    PICTURES.mkdir(exist_ok=True)
    on_a_phone(run / "today.html", PICTURES / "phone.png", 900)
    if review is not None:
        on_a_phone(review, PICTURES / "owner.png", 1750)
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
    main(*(Path(word) for word in sys.argv[1:3]))
