"""What a person is asked on a terminal: again at once where an answer cannot be used, and nothing twice."""

from datetime import date

import pytest

from ordering.intake.begin import begin
from ordering.intake.bring import ImportTerms, bring

ON = date(2026, 11, 26)
LIST = "Code,Product,Pack,Price\n1,Poblano,1/2 bu,20.00\n2,Jicama,CS,18.00\n3,Lime,200 ct,31.00\n"


def person(answers):
    """Answers by the words of a question; the usual one for others. `asked` has what was asked."""
    asked = []

    def ask(question):
        asked.append(question.text)
        found = next((key for key in answers if key in question.text and answers[key]), None)
        given = answers[found].pop(0) if found else question.best
        if given is KeyboardInterrupt:
            raise KeyboardInterrupt
        return given

    return ask, asked


@pytest.fixture
def house(tmp_path):
    begin(tmp_path, None, True)
    (tmp_path / "farm.csv").write_text(LIST, "utf-8")
    return tmp_path


def prices(house, answers, is_dry=False):
    ask, asked = person(answers)
    terms = ImportTerms(ON, "farm", is_dry=is_dry, ask=ask)
    return bring(house / "config", house / "books", "prices", [house / "farm.csv"], terms), asked


def test_an_answer_that_cannot_be_used_is_asked_for_again_with_what_is_wrong(tmp_path):
    answers = {
        "time zone": ["Chicago", "America/Chicago"],
        "vendor's name": ["Farm", ""],
        "By what time": ["3 pm"],
    }
    ask, asked = person({**answers, "minimum": ["$1,250"], "On which days does": ["tue, fry", "tue, fri"]})
    begin(tmp_path, ask, False)
    again = [text for text in asked if text.startswith(("'Chicago'", "'fry'"))]
    assert [text.partition(":")[0] for text in again] == [
        "'Chicago' is not a time zone",
        "'fry' is not a weekday",
    ]
    vendors = (tmp_path / "config" / "vendors.yaml").read_text("utf-8")
    assert "{day: fri, order_by: thu 15:00}" in vendors
    assert "minimum: 1250" in vendors


def test_what_was_answered_is_not_asked_the_next_week(house):
    answers = {"Poblano": ["12 lb"], "Jicama": ["40 lb"]}
    _, asked = prices(house, answers)
    assert len(asked) == 2
    (house / "farm.csv").write_text(LIST.replace("20.00", "21.00"), "utf-8")
    report, asked = prices(house, {})
    assert asked == []
    assert "up: Poblano: 20.00 to 21.00 (+5 %)" in report.lines


def test_answers_given_before_somebody_stops_are_kept(house):
    report, asked = prices(house, {"Poblano": ["12 lb"], "Jicama": [KeyboardInterrupt]})
    assert report.lines[-1].startswith("Stopped: 1 answer kept in house.yaml")
    assert "Poblano" not in (house / "config" / "ingredients.yaml").read_text("utf-8")
    _, asked = prices(house, {"Jicama": ["40 lb"]})
    assert [text.partition(",")[0] for text in asked] == ["Jicama"]


def test_what_was_understood_is_said_before_the_first_question(house):
    said = []
    terms = ImportTerms(ON, "farm", ask=lambda question: said.append(question.said) or "10 lb")
    bring(house / "config", house / "books", "prices", [house / "farm.csv"], terms)
    assert any("is the heading" in line for line in said[0])
    assert said[1] == ()


def test_a_service_may_be_called_all_day(tmp_path):
    ask, _ = person({"Which services": ["all day tue-sun; breakfast sat, sun"]})
    begin(tmp_path, ask, False)
    house = (tmp_path / "config" / "house.yaml").read_text("utf-8")
    assert "  all-day: {days: [tue, wed, thu, fri, sat, sun]}" in house
    assert "  breakfast: {days: [sat, sun]}" in house
