"""Whatever pages wish, in whatever order: an answer in words, and never a mistake of ours."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from sample_serving import DEMO, FakeWorkers

from exports.page.serving.file_state import is_panel
from exports.page.serving.session import Session

things = st.sampled_from(
    [
        "port:fill",
        "port:diode block inlet",
        "tank",
        "pump",
        "clear:0",
        "clear:7",
        "channel:x",
        "channel:",
        "x",
        ":",
    ]
)
lengths = st.sampled_from([0, 5, 35, 60.5, 100, -5, 1e9])
points = st.tuples(lengths, lengths).map(list)
boxes = st.tuples(lengths, lengths, lengths, lengths).map(list)
keys = st.sampled_from(["panel", "name", "part", 0, 9, "heat", "tank", "at", "none", ""])
paths = st.lists(keys, min_size=1, max_size=4)
values = st.sampled_from([None, "5 mm", "", 7, True, [], ["1 mm", "2 mm"], {"a": {"b": 1}}, "\x00", "é\n"])
gestures = st.one_of(
    st.builds(lambda a, b: {"move": a, "to": b}, things, points),
    st.builds(lambda b: {"turn": "pump", "to": b}, lengths),
    st.builds(lambda a, b: {"box": a, "to": b}, things, boxes),
    st.builds(lambda b: {"size": "tank", "to": b}, points),
    st.builds(lambda key, a: {key: a}, st.sampled_from(["free", "pin", "keep", "let", "remove"]), things),
    st.builds(lambda a, b: {"width": a, "to": b}, things, lengths | st.none()),
    st.builds(lambda b, n: {"add": "clear", "box": b, "name": n}, boxes, st.text(min_size=1, max_size=9)),
    st.builds(lambda p, v: {"changes": [{"path": p, "value": v}]}, paths, values),
)
small = st.integers(0, 6)
edits = st.lists(gestures, min_size=1, max_size=3)
wishes = st.one_of(
    st.builds(lambda n, r, e: {"do": "draft", "number": n, "revision": r, "edits": e}, small, small, edits),
    st.builds(
        lambda n, r, e: {"do": "edit", "number": n, "revision": r, "edits": e, "said": ""},
        small,
        small,
        edits,
    ),
    st.builds(
        lambda n, r, t: {"do": "text", "number": n, "revision": r, "text": t},
        small,
        small,
        st.sampled_from([DEMO, DEMO + "# x\n", DEMO.replace("laser", "lazer")]),
    ),
    st.builds(
        lambda way, n, r: {"do": way, "number": n, "revision": r},
        st.sampled_from(["undo", "redo"]),
        small,
        small,
    ),
    st.builds(
        lambda n, r, take: {"do": "settle", "number": 7, "revision": r, "conflict": n, "take": take},
        small,
        small,
        st.sampled_from(["page", "file"]),
    ),
    st.builds(lambda n, thing: {"do": "places", "number": n, "thing": thing}, small, things),
    st.sampled_from(
        [{"do": "make"}, {"do": "stop making"}, {"do": "start", "demo": "x"}, {"do": "start", "form": {}}]
    ),
    st.sampled_from([{"do": "start", "form": {"name": 5}}, {"do": None}, {}]),
)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.booleans(), wishes), max_size=8))
def test_every_wish_is_answered_in_words(tmp_path_factory, wished: list[tuple[bool, dict[str, Any]]]):
    folder: Path = tmp_path_factory.mktemp("any")
    path = folder / "panel.toml"
    path.write_text(DEMO, encoding="utf-8")
    said: list[str] = []

    async def talk() -> None:
        session = Session(path, folder, FakeWorkers, said.append)
        await session.open()
        tabs = [session.clients.enter(), session.clients.enter()]
        for tab in tabs:
            assert tab is not None
            session.welcome(tab)
        for first, wish in wished:
            tab = tabs[0 if first else 1]
            assert tab is not None
            before = tab.waiting.qsize()
            await session.hear(tab, json.dumps(wish))
            if wish.get("do") in ("edit", "text", "settle", "undo", "redo", None) or "form" in wish:
                assert tab.waiting.qsize() > before
            assert session.file.state.text == path.read_text(encoding="utf-8")
            assert is_panel(session.file.state.text)
        await session.close()

    asyncio.run(talk())
    assert [line for line in said if "not settled" not in line] == []
