"""Many at once: each in turn, each told its place, and nobody waits for what is known already."""

import threading
import time

import pytest

from tests.trust.memory import peak_bytes
from tests.trust.phones import Phone, all_at_once, different
from tests.ui.browsing import serving
from ui.collection.store import URL_VARIABLE
from ui.screens.by_photo import SAMPLE
from ui.store import Lately
from ui.turns import Turns, place_text

#: ``make load`` sends twenty; here fewer, so that it takes seconds.
PHONES = 5


def test_turns_are_taken_in_order_and_no_more_than_allowed_at_once():
    turns, order, busy, most = Turns(2), [], [], []
    turns.TELL_SECONDS = 0.01

    def work(number):
        with turns.turn(lambda before: None):
            busy.append(number)
            most.append(len(busy))
            order.append(number)
            time.sleep(0.02)
            busy.remove(number)

    threads = [threading.Thread(target=work, args=(k,)) for k in range(8)]
    for thread in threads:
        thread.start()
        time.sleep(0.003)
    for thread in threads:
        thread.join()
    assert order == list(range(8))
    assert max(most) == 2


def test_the_place_is_told_and_who_goes_away_makes_room():
    turns, told = Turns(1), []
    turns.TELL_SECONDS = 0.01

    def leave(before):
        told.append(before)
        raise InterruptedError

    with turns.turn(told.append):
        with pytest.raises(InterruptedError), turns.turn(leave):
            pytest.fail("its turn had not come")
        assert told == [1]
    # Neither the one that went nor the one that ended holds it up.
    with turns.turn(lambda before: pytest.fail("nobody is before")):
        pass


def test_what_breaks_while_it_works_gives_its_turn_back():
    turns = Turns(1)
    with pytest.raises(InterruptedError), turns.turn(lambda before: None):
        raise InterruptedError
    with turns.turn(lambda before: pytest.fail("nobody is before")):
        pass


def test_the_results_asked_for_last_are_kept():
    lately = Lately(2)
    for name in "ab":
        lately.put(name, name.upper())
    assert lately.get("a") == "A"
    lately.put("c", "C")
    assert lately.get("b") is None
    assert lately.get("a") == "A"
    assert place_text(3) == "3 photos are before yours."


def test_phones_at_once_each_get_their_answer_and_see_their_place(monkeypatch, tmp_path):
    # A server of its own, with nothing remembered: another's unit would be told otherwise.
    monkeypatch.setenv(URL_VARIABLE, f"sqlite:///{tmp_path / 'springs.sqlite'}")
    photo = SAMPLE.read_bytes()
    with serving() as (address, server):
        seen = all_at_once(address, [different(photo, k) for k in range(PHONES)])
        assert [one.error for one in seen] == [""] * PHONES
        assert len({one.answer for one in seen}) == 1
        assert seen[0].answer.endswith("N/mm")
        # All but those who found nobody before them were told, and places only go down.
        assert sum(bool(one.places) for one in seen) >= PHONES - 2
        assert all(one.places == sorted(one.places, reverse=True) for one in seen)
        assert peak_bytes(server) < 1_000_000_000
        # What is known already does not wait in the queue.
        again = Phone(address)
        assert again.measure(different(photo, 0)).places == []
        again.close()
