"""A sound card that goes away, in the middle of a sentence or while nothing is said, and comes back."""

import threading

import miniaudio
import numpy as np
import pytest

from callout.speaking.loudspeaker import Loudspeaker

GONE = "the sound card stopped working"


class Card:
    """Plays `sounds` of them; then it is gone."""

    def __init__(self, sounds=9):
        self.left = sounds
        self.gone = False
        self.closed = threading.Event()

    def start(self):
        if self.gone:
            raise miniaudio.MiniaudioError("no such device")

    def play(self, sound, cancelled):
        if not self.left:
            raise miniaudio.MiniaudioError("the audio device asks for no sound any more")
        self.left -= 1
        return not cancelled() and len(list(sound)) == 1

    def close(self):
        self.closed.set()


def sound():
    return iter([(np.zeros(9, np.int16), None)])


def never():
    return False


def plugged(*cards):
    """Finds these one after the other; None where there is none at that time."""
    found = iter(cards)
    return lambda: (next(found), "")


def test_a_card_that_goes_while_nothing_is_said_is_told_of_once_and_so_is_its_return():
    first, second = Card(), Card()
    loudspeaker = Loudspeaker(first, opener=plugged(None, None, second))
    assert (loudspeaker.watch(), loudspeaker.silent, loudspeaker.lost) == ("", "", False)
    first.gone = True
    assert loudspeaker.watch() == f"{GONE}: the voice goes to WAV files until it is back"
    assert (loudspeaker.player, loudspeaker.silent, loudspeaker.lost) == (None, GONE, True)
    assert first.closed.wait(5)
    assert loudspeaker.watch() == ""
    assert loudspeaker.watch() == "the sound card is back: the voice is heard again"
    assert (loudspeaker.player, loudspeaker.silent, loudspeaker.lost) == (second, "", False)
    assert loudspeaker.watch() == ""


def test_a_sentence_is_played_from_its_beginning_on_the_card_that_takes_the_place_of_a_lost_one():
    second = Card()
    loudspeaker = Loudspeaker(Card(sounds=0), opener=plugged(second))
    assert loudspeaker.play(sound, never) is True
    assert (second.left, loudspeaker.player, loudspeaker.silent) == (8, second, "")


@pytest.mark.parametrize("found", [(None,), (0, None), (0, 0)], ids=str)
def test_a_sentence_that_no_card_plays_to_its_end_is_not_called_played(found):
    loudspeaker = Loudspeaker(Card(sounds=0), opener=plugged(*(None if left is None else Card(left) for left in found)))
    assert loudspeaker.play(sound, never) is None
    assert (loudspeaker.player, loudspeaker.silent, loudspeaker.lost) == (None, GONE, True)


def test_where_none_can_be_opened_the_rest_is_not_played_and_nothing_is_looked_for():
    loudspeaker = Loudspeaker(Card(sounds=0))
    assert loudspeaker.play(sound, never) is None
    assert (loudspeaker.player, loudspeaker.silent, loudspeaker.lost) == (None, GONE, False)


def test_a_card_that_is_found_and_does_not_start_is_looked_for_again():
    broken, whole = Card(), Card()
    broken.gone = True
    loudspeaker = Loudspeaker(Card(sounds=0), opener=plugged(broken, whole))
    assert loudspeaker.play(sound, never) is None
    assert loudspeaker.watch() == "the sound card is back: the voice is heard again"
    assert loudspeaker.player is whole


def test_a_card_that_goes_again_and_again_is_looked_for_all_the_same():
    """Three in one sentence: what comes next must not count as heard, and the fourth card is found."""
    whole = Card()
    loudspeaker = Loudspeaker(Card(sounds=0), opener=plugged(Card(sounds=0), Card(sounds=0), whole))
    assert loudspeaker.play(sound, never) is None
    assert loudspeaker.lost
    assert loudspeaker.watch() == "the sound card is back: the voice is heard again"
    assert (loudspeaker.player, loudspeaker.lost) == (whole, False)


def test_without_a_card_from_the_beginning_none_is_looked_for():
    loudspeaker = Loudspeaker(None, "no sound card was found", plugged(Card()))
    assert (loudspeaker.watch(), loudspeaker.player, loudspeaker.lost) == ("", None, False)
    assert (loudspeaker.silent, loudspeaker.moves, loudspeaker.wavers) == ("no sound card was found", 0, False)
    assert loudspeaker.played(0.0, 10) is None
