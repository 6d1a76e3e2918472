"""What `place` settles: sheet, letter and books say the same, nothing is ordered twice or forgotten."""

from __future__ import annotations

import email
import email.policy
import json
import shutil
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import openpyxl
import pytest
from kitchens import LINES, THU, Kitchen, placed, refused

from ordering.ledger import store, versions

WED = THU + timedelta(6)
LATER = (*LINES, replace(LINES[0], deliver_on=WED))
"""Two deliveries of the miller and one of the poulterer: PO-0001, PO-0002 (the poulterer) and PO-0003."""


@pytest.fixture
def kitchen(tmp_path):
    return Kitchen(tmp_path)


def orders_folder(kitchen, run="2026-11-26"):
    return kitchen.runs / run / "orders"


def mail(kitchen, name, run="2026-11-26"):
    """Subject and text of a letter, and the lines of the sheet attached: code to (packs, price)."""
    path = orders_folder(kitchen, run) / f"{name}.eml"
    message = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
    text = message.get_body().get_content()
    sheets = list(message.iter_attachments())
    if not sheets:
        return message["Subject"].strip(), text, {}
    (attached,) = sheets
    sheet = path.with_suffix(".attached.xlsx")
    sheet.write_bytes(attached.get_content())
    found = sheet_lines(sheet)
    sheet.unlink()
    return message["Subject"].strip(), text, found


def sheet_lines(path):
    sheet = openpyxl.load_workbook(path).active
    head = next(row for row in sheet.iter_rows() if row[1].value == "code")
    rows = sheet.iter_rows(min_row=head[0].row + 1, values_only=True)
    found = {}
    for row in rows:
        if row[0] == "delivery":
            break
        if row[1]:
            found[row[1]] = (row[3], row[6])
    return found


def write(kitchen, vendor, **cells):
    """Change a vendor's sheet: `cells` is code to {column: value}; a new code goes below the totals."""
    path = orders_folder(kitchen) / f"{vendor}.xlsx"
    book = openpyxl.load_workbook(path)
    sheet = book.active
    head = next(row for row in sheet.iter_rows() if row[1].value == "code")
    at = {cell.value: cell.column for cell in head}
    for code, said in cells.items():
        code = code.replace("_", "-")
        rows = [row[0].row for row in sheet.iter_rows(min_row=head[0].row) if row[1].value == code]
        row = rows[0] if rows else sheet.max_row + 2
        for column, value in {"code": code, **said}.items():
            sheet.cell(row, at[column]).value = value
    book.save(path)


def booked(kitchen):
    return {(p.number, p.code): (p.packs, p.price) for p in kitchen.ledger().orders}


# --- sheet, letter and books -------------------------------------------------------------------------


def test_packs_and_price_changed_and_a_line_added_below_the_totals_are_in_books_letter_and_sheet(kitchen):
    kitchen.make_run()
    write(kitchen, "miller", M_1={"packs": 2, "price": 21.50}, M_9={"packs": 0}, M_2={"packs": 4})
    report = kitchen.place("poulterer")
    asked = {"M-1": (2, Decimal("21.50")), "M-2": (4, Decimal("9.00"))}
    assert booked(kitchen) == {("PO-0001", code): said for code, said in asked.items()}
    subject, text, attached = mail(kitchen, "miller")
    assert subject == "Order PO-0001 from The Tiny Oven for delivery on Saturday 28 November 2026"
    assert attached == {code: (packs, float(price)) for code, (packs, price) in asked.items()}
    assert "2 lines, 79.00" in text
    assert "M-9" not in text
    on_disk = sheet_lines(orders_folder(kitchen) / "miller.xlsx")
    assert on_disk == {"M-1": (2, 21.5), "M-2": (4, 9), "M-9": (0, 4)}, "what is crossed off can come back"
    assert "  added: Old Mill M-2 Bread flour, Sat 28 Nov: 4 packs" in report.lines
    assert (orders_folder(kitchen) / "as-edited" / "miller.xlsx").exists(), "what was written by hand is kept"
    assert kitchen.place("poulterer").lines == ("2026-11-26 is already placed; nothing changed",)


def test_a_sheet_saved_as_csv_beside_the_workbook_is_what_counts(kitchen):
    kitchen.make_run()
    sheet = openpyxl.load_workbook(orders_folder(kitchen) / "miller.xlsx").active
    rows = [["" if v is None else str(v) for v in row] for row in sheet.iter_rows(values_only=True)]
    for row in rows:
        if row[1] == "M-1":
            row[0], row[3] = "Sat 28 Nov", "5"
    text = "\n".join(",".join(cell.replace(",", " ") for cell in row) for row in rows)
    (orders_folder(kitchen) / "miller.csv").write_text(text)
    kitchen.place("poulterer")
    assert {code: packs for (_, code), (packs, _) in booked(kitchen).items()} == {"M-1": 5, "M-9": 2}
    assert not (orders_folder(kitchen) / "miller.csv").exists(), "kept among what was edited"


def test_a_workbook_and_a_csv_changed_otherwise_are_asked_about(kitchen):
    kitchen.make_run()
    kitchen.write_packs("miller", "M-1", 4)
    (orders_folder(kitchen) / "miller.csv").write_text(
        "deliver on,code,packs\n2026-11-28,M-1,5\n2026-11-28,M-9,2\n"
    )
    assert [f.kind for f in refused(lambda: kitchen.place("poulterer")).faults] == ["two-sheets"]


def test_another_run_s_sheet_is_not_taken_for_this_one_s(kitchen):
    kitchen.make_run()
    kitchen.make_run()
    shutil.copy(
        orders_folder(kitchen) / "miller.xlsx", orders_folder(kitchen, "2026-11-26-2") / "miller.xlsx"
    )
    caught = refused(lambda: kitchen.place(run="2026-11-26-2"))
    assert [f.kind for f in caught.faults] == ["another-sheet"]
    assert "order PO-0001" in caught.faults[0].wrong


def test_ten_times_what_is_expected_can_be_insisted_on(kitchen):
    kitchen.make_run()
    kitchen.write_packs("miller", "M-1", 30)
    assert [f.kind for f in refused(kitchen.place).faults] == ["too-many-packs"]
    kitchen.place(is_confirmed=True)
    assert booked(kitchen)["PO-0001", "M-1"] == (30, Decimal("18.00"))


def test_a_letter_that_could_not_be_written_is_written_by_the_next_placing(kitchen, monkeypatch):
    """Booked and then stopped: the vendor holds nothing yet, and the draft of the run says so."""
    kitchen.make_run()

    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as disk:
        disk.setattr("ordering.bookkeeping.letters.write_file", full)
        with pytest.raises(OSError, match="No space"):
            kitchen.place()
    assert len(kitchen.ledger().orders) == 3
    report = kitchen.place()
    assert [line for line in report.lines if line.startswith("send: ")]
    assert mail(kitchen, "miller")[0].startswith("Order PO-0001 from")


# --- numbers, amendments, cancelling -----------------------------------------------------------------


def test_a_vendor_and_a_day_are_placed_alone_and_the_rest_later(kitchen):
    kitchen.make_run(LATER)
    kitchen.place(only=("miller,2026-11-28",))
    assert {p.number for p in kitchen.ledger().orders} == {"PO-0001"}
    assert mail(kitchen, "miller")[0].startswith("Order PO-0001 from")
    report = kitchen.place()
    assert {p.number for p in kitchen.ledger().orders} == {"PO-0001", "PO-0002", "PO-0003"}
    assert "  PO-0003 Old Mill, for Wed 2 Dec: 1 line, 60.00 GBP" in report.lines
    assert mail(kitchen, "miller-PO-0003")[0].startswith("Order PO-0003 from")
    assert mail(kitchen, "miller")[0].startswith("Order PO-0001 from"), "what was sent stays as it was sent"


def test_placing_what_is_left_says_no_change_of_what_was_placed_before(kitchen):
    """Changes are those of the orders that are placed or amended now, against what was placed before."""
    kitchen.make_run(LATER)
    kitchen.write_packs("miller", "M-9", 1)
    first = kitchen.place(only=("miller,2026-11-28",)).lines
    assert "  changed: Old Mill M-9 Yeast, Sat 28 Nov: 1 pack, 2 proposed" in first
    later = kitchen.place(only=("miller,2026-12-02",)).lines
    assert later[:2] == ("Placed 2026-11-26:", "  PO-0003 Old Mill, for Wed 2 Dec: 1 line, 60.00 GBP")
    assert not any("PO-0001" in line or "M-9" in line for line in later)
    kitchen.write_packs("miller", "M-9", 2)
    again = kitchen.place().lines
    assert "  changed: Old Mill M-9 Yeast, Sat 28 Nov: 2 packs, was 1" in again, "as it was proposed, too"


def test_a_change_on_a_delivery_placed_later_is_said_when_that_is_placed(kitchen):
    kitchen.make_run(LATER)
    kitchen.write_packs("miller", "M-9", 1)
    assert not any("M-9" in line for line in kitchen.place(only=("miller,2026-12-02",)).lines)
    assert any("changed: Old Mill M-9" in line for line in kitchen.place().lines)


def test_a_price_put_back_to_what_was_proposed_is_said(kitchen):
    kitchen.make_run()
    write(kitchen, "poulterer", **{"077": {"price": 19.5}})
    kitchen.place()
    write(kitchen, "poulterer", **{"077": {"price": 18}})
    lines = kitchen.place().lines
    assert "  price: Marsh Fowl 077 Duck, Sat 28 Nov: 18.00 a pack, was 19.50" in lines


def test_a_line_added_and_taken_off_again_is_said(kitchen):
    kitchen.make_run()
    write(kitchen, "miller", M_2={"packs": 4})
    kitchen.place()
    write(kitchen, "miller", M_2={"packs": 0})
    assert "  crossed off: Old Mill M-2 Bread flour, Sat 28 Nov: was 4 packs" in kitchen.place().lines


def test_one_letter_holds_every_delivery_of_a_vendor_under_its_own_number(kitchen):
    kitchen.make_run(LATER)
    kitchen.place()
    subject, text, _ = mail(kitchen, "miller")
    assert (
        subject
        == "Orders PO-0001 and PO-0003 from The Tiny Oven for delivery on Sat 28 Nov and Wed 2 Dec 2026"
    )
    assert text.index("order PO-0001") < text.index("order PO-0003")


def test_a_change_after_placing_is_a_numbered_amendment_with_its_own_letter(kitchen):
    placed(kitchen)
    before = (orders_folder(kitchen) / "miller.eml").read_bytes()
    kitchen.write_packs("miller", "M-1", 4)
    assert "amended: order PO-0001, Old Mill, Sat 28 Nov" in kitchen.place().lines
    subject, text, attached = mail(kitchen, "miller-PO-0001-amendment-1")
    assert subject.startswith("Amendment 1 to order PO-0001 from")
    assert "- M-1 flour: 4 packs, was 3" in text
    assert attached == {"M-1": (4, 18), "M-9": (2, 4)}, "four packs reach the break"
    assert (orders_folder(kitchen) / "miller.eml").read_bytes() == before
    kitchen.write_packs("miller", "M-1", 5)
    kitchen.place()
    assert "- M-1 flour: 5 packs, was 4" in mail(kitchen, "miller-PO-0001-amendment-2")[1]


def test_an_order_is_cancelled_with_a_letter_and_stays_cancelled(kitchen):
    placed(kitchen)
    report = kitchen.place(cancel=("miller",))
    assert "cancelled: order PO-0001, Old Mill, Sat 28 Nov" in report.lines
    assert {p.vendor for p in kitchen.ledger().orders} == {"poulterer"}
    assert not any(line.startswith(("Placed", "left out")) for line in report.lines), "nothing is placed"
    subject, text, attached = mail(kitchen, "miller-PO-0001-cancelled")
    assert subject.startswith("Cancellation of order PO-0001 from")
    assert attached == {}, "an order sheet on a cancellation would be delivered"
    assert "M-1 flour: cancelled, was 3 packs" in text
    said = kitchen.place(cancel=("miller",)).lines
    assert said == ("2026-11-26 has no order placed with miller; nothing cancelled",)
    kitchen.place()
    assert {p.vendor for p in kitchen.ledger().orders} == {"poulterer"}, "its lines are crossed off the sheet"


def test_a_second_order_for_a_delivery_says_that_it_adds_to_the_first(kitchen):
    placed(kitchen)
    kitchen.make_run(LINES[1:2])
    report = kitchen.place(run="2026-11-26-2")
    assert "  PO-0003 Old Mill, for Sat 28 Nov: 1 line, 8.00 GBP, in addition to PO-0001" in report.lines
    _, text, _ = mail(kitchen, "miller", "2026-11-26-2")
    assert "order PO-0003, in addition to PO-0001 for the same day" in text
    rows = openpyxl.load_workbook(orders_folder(kitchen, "2026-11-26-2") / "miller.xlsx").active
    said = [[cell for cell in row if cell] for row in rows.iter_rows(values_only=True)]
    (head,) = [n for n, row in enumerate(said) if row[-2:] == ["order", "PO-0003"]]
    assert said[head + 1] == ["in addition to PO-0001"]


def test_numbers_begin_as_the_house_wants_and_are_never_given_twice(kitchen):
    house = kitchen.config / "house.yaml"
    house.write_text(house.read_text() + "order_prefix: TTO-\n")
    kitchen.make_run()
    kitchen.make_run()
    kitchen.place(run="2026-11-26-2")
    assert {p.number for p in kitchen.ledger().orders} == {"TTO-0003", "TTO-0004"}


# --- nothing twice, nothing forgotten ----------------------------------------------------------------


def test_a_folder_s_name_given_out_again_takes_no_order_back(kitchen):
    """The runs are tidied away and another is made on the same day: it is another run."""
    placed(kitchen)
    shutil.rmtree(kitchen.runs)
    kitchen.make_run([replace(LINES[0], packs=1, quantity=25.0, amount=Decimal(20))])
    kitchen.place()
    assert [(p.number, p.code, p.packs) for p in kitchen.ledger().orders] == [
        ("PO-0001", "M-1", 3),
        ("PO-0001", "M-9", 2),
        ("PO-0002", "077", 5),
        ("PO-0003", "M-1", 1),
    ]


def test_a_run_that_counts_on_another_does_not_take_its_place(kitchen):
    """The second run adds one line to what the first has on order; in its place it would leave a hole."""
    placed(kitchen)
    kitchen.make_run(LINES[1:2])
    for what in ("2026-11-26", "PO-0001"):
        caught = refused(lambda what=what: kitchen.place(run="2026-11-26-2", instead=(what,)))
        assert "counts on it" in caught.faults[0].wrong
        assert "leave --instead out" in caught.faults[0].right
    assert len(kitchen.ledger().orders) == 3


def test_a_run_takes_the_place_of_another_delivery_by_delivery(kitchen):
    """Placed on Thursday for today's cut-off alone, the rest when its own comes: nothing stands twice."""
    kitchen.make_run(LATER)
    kitchen.make_run([replace(line, packs=4, quantity=4 * line.quantity / line.packs) for line in LATER])
    kitchen.place()
    again = {"run": "2026-11-26-2", "instead": ("2026-11-26",)}
    report = kitchen.place(only=("miller,2026-11-28",), **again)
    assert sorted(p.number for p in kitchen.ledger().orders if p.code != "M-9") == [
        *("PO-0002", "PO-0003", "PO-0004"),
    ]
    assert [line for line in report.lines if line.startswith("cancelled")] == [
        "cancelled: order PO-0001: M-1, 3 packs",
        "cancelled: order PO-0001: M-9, 2 packs",
    ]
    kitchen.place(only=("poulterer",), **again)
    assert {p.number for p in kitchen.ledger().orders} == {"PO-0003", "PO-0004", "PO-0005"}
    kitchen.place(**again)
    assert {p.number for p in kitchen.ledger().orders} == {"PO-0004", "PO-0005", "PO-0006"}
    assert kitchen.place(**again).lines == ("2026-11-26-2 is already placed; nothing changed",)


def test_what_another_vendor_would_still_bring_is_said_with_the_way_out(kitchen):
    """The second run buys the flour elsewhere. Placed alone, it leaves the first run's on order beside it."""
    elsewhere = replace(LINES[0], vendor="poulterer", code="P-1")
    kitchen.make_run(LATER)
    kitchen.make_run([elsewhere, LINES[1]])
    kitchen.place()
    again = {"run": "2026-11-26-2", "instead": ("2026-11-26",)}
    (fault,) = refused(lambda: kitchen.place(only=("poulterer",), **again)).faults
    assert fault.right == (
        "place the whole run with --instead 2026-11-26, so that what miller would bring is cancelled with "
        "it; if both are meant, --also; or leave the vendor out with --without poulterer"
    )
    kitchen.place(**again)
    assert {(p.vendor, p.code) for p in kitchen.ledger().orders} == {("poulterer", "P-1"), ("miller", "M-9")}


def test_an_item_renamed_is_not_ordered_once_more(kitchen):
    kitchen.make_run()
    placed(kitchen)
    for path in (
        *kitchen.config.glob("*.yaml"),
        *kitchen.books.glob("*.csv"),
        *kitchen.runs.glob("*-2/*.csv"),
    ):
        path.write_text(path.read_text().replace("flour", "strong-flour").replace("Bread strong", "Bread"))
    open_orders = {o.item: o.packs for o in kitchen.seen(THU).open_orders}
    assert open_orders["strong-flour"] == 3, "what is on order of it is counted on under its new name"
    faults = refused(lambda: kitchen.place("poulterer", run="2026-11-26-2")).faults
    assert [(f.subject, f.kind) for f in faults] == [("miller", "ordered-twice")]
    assert "M-1" in faults[0].wrong


def test_a_vendor_renamed_is_refused(kitchen):
    kitchen.make_run()
    for path in kitchen.config.glob("*.yaml"):
        path.write_text(path.read_text().replace("miller", "old-mill"))
    assert [(f.subject, f.kind) for f in refused(kitchen.place).faults] == [("miller", "gone-vendor")]


def test_a_run_of_another_ledger_is_not_placed(kitchen):
    kitchen.make_run()
    store.ledger_path(kitchen.books).unlink()
    assert [f.kind for f in refused(kitchen.place).faults] == ["unknown-run"]
    assert not store.ledger_path(kitchen.books).exists()


def test_every_placed_line_can_be_traced_to_a_document_a_version_and_a_line(kitchen):
    placed(kitchen)
    kitchen.write_packs("miller", "M-1", 4)
    kitchen.place()
    with store.open_ledger(kitchen.books) as ledger, store.transaction(ledger):
        first, second = (versions.lines_of(ledger, "PO-0001", version) for version in (1, 2))
        assert versions.standing(ledger, "PO-0001").version == 2
    assert [line.packs for line in first] == [3.0, 2.0]
    assert [line.packs for line in second] == [4.0, 2.0]
    told = json.loads((kitchen.runs / "2026-11-26" / "placed.json").read_text())["told"]
    assert told == {"PO-0001": 2, "PO-0002": 1}
