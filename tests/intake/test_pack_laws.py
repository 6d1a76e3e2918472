"""Laws of the pack grammar: every string is built from what it means, and read back as that."""

from dataclasses import dataclass
from fractions import Fraction
from math import prod

from hypothesis import assume, given
from hypothesis import strategies as st

from ordering.intake.pack_strings import read_pack
from ordering.packs import parse_pack
from ordering.units import UNITS, Quantity, kind_of

SPELLED = {
    "lb": ("LB", "lb", "LBS", "#"),
    "oz": ("OZ", "oz"),
    "fl oz": ("FL OZ", "fl. oz."),
    "gallon": ("GAL", "gal", "GL"),
    "quart": ("QT", "qts"),
    "kg": ("KG", "kg", "kilo"),
    "g": ("g", "GR", "gm"),
    "l": ("L", "l", "LTR", "lt"),
    "ml": ("ML", "ml"),
    "each": ("CT", "ea", "pcs"),
    "dozen": ("DZ", "doz"),
}
SIZES = ("1", "2", "5", "6.5", "10", "12.5", "25", "0.75", "330", "2.27")
MARKS = ("/", " / ", "x", " x ", "×", " X ")


@dataclass(frozen=True)
class Meant:
    """What a pack string is to mean: `counts` of `size` (to `high`) `unit`."""

    counts: tuple[int, ...]
    size: str
    unit: str
    high: str = ""

    def written(self, mark="/", spelled="", point=".", space=" "):
        size = "-".join(part.replace(".", point) for part in (self.size, self.high) if part)
        return mark.join([*map(str, self.counts), f"{size}{space}{spelled or SPELLED[self.unit][0]}"])

    @property
    def content(self):
        size = Fraction(self.size)
        return Quantity(prod(self.counts) * (size + Fraction(self.high or self.size)) / 2, self.unit)


def base(quantity):
    return kind_of(quantity.unit), quantity.amount * UNITS[quantity.unit][1]


def is_as(found, due):
    return found is not None and base(found) == base(due)


packs = st.builds(
    Meant,
    st.lists(st.integers(2, 48), min_size=1, max_size=2).map(tuple),
    st.sampled_from(SIZES),
    st.sampled_from(sorted(SPELLED)),
)
marks = st.sampled_from(MARKS)


@st.composite
def spellings(draw, of=packs):
    """A pack and one way to write it, as a vendor might."""
    pack = draw(of)
    text = pack.written(
        draw(marks),
        draw(st.sampled_from(SPELLED[pack.unit])),
        draw(st.sampled_from(".,")),
        draw(st.sampled_from(["", " "])),
    )
    return pack, text


@given(spellings())
def test_a_count_and_a_size_hold_the_count_times_the_size(made):
    """Whatever the mark, the spelling, the decimals: what is not asked is the product, in its own unit."""
    pack, text = made
    found = read_pack(text)
    assert found.ask or is_as(found.content, pack.content), (text, found)


@given(spellings())
def test_what_is_asked_is_proposed_no_smaller_than_one_of_its_size(made):
    """A stroke taken for a fraction, or a count that is lost, would make the pack smaller."""
    pack, text = made
    content = read_pack(text).content
    one = Quantity(Fraction(pack.size), pack.unit)
    same_kind = content is not None and kind_of(content.unit) == kind_of(one.unit)
    assert not same_kind or base(content)[1] >= base(one)[1], text


@given(packs, marks, marks)
def test_no_mark_says_more_than_another(pack, one, other):
    """`6/5 LB`, `6 x 5 LB` and `6×5 LB` are one pack; a stroke may only be asked about more."""
    a, b = (read_pack(pack.written(mark)) for mark in (one, other))
    assert a.ask or b.ask or (a.content, a.written) == (b.content, b.written)


@given(packs, st.sampled_from(["AVG", "approx", "avg.", "CW", "RW"]), st.booleans())
def test_about_makes_catch_weight_of_a_weight_and_changes_no_amount(pack, word, is_before):
    text = pack.written(" x ")
    found, plain = read_pack(f"{word} {text}" if is_before else f"{text} {word}"), read_pack(text)
    assume(not plain.ask and not found.ask)
    assert found.content == plain.content
    assert found.is_catch_weight == (kind_of(pack.unit) == "mass")
    assert not found.is_catch_weight or parse_pack(found.written).expected == found.content


@given(packs, st.sampled_from(["LB", "#", "kg", " LB", " lbs"]), st.integers(1, 9))
def test_a_range_holds_its_middle_and_is_caught_by_weight(pack, unit, more):
    low = Fraction(pack.size)
    ranged = Meant(pack.counts, pack.size, "kg" if unit == "kg" else "lb", str(float(low + more)))
    found = read_pack(ranged.written(" x ", unit, space=""))
    assert found.is_catch_weight
    assert found.ask or is_as(found.content, ranged.content)


@given(packs, st.sampled_from(["box", "BAG", "case", "sack", "tub", "CS"]))
def test_what_it_is_packed_in_changes_nothing(pack, holder):
    text = pack.written(" x ")
    assert read_pack(f"{text} {holder}").content == read_pack(text).content


@given(spellings(), st.sampled_from(["", "US", "GB"]), st.sampled_from([None, True, False]))
def test_what_is_written_into_the_house_reads_back_the_same(made, country, is_liquid):
    found = read_pack(made[1], "", country, is_liquid)
    if not found.written:
        return
    pack = parse_pack(found.written)
    assert (pack.expected or pack.content) == found.content
    assert (pack.expected is not None) == found.is_catch_weight


@given(packs, st.sampled_from(["LB", "kg", "oz", "GAL", "L"]))
def test_the_house_s_own_packs_and_a_vendor_s_are_read_alike(pack, unit):
    """Two grammars, one meaning: a pack written by hand with strokes is what the list's would be."""
    text = f"{pack.counts[0]}/{pack.size} {unit}"
    found = read_pack(text)
    assert found.ask or found.content == parse_pack(text).content


@given(
    st.sampled_from(["10", "5", "2.5", "300"]),
    st.integers(2, 48),
    st.sampled_from(["/#", " x #", " #", "/no. ", "/NO "]),
)
def test_a_number_behind_a_can_sign_is_its_size_and_never_a_weight(size, count, mark):
    found = read_pack(f"{count}{mark}{size}")
    assert (found.count, found.unit) == (count, f"no. {size} can")


@given(st.text("0123456789/x#.- LBOZGKCTSEA~½,", max_size=20), st.sampled_from(["", "LB", "CS", "EA"]))
def test_anything_is_read_or_asked_and_nothing_raises(text, um):
    found = read_pack(text, um)
    assert found.ask or found.content is not None
    assert not found.written or parse_pack(found.written)
