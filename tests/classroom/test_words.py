"""Questions and answers in every language: complete, in agreement, and the answer never in the question."""

import ast
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curator.classroom.text import alt_texts
from curator.classroom.text import language as grammar
from curator.classroom.text import questions as words
from curator.classroom.text.questions import counted, gives_away, noun, number, questions, tells
from curator.errors import LessonError
from curator.numbers_in_text import WORDS
from curator.records import KINDS, Dot, Fact, Kind, Prompt

LANGUAGES = words.languages()
HALVES = range(1, 13)
# cover, not_half and the rest with the numbers they take, for one half
CASES = [
    (stage, half, hidden)
    for half in HALVES
    for stage, hidden in (
        ("see", 0),
        ("cover", half),
        ("near", 0),
        ("is_it", 0),
        *(("not_half", k) for k in range(1, 2 * half) if k != half),
    )
]


def leaves(value: object, path: str = "") -> dict[str, object]:
    """Every value of nested names under its dotted key."""
    if isinstance(value, dict):
        return {k: v for key, inner in value.items() for k, v in leaves(inner, f"{path}.{key}").items()}
    return {path: value}


def blanks(pattern: object) -> set[str]:
    """The numbers and words that a pattern takes; gender and article are the language's own affair."""
    found = {name.split(":")[0].lower().lstrip("#") for name in re.findall(r"\{([^{}~]+)\}", str(pattern))}
    same = {"thing": "things", "a thing": "things", "the things": "things"}
    return {same.get(name, name).removesuffix(" things") for name in found}


def ask(
    language: str, stage: str, half: int, hidden: int, thing: str = "", things: str = "", kind: Kind = "flip"
) -> words.Questions:
    shown = 2 * half - hidden if hidden else 0
    return questions(language, stage, Fact(half), kind, thing, things, shown=shown, hidden=hidden)


# ---- complete


def test_there_are_two_languages() -> None:
    assert LANGUAGES == ("en", "es")


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_has_every_key_of_the_others(language: str) -> None:
    for other in LANGUAGES:
        assert set(leaves(grammar.load(language))) == set(leaves(grammar.load(other)))


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_sentence_is_empty_but_the_genders_of_english(language: str) -> None:
    empty = [
        key for key, value in leaves(grammar.load(language)).items() if value == "" and not key.endswith(".gender")
    ]
    assert empty == []


def test_every_pattern_takes_the_same_numbers_and_words_in_both_languages() -> None:
    english, spanish = leaves(grammar.load("en")), leaves(grammar.load("es"))
    optional = {"things"}  # a language may repeat the thing's name or use a pronoun
    differing = {key for key in english if blanks(english[key]) - optional != blanks(spanish[key]) - optional}
    assert differing == set()


def test_a_number_itself_agrees_with_no_noun_and_has_its_article() -> None:
    tins = noun("es", "lata", "latas")
    asked = ask("es", "see", 10, 0, "lata", "latas")
    question, hear = words.why(asked, "es", tins)
    assert question == "¿Por qué el veinte puede ser un doble? ¿Y el veintiuno?"
    assert hear == "El veinte se puede repartir en dos partes iguales: es par. Con el veintiuno sobra una."
    assert asked.reveal == "Diez y diez son veinte: veinte latas."


def test_numbers_reach_past_the_largest_total() -> None:
    for language in LANGUAGES:
        assert len(WORDS[language]) > 24


def test_the_wording_uses_no_other_labels_than_the_code_asks_for() -> None:
    said = {
        node.value
        for path in Path(words.__file__).parents[1].rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))  # in whatever quotes it stands
        if isinstance(node, ast.Constant)
    }
    assert [key for key in grammar.section("en", "label") if key not in said] == []


# ---- agreement


@pytest.mark.parametrize(
    ("language", "thing", "things", "n", "said"),
    [
        ("en", "egg", "", 1, "one egg"),
        ("en", "egg", "", 7, "seven eggs"),
        ("en", "an egg", "", 2, "two eggs"),
        ("en", "box", "", 3, "three boxes"),
        ("en", "berry", "", 3, "three berries"),
        ("en", "coat hook", "", 4, "four coat hooks"),
        ("en", "foot", "", 5, "five feet"),
        ("en", "sheep", "", 2, "two sheep"),
        ("en", "", "mugs", 1, "one mug"),
        ("en", "", "", 6, "six things"),
        ("en", "huevo", "", 7, "seven eggs"),
        ("es", "huevo", "", 1, "un huevo"),
        ("es", "huevo", "", 7, "siete huevos"),
        ("es", "el huevo", "", 21, "veintiún huevos"),
        ("es", "la mano", "", 1, "una mano"),
        ("es", "mano", "", 21, "veintiuna manos"),
        ("es", "botón", "", 2, "dos botones"),
        ("es", "lápiz", "", 2, "dos lápices"),
        ("es", "silla azul", "", 2, "dos sillas azules"),
        ("es", "dedo del pie", "", 2, "dos dedos del pie"),
        ("es", "paraguas", "", 2, "dos paraguas"),
        ("es", "ala", "", 1, "un ala"),
        ("es", "ala", "", 2, "dos alas"),
        ("es", "la gafa", "las gafas", 2, "dos gafas"),
        ("es", "", "luces", 1, "una luz"),
        ("es", "", "", 1, "una cosa"),
        ("es", "egg", "eggs", 7, "siete huevos"),
    ],
)
def test_a_number_of_things(language: str, thing: str, things: str, n: int, said: str) -> None:
    assert counted(language, n, noun(language, thing, things)) == said


@pytest.mark.parametrize(
    ("thing", "things", "gender"),
    [
        ("la mano", "", "f"),
        ("mano", "", "f"),
        ("mapa", "", "m"),
        ("llave", "", "f"),
        ("canción", "", "f"),
        ("el pez", "", "m"),
        ("el ala", "las alas", "f"),
        ("el radio", "", "m"),
    ],
)
def test_spanish_gender_from_the_article_or_the_ending(thing: str, things: str, gender: str) -> None:
    assert noun("es", thing, things).gender == gender


def test_spanish_questions_agree_with_the_noun() -> None:
    assert ask("es", "see", 7, 0, "la mano").question == "¿Qué grupos de manos viste? ¿Cuántas manos hay en total?"
    assert ask("es", "cover", 1, 1, "huevo").reveal == "Debajo había un huevo: uno y uno son dos."
    assert ask("es", "cover", 1, 1, "la mano").reveal == "Debajo había una mano: una y una son dos."


def test_english_verbs_agree_with_the_number() -> None:
    assert ask("en", "cover", 1, 1, "egg").reveal.startswith("One egg was hidden")
    assert ask("en", "cover", 7, 7, "egg").reveal.startswith("Seven eggs were hidden")


def test_english_article() -> None:
    for thing, said in (("egg", "an egg"), ("hour", "an hour"), ("unicorn", "a unicorn"), ("mug", "a mug")):
        assert any(said in heard for heard in ask("en", "see", 3, 0, thing).listen)


# ---- the answer stays out of the question


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("thing", ["egg", "la mano", "", "six-pack", "docena"])
def test_no_question_frame_or_title_names_the_answer(language: str, thing: str) -> None:
    for stage, half, hidden in CASES:
        found = ask(language, stage, half, hidden, thing)
        secret = (half, 2 * half) if not hidden else (hidden,)
        assert not tells(found.question, *secret), found.question
        assert not tells(found.frame.replace("one more", "").replace("uno más", "").replace("una más", ""), *secret), (
            found.frame
        )


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_cover_is_asked_about_in_the_same_words_whether_or_not_it_is_half(language: str) -> None:
    for half in HALVES[1:]:
        assert ask(language, "cover", half, half).question == ask(language, "not_half", half, 1).question


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("kind", KINDS)
def test_everything_is_there_for_every_fact_stage_and_kind(language: str, kind: Kind) -> None:
    for stage, half, hidden in CASES:
        found = ask(language, stage, half, hidden, kind=kind)
        texts = [
            found.question,
            found.follow_up,
            found.frame,
            found.reveal,
            found.solved,
            *found.listen,
            *(t for a in found.answers for t in (a.says, a.shows)),
        ]
        assert all(texts)
        assert not any("{" in t or "}" in t for t in texts)
        assert len({a.says for a in found.answers}) == len(found.answers), [a.says for a in found.answers]
        assert found.wait_s >= 3  # Rowe 1986: at least three seconds


@pytest.mark.parametrize("stage_half_hidden", CASES[::7])
def test_equations_hold_and_have_one_kind_of_blank(stage_half_hidden: tuple[str, int, int]) -> None:
    stage, half, hidden = stage_half_hidden
    found = ask("en", stage, half, hidden)
    left, right = found.solved.split(" = ")
    assert sum(int(n) for n in re.findall(r"-?\d+", left.replace("- ", "-"))) == int(right)
    assert "?" not in found.solved
    for equation in (found.equation, *found.more):
        assert "?" in equation
    if stage in ("cover", "not_half"):
        shown = 2 * half - hidden
        assert (found.equation, found.more[0]) == (f"{2 * half} - {shown} = ?", f"{shown} + ? = {2 * half}")
        assert found.answers[0].says.startswith(number("en", hidden).capitalize())


def test_the_worked_example_of_seven_and_seven() -> None:
    found = ask("en", "cover", 7, 7, "egg")
    assert (found.equation, *found.more) == ("14 - 7 = ?", "7 + ? = 14", "half of 14 is ?")
    assert "Seven, I can see seven." in [a.says for a in found.answers]


# ---- no double, and near ones


def test_a_picture_that_is_no_double_says_why() -> None:
    assert questions("en", "is_it", None, "none", sides=(4, 6)).answers[0].says == "No: four and six are not the same."
    assert (
        questions("en", "is_it", None, "none", sides=(4, 4), left_over=1).answers[0].says
        == "No: four and four, and one left over."
    )
    assert questions("en", "is_it", None, "none", left_over=8).answers[0].says == "No: the two parts do not match."
    assert questions("en", "is_it", Fact(4), "flip").answers[0].says == "Yes: four and four."


def test_an_even_number_can_be_halved_though_the_picture_is_not() -> None:
    assert "Yes: I can make five and five." in [
        a.says for a in questions("en", "is_it", None, "none", sides=(4, 6)).answers
    ]
    assert not any("I can make" in a.says for a in questions("en", "is_it", None, "none", sides=(4, 5)).answers)


def test_a_near_double_counts_on_from_the_double() -> None:
    found = questions("en", "near", None, "none", "leaf", sides=(5, 4))
    assert (found.question, found.solved) == ("How many leaves are there? Which double is close by?", "4 + 5 = 9")
    with pytest.raises(ValueError, match="one from a double"):
        questions("en", "near", None, "none", sides=(4, 6))


# ---- what may go wrong


def test_an_unknown_language_is_named() -> None:
    with pytest.raises(LessonError, match=r'no wording for "\.\./en"'):
        ask("../en", "see", 3, 0)


def say_all(language: str) -> None:
    ask(language, "see", 3, 0)
    ask(language, "cover", 3, 3)
    words.label(language, "title")


@pytest.mark.parametrize("gone", ["questions.see", "answers.cover.right", "nouns.thing", "label.title"])
def test_a_language_that_lacks_a_key_is_told_which(gone: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import yaml

    whole = yaml.safe_load((grammar.FOLDER / "en.yaml").read_text(encoding="utf-8"))
    monkeypatch.setitem(WORDS, "xx", WORDS["en"])
    part = whole
    for name in gone.split(".")[:-1]:
        part = part[name]
    del part[gone.split(".")[-1]]
    (tmp_path / "xx.yaml").write_text(yaml.safe_dump(whole), encoding="utf-8")
    monkeypatch.setattr(grammar, "FOLDER", tmp_path)
    with pytest.raises(LessonError, match=re.escape(gone)) as caught:
        say_all("xx")
    assert "xx.yaml" in caught.value.doing


def test_a_language_without_number_words_is_told_where_they_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "xx.yaml").write_bytes((grammar.FOLDER / "en.yaml").read_bytes())
    monkeypatch.setattr(grammar, "FOLDER", tmp_path)
    with pytest.raises(LessonError, match=r"numbers_in_text\.py"):
        ask("xx", "cover", 3, 3)


@pytest.mark.parametrize("text", ["[a, b", "- 1", "\ttab: 1", ""])
def test_a_broken_wording_is_no_traceback(text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "xx.yaml").write_text(text, encoding="utf-8")
    monkeypatch.setattr(grammar, "FOLDER", tmp_path)
    with pytest.raises(LessonError):
        words.label("xx", "title")


def test_right_to_left_words_are_isolated() -> None:
    assert "\u2068בֵּיצָה\u2069" in ask("en", "see", 3, 0, "בֵּיצָה", "בֵּיצָה").question


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.text(max_size=40), st.text(max_size=40), st.sampled_from(LANGUAGES), st.integers(1, 12))
def test_any_word_for_a_thing_gives_whole_sentences(thing: str, things: str, language: str, half: int) -> None:
    found = ask(language, "cover", half, half, thing, things)
    assert not tells(found.question, half)
    assert all(ord(c) >= 32 for c in found.question)
    assert found.question.endswith("?")


# ---- alt texts


def drawn(half: int, **more: object) -> Prompt:
    dots = tuple(Dot(0.1 + 0.8 * i / 12, 0.3 * side, side, 0.05, 0.1) for side in (1, 2) for i in range(half))
    fields: dict[str, object] = {"thing": "egg", "things": "eggs", "place": "kitchen", **more}
    return Prompt("eggs", "Eggs", Fact(half), "slide", "eggs.jpg", dots, **fields)  # type: ignore[arg-type]


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_text_before_gives_no_number_and_the_text_after_gives_all(language: str) -> None:
    for half in HALVES:
        for place in ("kitchen", f"room {half}", "two dozen shelf", ""):
            one = drawn(half, place=place)
            assert not gives_away(alt_texts.before(one, language), one.fact), alt_texts.before(one, language)
            assert not gives_away(alt_texts.cover(one, language), one.fact)
            assert not gives_away(alt_texts.rings(one, language), one.fact)
            assert f"{half} + {half} = {2 * half}" in alt_texts.after(one, language)


def test_alt_texts_as_read() -> None:
    one = drawn(7)
    assert alt_texts.before(one) == "Photo of eggs in straight rows. Place: kitchen."
    assert alt_texts.after(one) == "Photo of fourteen eggs: seven, and seven more in the same order. 7 + 7 = 14."
    assert alt_texts.after(one, "es") == "Foto de catorce huevos: siete, y siete más en el mismo orden. 7 + 7 = 14."


def test_a_persons_own_text_is_told_from_a_made_one() -> None:
    from dataclasses import replace

    one = drawn(7)
    assert not alt_texts.is_own(replace(one, alt_before=alt_texts.before(one, "es")))
    assert alt_texts.is_own(replace(one, alt_before="An open box on the table"))
    assert not alt_texts.is_own(one)


@pytest.mark.parametrize(
    ("text", "half", "given_away"),
    [
        ("Eggs, a dozen", 6, True),
        ("Domino threes", 3, True),
        ("sixes", 6, True),
        ("14 eggs", 7, True),
        ("fourteen", 7, True),
        ("siete", 7, True),
        ("A pair of boots", 1, True),
        ("fourteen", 4, False),
        ("114", 7, False),
        ("Un banco con huevos", 1, False),
        ("often seen", 10, False),
        ("docena", 12, True),
        ("", 3, False),
    ],
)
def test_what_gives_a_number_away(text: str, half: int, given_away: bool) -> None:
    assert gives_away(text, Fact(half)) is given_away
