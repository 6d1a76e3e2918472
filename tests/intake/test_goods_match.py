"""Which goods a cook's words mean and which they do not: pairs of the trade, common practice, no source."""

import pytest

from ordering.intake.goods_match import LIKELY, is_kind_of, likeness, match
from ordering.intake.goods_names import is_sure_to_keep

MEANT = """
sourdough = Bread, Sourdough, Sliced
panko = Crumb, Panko, Japanese Style
hot sauce = Sauce, Hot Pepper
back bacon = Back bacon, smoked
tomato = Tomatoes, salad
garlic = Garlic dry
cumin = Ground cumin
scampi = Breaded Scampi Wholetail
sausages = Pork sausages, 8s
butter = Butter, salted
tuna = Tuna loin
beef bouillon = Beef Bouillon Paste
ground pork = Pork, ground, medium
wings = Chicken wings, jumbo
NY cheesecake = Cheesecake NY 10"
short rib = Shortrib
bolillo = Bolillo roll
plum tomatoes = Tomatoes, plum, peeled, in juice
andouille = SAUSAGE ANDOUILLE LINK SMOKED
tasso = HAM TASSO SLAB
hot sauce = SAUCE HOT RED PEPPER
cheddar = Mature cheddar block
cheddar, shredded = CHEESE CHEDDAR SHRD MILD
french fries = POTATO FRY 3/8 SKIN ON
iceberg lettuce = ICEBERG LINER
turbot and sole bones = Fish bones, turbot & sole, for stock
"""
OTHERS = """
cooking apples = Cooking ale
turbot and sole bones = Turbot
french fries = Oil, Canola Fry
peeled tomatoes = Semi-dried tomatoes
red wine = Red wine vinegar
lobster = Base, Lobster
lobster = Roll, Split Top, Lobster
ginger = Ground ginger
butter = Butter beans
pumpkin = Pumpkin seeds
red pepper = Red pepper flakes
peanut = Peanut oil
bread = Bread crumbs
cream = Cream cheese
cream = Sour cream
salmon = Smoked salmon
beef = Ground beef
pork = Pork sausages
duck legs = Duck leg confit
chicken stock = Chicken
brown sugar = Sugar granulated
"""


def pairs(text):
    return [line.split(" = ") for line in text.strip().splitlines()]


@pytest.mark.parametrize(("name", "other"), pairs(MEANT))
def test_words_that_only_say_more_leave_it_the_same_thing(name, other):
    assert likeness(name, other) >= LIKELY


@pytest.mark.parametrize(("name", "other"), pairs(OTHERS))
def test_a_word_that_decides_keeps_two_things_apart(name, other):
    assert likeness(name, other) < LIKELY


def test_what_is_cut_up_is_never_surely_what_is_whole():
    found = match("tomato", {"chopped-tomatoes": ["Chopped tomatoes"]})
    assert found.best == "chopped-tomatoes"
    assert not found.is_sure
    assert match("chopped tomatoes", {"chopped-tomatoes": ["Chopped tomatoes"]}).is_sure


def test_goods_of_another_grade_are_no_match():
    """So many to the pound is a size, and a size is another thing."""
    shrimp = {"small": ["Shrimp 70/90 peeled"]}
    assert match("shrimp 21/25", shrimp).best == ""
    assert match("shrimp 21/25", {**shrimp, "large": ["Shrimp 21/25 headless shell on"]}).best == "large"


def test_two_that_fit_nearly_alike_are_open_and_a_slip_of_letters_is_no_sure_match():
    names = {"a": ["Flour strong"], "b": ["Flour strong white"], "c": ["Flour strong white untreated"]}
    assert match("flour", {key: names[key] for key in "ab"}).is_open
    assert not match("flour", {key: names[key] for key in "ac"}).is_open
    assert LIKELY < likeness("brocoli", "broccoli") < 100


@pytest.mark.parametrize(
    ("name", "is_sure"),
    [
        ("FLOUR, ALL PURPOSE", True),
        ("Petits pois frozen", True),
        ("Olive oil, extra virgin", True),
        ("Anchovy fillets in oil", False),  # half conserved ones are kept cold
        ("Lemon juice", False),
        ("Fresh egg noodles", False),
        ("Fresh pasta", False),
        ("Mustard greens", False),
        ("Rice pudding", False),
        ("Butter", False),
    ],
)
def test_a_place_is_no_guess_only_where_every_word_of_the_name_says_it(name, is_sure):
    assert is_sure_to_keep(name) is is_sure


@pytest.mark.parametrize(
    ("name", "other", "is_kind"),
    [
        ("eggs", "Free range eggs, medium", True),
        ("salt", "Fine sea salt", True),
        ("mussels", "Mussels, rope grown", True),
        ("butter", "BUTTER SOLID UNSALTED", True),
        ("lemons", "Lemon curd", False),
        ("espresso", "Espresso beans", False),
        ("gyoza", "Gyoza wrapper, round", False),
        ("liquid butter", "Butter, salted", False),
        ("shrimp 21/25", "Shrimp, 70/90 peeled", False),
        ("turbot and sole bones", "Turbot", False),
        ("cider vinegar", "Apple cider vinegar", False),
    ],
)
def test_only_a_kind_of_what_is_meant_is_taken_without_a_question(name, other, is_kind):
    """More words before it, behind a comma or of quality make a kind of it; others make another thing."""
    assert is_kind_of(name, other) == is_kind


def test_a_kind_is_certain_only_where_nothing_else_is_like_it():
    eggs = {"eggs-free-range": ["Eggs, free range"]}
    assert match("eggs", eggs).is_only
    assert not match("eggs", {**eggs, "eggs-large": ["Eggs, large, loose"]}).is_only
