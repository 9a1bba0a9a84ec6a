"""The shop book: machines, wrenches and the name are remembered; a damaged book is set aside."""

from __future__ import annotations

from shopguide.shop.book import MOST_KEPT, Machine, ShopBook, read_book, write_book
from shopguide.shop.wrenches import Wrench


def test_what_was_written_is_read_again(tmp_path):
    book = ShopBook(
        machines=(Machine(make="Corvane", model="Tarn", year="2014"),),
        wrenches=(Wrench(name="small", low="2 N·m", high="25 N·m"),),
        person="Ada Hill",
    )
    write_book(tmp_path, book)
    assert read_book(tmp_path) == book


def test_without_a_book_there_is_an_empty_one(tmp_path):
    assert read_book(tmp_path) == ShopBook()


def test_a_damaged_book_is_set_aside_and_not_lost(tmp_path):
    (tmp_path / "shop.json").write_bytes(b"{ rubbish")
    assert read_book(tmp_path) == ShopBook()
    assert (tmp_path / "shop.damaged.json").read_bytes() == b"{ rubbish"


def test_the_newest_machine_stands_first_and_only_once():
    book = ShopBook()
    for name in ("a", "b", "a"):
        book = book.with_machine(Machine(make=name))
    assert [m.make for m in book.machines] == ["a", "b"]
    assert book.with_machine(Machine()) == book
    for number in range(MOST_KEPT + 5):
        book = book.with_machine(Machine(make=str(number)))
    assert len(book.machines) == MOST_KEPT


def test_a_book_that_cannot_be_written_is_no_error(tmp_path):
    (tmp_path / "file").write_bytes(b"")
    write_book(tmp_path / "file", ShopBook(person="x"))
    assert not (tmp_path / "file" / "shop.json").exists()
