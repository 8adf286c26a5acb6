"""Cards read back from the PDF: the order of the backs, no answer on a card, other scripts, the last page."""

from __future__ import annotations

import re
import zipfile
from dataclasses import replace
from datetime import date
from pathlib import Path

import drawn_catalog as drawn
import pytest
from pypdf import PdfReader

from curator import facts
from curator.classroom import lesson as lessons
from curator.classroom.flaps import Flap, flap
from curator.classroom.text.questions import tells
from curator.classroom.text.titles import titled
from curator.classroom.writers import cards, fonts, sheets
from curator.errors import LessonError

MM = 72 / 25.4


@pytest.fixture(scope="module", params=[("en", "a4"), ("es", "letter")], ids=["en", "es"])
def printed(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[lessons.Lesson, PdfReader, str]:
    language, paper = request.param
    where = tmp_path_factory.mktemp("cards")
    catalog = drawn.build(where / "catalog")
    made = lessons.lesson(catalog, lessons.plan(catalog, facts=range(2, 9), language=language, seed=2), longer=480)
    path = lessons.write(made, where / "lesson.pdf", paper=paper)
    return made, PdfReader(path), paper


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def placed(page: object) -> list[tuple[str, float, float]]:
    """Each piece of text with where it starts, in points from the top left."""
    found: list[tuple[str, float, float]] = []
    high = float(page.mediabox.height)  # type: ignore[attr-defined]

    def note(text: str, _: object, matrix: list[float], *rest: object) -> None:
        if text.strip():
            found.append((flat(text).strip(), matrix[4], high - matrix[5]))

    page.extract_text(visitor_text=note)  # type: ignore[attr-defined]
    return found


def backs(reader: PdfReader, made: lessons.Lesson) -> list[tuple[int, object]]:
    """Number of the first card and the page, of each page of backs."""
    count = len(cards._cards(made))
    return [(first, reader.pages[2 * n + 1]) for n, first in enumerate(range(0, count, 6))]


def test_size_title_and_language_are_set(printed: tuple[lessons.Lesson, PdfReader, str]) -> None:
    made, reader, paper = printed
    wide, high = sheets.PAPERS[paper]
    assert all(abs(float(p.mediabox.width) - wide * MM) < 0.1 for p in reader.pages)
    assert all(abs(float(p.mediabox.height) - high * MM) < 0.1 for p in reader.pages)
    assert reader.metadata is not None
    assert reader.metadata.title == made.title
    root = reader.trailer["/Root"]
    assert root["/Lang"] == made.language
    assert root["/ViewerPreferences"]["/Duplex"] == "/DuplexFlipLongEdge"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]


def test_backs_lie_behind_their_fronts(printed: tuple[lessons.Lesson, PdfReader, str]) -> None:
    """Turned over the long edge, left and right change places and rows stay (common practice of duplex printers)."""
    made, reader, _ = printed
    every = cards._cards(made)
    for first, page in backs(reader, made):
        middle, high = float(page.mediabox.width) / 2, float(page.mediabox.height)  # type: ignore[attr-defined]
        names = {
            text.split()[-1]: (x, y) for text, x, y in placed(page) if re.fullmatch(r"(Card|Tarjeta) [A-Z]+", text)
        }
        for n, card in enumerate(every[first : first + 6]):
            x, y = names[card.letter]
            assert (x > middle) == (n % 2 == 0), card.letter
            assert int(3 * y / high) == n // 2, card.letter


def test_fronts_hold_the_pictures_with_texts_and_no_words(printed: tuple[lessons.Lesson, PdfReader, str]) -> None:
    made, reader, _ = printed
    every = cards._cards(made)
    raw = flat(" ".join(str(obj.get_object()) for obj in _elements(reader)))
    for n, first in enumerate(range(0, len(every), 6)):
        page = reader.pages[2 * n]
        here = every[first : first + 6]
        assert len(page.images) == len({c.picture for c in here})
        flap = f" {sheets.label(made.language, 'flap')}" if any(c.flap for c in here) else ""
        assert flat(page.extract_text()).strip() == flat(sheets.label(made.language, "cards_print") + flap)
    for card in every:
        assert card.alt in raw
        assert not tells(card.alt, *_secret(card))


def _elements(reader: PdfReader) -> list[object]:
    return [obj for n in range(1, len(reader.xref[0]) + 1) if (obj := reader.get_object(n)) is not None]


def _secret(card: sheets.Card) -> tuple[int, ...]:
    n = card.asked[0].numbers
    if card.scene.fact is None:
        return (n["sum"],)
    return (n["hidden"],) if card.stages[0] in ("cover", "not_half") else (n["half"], n["total"])


def test_no_card_holds_its_answer_on_either_side(printed: tuple[lessons.Lesson, PdfReader, str]) -> None:
    made, reader, _ = printed
    every = cards._cards(made)
    for first, page in backs(reader, made):
        middle, high = float(page.mediabox.width) / 2, float(page.mediabox.height)  # type: ignore[attr-defined]
        for n, card in enumerate(every[first : first + 6]):
            own = [t for t, x, y in placed(page) if (x > middle) == (n % 2 == 0) and int(3 * y / high) == n // 2]
            text = " ".join(own)
            assert len(text) > 60
            assert flat(card.asked[0].question).split("?")[0][:20] in text
            assert not tells(card.asked[0].question, *_secret(card))
            large = [n for n in _secret(card) if n > 2]  # "one half" and "both groups" are figures of speech
            assert not tells(text, *large), (card.letter, text)


def test_a_cover_is_a_flap_that_folds_over_the_hidden_ones_alone() -> None:
    one = drawn.prompt("eggs-5", drawn.two_rows(5), "slide", "egg", "eggs")
    upper = [i for i, d in enumerate(one.dots) if d.side == 1]
    found = flap(one, upper, (720, 960))
    assert found is not None
    assert found.edge == "top"
    assert all((d.y < found.depth) == (d.side == 1) for d in one.dots)
    assert flap(one, [upper[1], upper[3]], (720, 960)) is None  # no edge reaches those without hiding others
    for edge, depth in (("top", 0.5), ("left", 0.3), ("bottom", 0.6), ("right", 0.5)):
        place = sheets.folded(Flap(edge, depth), 4 / 3, 88, 85)
        for x, y, w, h in (place.picture, place.flap):
            assert x >= -1e-9
            assert y >= -1e-9
            assert x + w <= 88 + 1e-9
            assert y + h <= 85 + 1e-9
        (x, y, w, h), (fx, fy, fw, fh) = place.picture, place.flap
        assert abs(fw * fh - depth * w * h) < 1e-6
        assert {"top": fy + fh == pytest.approx(y), "bottom": fy == pytest.approx(y + h)}.get(edge, True)
        assert {"left": fx + fw == pytest.approx(x), "right": fx == pytest.approx(x + w)}.get(edge, True)


def test_a_card_with_a_flap_shows_the_whole_picture_and_keeps_its_words_behind_it(
    printed: tuple[lessons.Lesson, PdfReader, str],
) -> None:
    made, reader, _ = printed
    every = cards._cards(made)
    flaps = [card for card in every if card.flap]
    assert len(flaps) >= 3
    assert all(card.picture == card.scene.picture for card in flaps)
    for first, page in backs(reader, made):
        middle = float(page.mediabox.width) / 2  # type: ignore[attr-defined]
        for n, card in enumerate(every[first : first + 6]):
            if card.flap and card.flap.edge in ("left", "right"):
                own = [x for t, x, y in placed(page) if (x > middle) == (n % 2 == 0)]
                assert own


def test_a_small_back_keeps_its_questions_large_rather_than_all_its_lines(
    printed: tuple[lessons.Lesson, PdfReader, str], tmp_path: Path
) -> None:
    """Behind a picture half as wide as its cell stand the questions and the equation; letters stay at 7.5 points."""
    made, _, _ = printed
    every = cards._cards(made)
    card = next(card for card in every if card.flap)
    sheet = sheets.Sheets(made, every, sheets.PAPERS["a4"], tmp_path)
    asked: dict[float, list[tuple[str, float]]] = {}
    for high in (110.0, 33.0):  # a picture of 3 to 2 beside a flap of its half is as high
        sheet.pdf.add_page()
        kept = asked.setdefault(high, [])
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(sheet, "_behind", lambda *_, high=high: (10.0, 10.0, 52.0, high))
            patch.setattr(sheet, "put", lambda text, _, size, *__, kept=kept: kept.append((text, size)))
            sheet._back(card, 10.0, 10.0)
    follow = "Ask next" if made.language == "en" else "Pregunta después"
    assert any(follow in text for text, _ in asked[110.0])
    assert not any(follow in text for text, _ in asked[33.0])
    questions = {line for one in card.asked for line in sheets.by_sentence(one.question)}
    assert questions <= {text for text, _ in asked[33.0]}
    assert max(size for _, size in asked[33.0]) >= 7.5


def test_a_flat_picture_has_its_cover_printed(printed: tuple[lessons.Lesson, PdfReader, str]) -> None:
    """Beside a flap it would be so low that nobody could read the words behind it."""
    made, _, _ = printed
    flat_ones = tuple(replace(s, views=replace(s.views, size=(1000, 200))) for s in made.scenes)
    assert any(card.flap for card in cards._cards(made))
    for card in cards._cards(replace(made, scenes=flat_ones)):
        assert card.flap is None
        assert card.picture == card.scene.view(card.scene.asking_view(card.stages[0]))


def test_no_equation_is_broken_on_a_narrow_back(printed: tuple[lessons.Lesson, PdfReader, str], tmp_path: Path) -> None:
    made, _, _ = printed
    sheet = sheets.Sheets(made, cards._cards(made), sheets.PAPERS["a4"], tmp_path)
    sheet.pdf.add_page()
    lines = [("____\xa0−\xa0____\xa0=\xa0____", "", 13.0)]
    share = sheet._share(lines, 30.0, 60.0)
    assert share < 1
    sheet.pdf.set_font("cards", "", 13.0 * share)
    assert sheet.pdf.get_string_width(lines[0][0]) <= 30.0
    assert sheet._share(lines, 60.0, 60.0) == 1


def test_response_sheets_and_exit_slips_ask_without_a_number(printed: tuple[lessons.Lesson, PdfReader, str]) -> None:
    made, reader, _ = printed
    count = 2 * -(-len(cards._cards(made)) // 6)
    pages = [flat(p.extract_text()) for p in reader.pages]
    said = {key: sheets.label(made.language, key) for key in ("responses", "exit", "child")}
    sheet = next(n for n, text in enumerate(pages) if said["responses"] in text)
    slip = next(n for n, text in enumerate(pages) if text.count(said["exit"]) == 4)
    assert count <= sheet < slip
    assert len(reader.pages[sheet].images) == min(8, len(made.scenes))
    assert len(reader.pages[slip].images) >= 1
    assert not re.search(r"\d", pages[sheet])
    assert said["child"] in pages[sheet]
    blanks = {sheets.to_fill(s.asked[s.stages[0]]) for s in made.scenes if s.stages[0] == "is_it"}
    assert blanks == {sheets.blank("? + ? = ?")}  # a picture that is no double is filled in like any other


def test_the_file_says_the_lessons_name_and_todays_date(printed: tuple[lessons.Lesson, PdfReader, str]) -> None:
    made, reader, _ = printed
    said = reader.metadata
    assert said is not None
    assert (said.title, said.producer, said.creator) == (made.title, "curator", "curator")
    assert said.creation_date is not None
    assert said.creation_date.date() == date.today()


def test_a_zip_tells_nothing_by_its_names(printed: tuple[lessons.Lesson, PdfReader, str], tmp_path: Path) -> None:
    made, _, _ = printed
    with zipfile.ZipFile(lessons.write(made, tmp_path / "lesson.zip")) as file:
        entries = file.infolist()
        assert file.comment.decode() == made.title
    pictures = [e.filename for e in entries if e.filename.endswith(".png")]
    assert all(re.fullmatch(r"\d\d-[a-i]\.png", name) for name in pictures)
    assert all(e.date_time[:3] == date.today().timetuple()[:3] for e in entries)


def test_answers_and_sources_end_the_document(printed: tuple[lessons.Lesson, PdfReader, str]) -> None:
    made, reader, _ = printed
    every = cards._cards(made)
    after = 2 * -(-len(every) // 6)
    answers = flat(" ".join(page.extract_text() for page in reader.pages[after:-1]))
    for card in every:
        assert f" {card.letter} · {card.title}" in answers
        for asked in card.asked:
            assert flat(asked.reveal) in answers
            assert not asked.solved or flat(asked.solved.replace(" - ", " − ")) in answers
    last = flat(reader.pages[-1].extract_text())
    assert lessons.NOTICES[facts.CCSSM] in last
    assert all(f"{titled(made.language, scene.prompt)} (" in last for scene in made.scenes if scene.prompt)
    assert last.count("CC0 1.0") == 1  # they share a credit and a licence
    assert "1.OA.C.6" in last


def test_stages_that_share_a_picture_share_a_card(printed: tuple[lessons.Lesson, PdfReader, str]) -> None:
    made, _, _ = printed
    every = cards._cards(made)
    assert sum(len(card.stages) for card in every) == sum(len(scene.stages) for scene in made.scenes)
    assert all(len(card.stages) == 1 for card in every if {"cover", "not_half"} & set(card.stages))
    assert [c.letter for c in every[:3]] == ["A", "B", "C"]
    assert [cards._letter(n) for n in (25, 26, 51, 52)] == ["Z", "AA", "AZ", "BA"]


ODD = {
    "emoji": ("🥚", "🥚🥚", "How many things are there in all?"),
    "word-and-emoji": ("egg 🥚", "eggs 🥚", "How many eggs are there in all?"),
    "han": ("卵", "卵", "How many things are there in all?"),
    "quotes": ('"egg"', "'eggs' <b>", "How many 'eggs' <b> are there in all?"),
}


@pytest.mark.parametrize("name", ODD)
def test_signs_that_cannot_be_printed_are_left_out_and_named(name: str, tmp_path: Path) -> None:
    one, many, asked = ODD[name]
    reader = _one_card(tmp_path, one, many)
    assert asked in flat(reader.pages[1].extract_text())
    lacking = fonts.lacking(one + many)
    assert all(f"U+{ord(c):04X}" in reader.pages[-1].extract_text() for c in lacking)
    assert ("U+" in reader.pages[-1].extract_text()) == bool(lacking)


@pytest.mark.parametrize(("one", "many"), [("ביצה", "ביצים"), ("بيضة", "بيضات")])
def test_words_from_right_to_left_are_printed(one: str, many: str, tmp_path: Path) -> None:
    text = flat(_one_card(tmp_path, one, many).pages[1].extract_text())
    assert any("\u0590" <= c <= "\u06ff" or "\ufb50" <= c <= "\ufeff" for c in text), text
    assert "How many" in text
    assert fonts.lacking(one + many) == ()


def _one_card(where: Path, one: str, many: str) -> PdfReader:
    catalog = where / "catalog"
    drawn.add(catalog, drawn.prompt("odd", drawn.two_rows(3), "slide", one, many, title=many), drawn.two_rows(3))
    made = lessons.lesson(catalog, lessons.plan(catalog), longer=320)
    return PdfReader(lessons.write(made, where / "cards.pdf"))


def test_a_font_that_is_cut_has_the_signs_asked_for() -> None:
    from io import BytesIO

    from fontTools.ttLib import TTFont

    for weight in (fonts.REGULAR, fonts.BOLD):
        found = TTFont(BytesIO(fonts.cut(frozenset("ñ¿−·é"), weight)))
        assert set(map(ord, "ñ¿−·éAz09")) <= set(found.getBestCmap())
        assert "fvar" not in found


def test_an_unknown_paper_is_three_sentences(tmp_path: Path) -> None:
    catalog = tmp_path / "catalog"
    drawn.add(catalog, drawn.prompt("a", drawn.two_rows(3), "slide", "egg", "eggs"), drawn.two_rows(3))
    made = lessons.lesson(catalog, lessons.plan(catalog), longer=320)
    with pytest.raises(LessonError) as caught:
        lessons.write(made, tmp_path / "cards.pdf", paper="a3")
    assert "a4 or" in caught.value.try_this
    assert not list(tmp_path.glob("*.pdf"))
    assert not list(tmp_path.glob(".unfinished*"))


def test_an_equation_to_fill_in_has_no_number() -> None:
    assert re.sub("\u00a0", " ", sheets.blank("14 - 7 = ?")) == "____ − ____ = ____"
