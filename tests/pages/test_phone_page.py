"""Today on a phone: whole, quiet on the network, safe for any name, and readable at 390 pixels."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
import sample_plan
from hostile import NAMES

from ordering.pages.phone_page import today_html

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)
BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


class Seen(HTMLParser):
    """Tags with their attributes, ids, and whether each label has its box."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "input", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, f"{tag} closes what it did not open"


def with_phone() -> tuple[object, ...]:
    mill = replace(HOUSE.vendors["hollow-mill"], phone="+44 1632 960110", email="mill@hollow.example")
    return replace(HOUSE, vendors=HOUSE.vendors | {"hollow-mill": mill}), PLAN


def test_it_is_one_file_that_fetches_nothing_and_runs_no_script() -> None:
    text = today_html(HOUSE, PLAN)
    seen = Seen(text)
    assert not seen.open
    assert not {tag for tag, _ in seen.tags} & {"script", "link", "img", "iframe", "object"}
    assert not re.search(r"https?://|url\(|@import", text)


def test_orders_come_by_cut_off_with_mail_and_call_to_tap() -> None:
    house, plan = with_phone()
    seen = Seen(today_html(house, plan))  # type: ignore[arg-type]
    links = [attrs["href"] for tag, attrs in seen.tags if tag == "a" and attrs.get("class") == "tap"]
    assert "tel:+441632960110" in links
    assert any(str(link).startswith("mailto:mill@hollow.example?subject=Order%20for") for link in links)


def test_every_tick_has_its_label_and_an_id_of_its_own() -> None:
    seen = Seen(today_html(HOUSE, PLAN))
    boxes = [attrs["id"] for tag, attrs in seen.tags if tag == "input"]
    labels = [attrs["for"] for tag, attrs in seen.tags if tag == "label"]
    assert boxes == labels
    assert len(boxes) == len(set(boxes)) == 3 + 3  # orders, and starts of today


def test_every_part_that_is_named_above_is_there() -> None:
    seen = Seen(today_html(HOUSE, PLAN))
    ids = {attrs.get("id") for _, attrs in seen.tags}
    assert {
        str(attrs["href"])[1:] for tag, attrs in seen.tags if str(attrs.get("href", "")).startswith("#")
    } <= ids
    assert {"order", "attention", "start", "short", "use", "check"} <= ids


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_no_name_becomes_a_tag(name: str) -> None:
    ids = ("house", "hollow-mill", "reed-quay", "loaf", "levain", "aged-rib")
    house = sample_plan.house(dict.fromkeys(ids, name))
    plain, found = Seen(today_html(HOUSE, PLAN)), Seen(today_html(house, sample_plan.plan(house)))
    assert [tag for tag, _ in found.tags] == [tag for tag, _ in plain.tags]


def test_two_runs_give_the_same_page() -> None:
    assert today_html(HOUSE, PLAN) == today_html(sample_plan.house(), sample_plan.plan(sample_plan.house()))


def test_an_american_house_reads_the_month_first() -> None:
    text = today_html(replace(HOUSE, holiday_country="US"), PLAN)
    assert "Thursday, November 26, 2026" in text
    assert "Thu Nov 26 noon" in text
    assert "26 Nov" not in text


MEASURE = """<script>document.documentElement.setAttribute("data-wide", Math.max(
...[...document.querySelectorAll("*")].map(e => e.getBoundingClientRect().right)) <= innerWidth + 1);
document.documentElement.setAttribute("data-small", [...document.querySelectorAll("body *")].some(
e => e.textContent.trim() && parseFloat(getComputedStyle(e).fontSize) < 16));
document.documentElement.setAttribute("data-tap", [...document.querySelectorAll("nav a, .tap")].every(
e => e.getBoundingClientRect().height >= 44));</script></html>"""


@pytest.mark.skipif(BROWSER is None, reason="no browser on this machine")
@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)])
def test_a_browser_shows_it_whole_and_large_enough(tmp_path: Path, width: int, dark: bool) -> None:
    """No text under 16 pixels, nothing beyond the edge, 44 pixels to tap on."""
    house, plan = with_phone()
    page = tmp_path / "today.html"
    # The window of a browser without a screen is never narrower than 500 pixels: a frame is.
    inner = today_html(house, plan).replace("</html>", MEASURE)  # type: ignore[arg-type]
    page.write_text(inner, "utf-8")
    frame = tmp_path / "frame.html"
    frame.write_text(
        f'<iframe id="f" src="today.html" style="width:{width}px;height:800px;border:0"></iframe><script>'
        'onload = () => { const d = document.getElementById("f").contentDocument.documentElement;'
        "document.title = [d.dataset.wide, d.dataset.small, d.dataset.tap].join(); }</script>",
        "utf-8",
    )
    assert BROWSER is not None
    flags = ["--headless", "--no-sandbox", "--disable-gpu", "--allow-file-access-from-files", "--dump-dom"]
    flags += ["--blink-settings=preferredColorScheme=0"] if dark else []
    flags += [f"--user-data-dir={tmp_path / 'profile'}", f"--window-size={max(width, 500) + 40},900"]
    done = subprocess.run(
        [BROWSER, *flags, frame.as_uri()], capture_output=True, text=True, timeout=60, check=True
    )
    assert "<title>true,false,true</title>" in done.stdout
