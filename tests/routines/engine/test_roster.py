"""Lists of students at their limits, and the words in which what is none is refused."""

from datetime import date

import pytest

from routines.engine.roster import Letters, RosterError, read

TODAY = date(2026, 3, 31)


def refused(content: bytes, **more) -> str:
    with pytest.raises(RosterError) as error:
        read(content, today=TODAY, **more)
    return str(error.value)


def names(content: bytes, **more) -> list[str]:
    sheet = read(content, today=TODAY, instrument="horn_f", **more)
    return [row.name for row in sheet.rows]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "This is empty"),
        (b" \n\t\n  ", "This is empty"),
        (b",,,\n,,,\n", "This is empty"),
        (b"PK\x03\x04\x14\x00\x06\x00", "This is an Excel file or another zip."),
        (b"x" * 1_500_000, "1.5 MB: 1 MB at most."),
        (b'name,instrument\n"Nor,horn\n' + b"Tam,horn\n" * 40_000, "Row 2 cannot be read"),
        (b'"Nor,horn\n' + b"Tam,horn\n" * 40_000, "Row 1 cannot be read"),
        (b"name,instrument\n", "There is a heading and no student under it"),
        (b"name\n" + b"Nor\n" * 501, "501 rows: 500 at most."),
        (b"name" + b",x" * 50 + b"\nNor", "Row 1 has 51 columns: 50 at most."),
        (b"name\nNor\n" + b"x" * 201, "Row 3 has a cell with over 200 letters"),
        (b"instrument,name,name\nhorn,Nor,Tam\n", "Two columns are called name:"),
        (b"instrument,group\nhorn,A\n", "No column is called name"),
        (b"Nor,horn,Tuesday\n", "No column is called name"),
    ],
)
def test_what_is_no_list_is_refused_in_words_of_its_own(content, words):
    assert refused(content).startswith(words)


def test_a_list_at_its_limits_is_read():
    assert len(names(b"name\n" + b"Nor\n" * 500)) == 500
    assert names(b"name" + b",x" * 49 + b"\nNor") == ["Nor"]
    assert names(b"name,group\nNor," + b"x" * 200) == ["Nor"]
    assert "MB" not in refused(b"x" * 1_000_000)
    assert refused(b"x" * 1_000_001).startswith("1.0 MB: 1 MB at most.")


@pytest.mark.parametrize("content", [b"Nor\0", b"N\xff"])
def test_letters_that_were_chosen_and_do_not_fit_are_named(content):
    words = refused(content, letters=Letters.UTF_8)

    assert words == "This is not Unicode (UTF-8) text: choose other letters."


# The Unicode standard, 3.10: without a mark the order of the two bytes shows in the noughts.
@pytest.mark.parametrize("codec", ["utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("text", ["Ȁna\nNor", "Nor\nȀna", "Nor", "ȀNo"])
def test_utf_16_without_a_mark_shows_its_order(codec, text):
    assert names(text.encode(codec)) == text.split("\n")


def test_a_list_of_nothing_but_space_is_empty_whatever_letters_were_chosen():
    assert refused(b" ", letters=Letters.UTF_16).startswith("This is empty")


def test_utf_16_without_noughts_is_read_as_most_programs_write_it():
    assert names("Łąż".encode("utf-16-le"), letters=Letters.UTF_16) == ["Łąż"]


def test_eight_names_are_shown_where_letters_were_guessed():
    people = ["Nor", *(f"Zoë {number}" for number in range(9))]
    sheet = read("\n".join(people).encode("cp1252"), today=TODAY, instrument="horn_f")

    assert sheet.unusual == tuple(people[1:9])
    assert (sheet.letters, sheet.is_guessed) == (Letters.WESTERN, True)


@pytest.mark.parametrize(
    ("content", "divider"),
    [
        (b"Nor\nTam", ","),
        (b"name;instrument\nNor;horn\nTam, the tall", ";"),
        (b"name\tinstrument\nNor\thorn", "\t"),
    ],
)
def test_the_first_row_says_what_divides_the_cells(content, divider):
    assert read(content, today=TODAY, instrument="horn_f").divider == divider


# Unicode 16.0, general category: Cf are signs of direction and joiners; two joiners are letters'
# business in Persian and in several Indian scripts.
@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("Nor\u202e", "Nor"),
        ("N\u200bor", "N or"),
        ("N\x07or", "N or"),
        ("می\u200cنا", "می\u200cنا"),
        ("क्\u200dष", "क्\u200dष"),
    ],
)
def test_signs_nobody_sees_are_taken_out_and_joiners_stay(written, name):
    assert names(written.encode()) == [name]
