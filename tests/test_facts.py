"""Facts, families and the standard codes that a picture may claim."""

import pytest

from curator.classroom.text.language import languages, section
from curator.facts import ARRANGEMENTS, FACTS, family, is_even, near, standards, wrong_claims
from curator.records import Fact

# The limits in these codes' own texts: Common Core State Standards for Mathematics, NGA Center/CCSSO 2010, paraphrased;
# MA.2.AR.3.1 is Florida's grade 2 benchmark with addends up to 12. 2.OA.A.1 and 2.NBT.B.5 for 22 and 24 ("within 100")
# are from memory.
LIMITS = {
    "K.OA.A.2": range(1, 6),
    "K.OA.A.3": range(1, 6),
    "K.OA.A.4": [5],
    "K.OA.A.5": [1, 2],
    "1.OA.A.1": range(1, 11),
    "1.OA.C.6": range(1, 11),
    "2.OA.B.2": range(1, 10),
    "2.OA.C.3": range(1, 11),
    "K.CC.C.6": range(1, 11),
    "2.OA.A.1": [11, 12],
    "2.NBT.B.5": [11, 12],
    "MA.2.AR.3.1": range(1, 13),
}


def codes(half: int, **how: str) -> set[str]:
    return {standard.code for standard in standards(half, **how)}  # type: ignore[arg-type]


@pytest.mark.parametrize("code", LIMITS)
def test_each_code_is_claimed_within_its_limits_alone(code: str) -> None:
    assert [n for n in range(1, 13) if code in codes(n)] == list(LIMITS[code])


def test_counting_and_arrays_depend_on_the_arrangement() -> None:
    # CCSSM 2010. K.CC.B.5: up to 20 in a line, array or circle, up to 10 scattered; 2.OA.C.4: arrays up to 5 by 5
    assert [n for n in range(1, 13) if "K.CC.B.5" in codes(n, arrangement="scattered")] == [1, 2, 3, 4, 5]
    for arranged in ("rows", "line", "circle"):
        assert [n for n in range(1, 13) if "K.CC.B.5" in codes(n, arrangement=arranged)] == list(range(1, 11))
    assert [n for n in range(1, 13) if "2.OA.C.4" in codes(n, arrangement="rows")] == [1, 2, 3, 4, 5]
    assert not any("2.OA.C.4" in codes(n, arrangement=a) for n in range(1, 13) for a in ("line", "circle", "scattered"))


def test_a_dozen_eggs_in_two_rows_is_no_small_array() -> None:
    assert wrong_claims(("2.OA.C.4", "2.OA.B.2", "LOCAL.1"), 6, "slide", "rows") == ("2.OA.C.4",)


def test_two_numbers_above_ten_fit_nothing_within_twenty() -> None:
    assert codes(11) == codes(12) == {"2.OA.A.1", "2.NBT.B.5", "MA.2.AR.3.1"}


def test_halves_of_shapes_are_never_claimed() -> None:
    # 1.G.A.3 speaks of circles and rectangles, not of sets of things (CCSSM 2010)
    assert not any("1.G.A.3" in codes(n, arrangement=a) for n in range(1, 13) for a in ARRANGEMENTS)


def test_a_picture_without_a_double_claims_nothing() -> None:
    assert standards(7, "none") == ()


def test_each_code_says_what_it_asks_and_where_it_stands() -> None:
    for n in range(1, 13):
        for standard in standards(n, arrangement="rows"):
            for language in languages():
                assert len(section(language, "standards")[standard.key]) > 15
            assert standard.source.startswith(("CCSSM, NGA/CCSSO 2010", "Florida"))


@pytest.mark.parametrize("half", [0, 13, -1])
def test_a_half_out_of_range_is_refused(half: int) -> None:
    with pytest.raises(ValueError, match="half: expected a whole number from 1 to 12"):
        standards(half)


def test_family_and_neighbours_of_seven() -> None:
    assert family(Fact(7)) == ("7+7=14", "14-7=7", "half of 14 is 7")
    assert near(Fact(7)) == ("6+7=13", "7+8=15")
    assert near(Fact(1)) == ("1+2=3",)


def test_every_double_is_even_and_every_near_double_odd() -> None:
    assert [fact.half for fact in FACTS] == list(range(1, 13))
    for fact in FACTS:
        assert is_even(fact.total)
        assert not any(is_even(int(text.split("=")[1])) for text in near(fact))
