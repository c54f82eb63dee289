"""Changes that are offered: only those with which the file could still be read."""

from dataclasses import replace

from geom.findings import KeyChange
from layouts.cures import Cure
from layouts.file.offers import can_be_read, keep_readable, offer_changes
from layouts.file.read import read_panel
from layouts.panels.catalogue import demo_path

NEW = read_panel(demo_path("new"))
THICKER = KeyChange(("make", "body"), "24 mm")
THINNER = KeyChange(("make", "body"), "9 mm")


def test_what_the_reader_refuses_is_not_offered():
    assert can_be_read(NEW, (THICKER,))
    assert keep_readable(NEW, THICKER) == (THICKER,)
    # Thinner than the tank is deep; no such key; no length; an entry far behind the end of its list.
    misfits = (("make", "colour"), "red"), (("make", "cover"), "thick"), (("part", 9, "restrictor"), "4 mm")
    for change in (THINNER, *(KeyChange(*one) for one in misfits)):
        assert not can_be_read(NEW, (change,))
        assert keep_readable(NEW, THICKER, change) == ()


def test_the_first_way_that_can_be_read_is_offered():
    ways = (
        Cure("wait"),
        Cure("thinner", (THINNER,)),
        Cure("thicker", (THICKER,)),
        Cure("same", (THICKER,) * 2),
    )
    assert offer_changes(NEW, *ways) == (THICKER,)
    assert offer_changes(NEW, *ways[:2]) == ()


def test_the_document_of_a_panel_stays_as_it_is():
    before = repr(NEW.document)
    can_be_read(NEW, (KeyChange(("tank", "fill"), None), KeyChange(("loop", "order"), ["tank"])))
    assert repr(NEW.document) == before


def test_a_panel_from_no_file_has_nothing_to_change():
    assert keep_readable(replace(NEW, document={}), THICKER) == ()


def test_what_changes_nothing_is_not_offered():
    same = KeyChange(("channel", "width"), NEW.document["channel"]["width"])
    assert not can_be_read(NEW, (same,))
    assert offer_changes(NEW, Cure("as it is", (same,)), Cure("thicker", (THICKER,))) == (THICKER,)
