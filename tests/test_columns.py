"""The one table of columns: complete, no word for two columns, and written out for people."""

from __future__ import annotations

from pathlib import Path

import pytest

import headlife as hl
from headlife.errors import SettingsError
from headlife.records.columns import column_key
from headlife.records.draft.choice import choose
from headlife.records.draft.contents import contents_of
from headlife.shop.columns import BUILD_COLUMNS, COLUMNS, LANGUAGES, STANDARD_COLUMNS, page

PAGE = Path(__file__).parents[1] / "shared" / "columns.md"


def test_every_column_is_explained_in_every_language():
    for column in (*COLUMNS.values(), *BUILD_COLUMNS.values()):
        assert column.meaning
        assert set(column.words) == set(LANGUAGES), column.name
        assert all(column.synonyms)
        assert not column.needed or column.always
        assert column.write or not column.needed or column.name == "reason"


@pytest.mark.parametrize("columns", [COLUMNS, BUILD_COLUMNS])
def test_a_word_stands_for_one_column_of_a_language(columns):
    for language in LANGUAGES:
        seen: dict[str, str] = {}
        for column in columns.values():
            for word in column.words[language]:
                assert column_key(word) not in seen, (language, word)
                seen[column_key(word)] = column.name


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_header_of_first_words_is_recognised(language):
    header = [COLUMNS[name].words[language][0] for name in STANDARD_COLUMNS]
    blank = [contents_of([], 0) for _ in header]
    found = {name: one.place for name, one in choose(header, blank, STANDARD_COLUMNS).items()}
    wrong = {n: i for i, n in enumerate(STANDARD_COLUMNS) if found.get(n) != i}
    assert not wrong


def test_the_page_is_as_the_table():
    assert PAGE.read_text(encoding="utf-8") == page()


@pytest.mark.parametrize("name", ["role", "exit_hours"])
def test_an_own_column_cannot_take_a_name(tmp_path, name):
    (tmp_path / "shop.toml").write_text(
        f'name = "S"\n[own_columns]\n{name} = "Bay"\n[reasons.failures]\n"worn" = "wear"\n'
        "[head_types.A]\nrated_hours = 1200\n[spares]\nlead_time_weeks = 6\n"
    )
    with pytest.raises(SettingsError, match=f"own_columns.*'{name}'.*choose another name"):
        hl.read_shop(tmp_path / "shop.toml")
