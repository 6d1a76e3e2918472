"""Several lots of one cut, here and on the way, are hung together the day the last of them comes."""

import csv

import openpyxl

from ordering import cli

HOUSE = {
    "config/house.yaml": (
        "{name: Test Kitchen, currency: GBP, order_day: thu, services: {dinner: {days: [thu, fri]}}}"
    ),
    "config/vendors.yaml": (
        "farm: {name: Farm, email: a@farm.example, deliveries: [{day: fri, order_by: thu 15:00}]}"
    ),
    "config/ingredients.yaml": (
        "rib: {name: Rib of beef, unit: kg, keeps: 3 d,"
        " offers: [{vendor: farm, code: R1, pack: 1 each ~ 6 kg, price: 12.00, per: kg}]}"
    ),
    "config/recipes.yaml": (
        "aged-rib: {name: Aged rib, makes: 4 kg, takes: 21 d, keeps: 10 d, batches: whole, room: 60 kg,"
        " from: [{item: rib, quantity: 6 kg}]}\n"
        "steak: {name: Steak, makes: 1 portion, from: [{item: aged-rib, quantity: 0.4 kg}]}"
    ),
    "config/menu.yaml": "steak: {name: Rib steak, recipe: steak, portion: 1 portion, price: 38.00}",
    "config/calendar.yaml": (
        "events: [{name: Wedding, date: 2026-12-18, service: dinner, covers: 42, instead: true,"
        " menu: {steak: 42}}]"
    ),
    "books/counts.csv": (
        "counted_on,item,quantity,unit,use_by\n"
        "2026-11-26,rib,12,kg,2026-11-27\n"
        "2026-11-26,rib,6,kg,2026-11-28\n"
    ),
    "books/open_orders.csv": "vendor,code,packs,deliver_on\nfarm,R1,2,2026-11-27\n",
}


def test_lots_of_three_dates_are_one_start_on_the_start_list(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name, text in HOUSE.items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, "utf-8")
    assert cli.main(["order", "--on", "2026-11-26"]) in (0, 1)
    run = tmp_path / "runs" / "2026-11-26"
    (start,) = csv.DictReader((run / "starts.csv").read_text("utf-8").splitlines())
    assert (start["start_on"], start["recipe"], start["batches"]) == ("2026-11-27", "aged-rib", "5")
    sheet = openpyxl.load_workbook(run / "start-list.xlsx").active
    rows = [[str(cell) for cell in row if cell] for row in sheet.iter_rows(values_only=True)]
    (line,) = (row for row in rows if row[:1] == ["Aged rib"])
    assert line[1] == "20 kg"
    assert line[-1] == "30 kg Rib of beef, some coming Fri 27 Nov"
