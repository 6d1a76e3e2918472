"""From an empty folder to a run folder with nothing but raw files and `--yes`."""

from ordering import cli

FILES = {
    "hollin-foods.csv": """HOLLIN FOODS;;;;;
Prices from 10/26/2026;;;;;
Item #;Description;Pack;Size;UOM;Price
1001;FLOUR AP;1;50 LB;CS;22.45
2001;ONION YELLOW JUMBO;1;50 LB;BG;18.75
2002;SHALLOT BANANA;4;5 LB;CS;44.00
2005;PARSLEY ITALIAN;60;CT BUNCH;CS;38.50
3001;BTR UNSALTED;36;1 LB;CS;118.00
3002;CRM HVY 40%;12;1 QT;CS;62.50
4001;BEEF SHORT RIB BNLS;4;10-12 LB;LB;9.85
5001;WINE RED COOKING;4;1 GAL;CS;48.00
""",
    "recipes.csv": """Recipe,Yield,Qty,UOM,Ingredient,Prep
Braised short rib,24 portions,18,lb,Beef short rib,trimmed
,,3,qt,Red wine,
,,4,lb,Onion yellow,diced
,,1,bunch,Parsley,
Onion soup,8 qt,10,lb,Onion yellow,sliced
,,1,lb,Butter unsalted,
,,1 1/2,cup,"Shallots, brunoise",
""",
    "menu.csv": "Dish,Price,Portion\nBraised short rib,34,\nOnion soup,12,8 fl oz\n",
    "bookings.csv": """Created,Date,Time,Party,Status
11/20/2026,11/28/2026,7:00 PM,6,Booked
11/21/2026,12/04/2026,7:30 PM,4,Booked
""",
}


def a_till():
    """Two months of dinners, each dish a line a check, with modifiers and a total."""
    rows = ["Business Date,Check,Opened,Guests,Item,Qty,Net"]
    total = 0
    for n in range(56):
        day = f"{9 + (n + 24) // 30:02}/{(n + 24) % 30 + 1:02}/2026"
        rows += [
            f"{day},{n},{day} 7:10 PM,4,BRAISED SHORT RIB,{8 + n % 3},272.00",
            f"{day},{n},{day} 7:10 PM,4,MED RARE,1,0",
        ]
        rows.append(f"{day},{n},{day} 7:10 PM,4,Onion Soup,{1 + n % 2},12.00")
        total += 8 + n % 3 + 1 + n % 2
    return "\n".join([*rows, f"Total,,,,,{total},"]) + "\n"


def test_an_empty_folder_becomes_a_run_folder_from_raw_files_alone(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert cli.main(["new", ".", "--yes"]) == 0
    for name, text in {**FILES, "till.csv": a_till()}.items():
        (tmp_path / name).write_text(text, "utf-8")
    on = ["--on", "2026-11-26", "--yes"]
    assert cli.main(["import", "prices", "hollin-foods.csv", "--vendor", "hollin-foods", *on]) == 0
    for what, file in (
        ("recipes", "recipes.csv"),
        ("menu", "menu.csv"),
        ("sales", "till.csv"),
        ("bookings", "bookings.csv"),
    ):
        assert cli.main(["import", what, file, *on]) == 0, capsys.readouterr()
    vendors = tmp_path / "config" / "vendors.yaml"
    vendors.write_text(
        vendors.read_text("utf-8") + "  deliveries:\n    - {day: fri, order_by: thu 15:00}\n", "utf-8"
    )
    assert cli.main(["check", "--on", "2026-11-26"]) == 1
    assert "guesses that nobody has confirmed yet" in capsys.readouterr().out
    assert cli.main(["order", "--on", "2026-11-26"]) in (0, 1)
    orders = (tmp_path / "runs" / "2026-11-26" / "orders.csv").read_text("utf-8")
    assert "beef-short-rib-boneless" in orders
    assert "onion-yellow-jumbo" in orders


def test_without_a_terminal_a_new_house_asks_and_writes_nothing(tmp_path, capsys):
    assert cli.main(["new", str(tmp_path)]) == 1
    assert "question: What is the house called?" in capsys.readouterr().out
    assert list(tmp_path.iterdir()) == []


def test_what_to_type_next_begins_by_going_into_the_new_house(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert cli.main(["new", "larch house", "--yes"]) == 0
    assert "\n  cd 'larch house'\n  ordering import prices" in capsys.readouterr().out
    monkeypatch.chdir(tmp_path / "larch house")
    assert cli.main(["check"]) != 2
