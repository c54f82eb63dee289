"""Every kind of bad panel file: the right line, what was read, and what to write instead."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from geom.errors import PanelFileError
from layouts.panel import Panel
from layouts.panels.catalogue import demo_path
from layouts.read import MOST_BYTES, parse_panel, read_panel

GOOD = """\
[panel]
name = "bench"
size = ["240 mm", "200 mm"]
pitch = "5 mm"

[make]
method = "milled"
closing = "cord"
material = "PMMA cast"
body = "20 mm"
cover = "8 mm"
cord = "2 mm"
screw = "M4"
cutter = "6 mm"

[channel]
width = "8 mm"
depth = "9 mm"
bend_radius = "14 mm"

[coolant]
fluid = "water"
temperature = "35 °C"

[tank]
kind = "pocket"
size = ["80 mm", "40 mm"]
depth = "14 mm"
within = ["110 mm", "140 mm", "225 mm", "185 mm"]
fill = { on = "top" }

[pump]
on = "front"
within = ["120 mm", "25 mm", "215 mm", "110 mm"]
inlet_bore = "10 mm"
outlet_bore = "9.5 mm"
outlet_offset = ["20 mm", "0 mm"]
turns = ["0 deg", "180 deg"]
seat = { diameter = "60 mm", depth = "1.5 mm" }
screws = { size = "M5", circle = "70 mm", count = 4 }
curve = [
    ["0 L/min", "3.9 m"],
    ["4 L/min", "3.3 m"],
]

[[part]]
name = "left"
heat = "120 W"
resistance = [["2 L/min", "5.5 kPa"], ["4 L/min", "20 kPa"]]
inlet = { on = "front", at = ["40 mm", "50 mm"] }
outlet = { on = "front", within = ["30 mm", "80 mm", "60 mm", "110 mm"] }

[[part]]
name = "right"
resistance = [["4 L/min", "6 kPa"]]
inlet = { on = "left", between = ["120 mm", "150 mm"] }
outlet = { on = "top", at = "60 mm" }

[loop]
order = ["tank", "pump", ["left", "right"], "tank"]

[drain]
port = { on = "bottom", between = ["100 mm", "220 mm"] }

[[keep_clear]]
name = "slot"
box = ["0 mm", "0 mm", "25 mm", "20 mm"]

[rules]
least_wall = "2.1 mm"
accept = { "make.reach" = "long cutter" }
"""


def problems_of(data: str | bytes) -> tuple[str, ...]:
    data = data.encode() if isinstance(data, str) else data
    with pytest.raises(PanelFileError) as caught:
        parse_panel(data, "bench.toml")
    return caught.value.problems


def change(old: str, new: str) -> str:
    assert GOOD.count(old) == 1, old
    return GOOD.replace(old, new)


def line_of(text: str, piece: str) -> int:
    assert text.count(piece) == 1, piece
    return text[: text.index(piece)].count("\n") + 1


def test_the_base_is_good() -> None:
    assert parse_panel(GOOD.encode(), "bench.toml").name == "bench"


SHAPE = {
    # name: (old, new, text on the line told, key told, pieces of the message)
    "bare length": ('"8 mm"\ndepth', "8\ndepth", "width = 8", "channel.width", ["8 has no unit", "'8 mm'"]),
    "bare text": (
        '"8 mm"\ndepth',
        '"8"\ndepth',
        'width = "8"',
        "channel.width",
        ["'8' has no unit; write e.g. '8 mm' (units: mm, cm, m, in)"],
    ),
    "wrong unit": ('"35 °C"', '"35 mm"', '"35 mm"', "coolant.temperature", ["35 mm", "°C, C, K, °F"]),
    "negative": (
        'width = "8 mm"',
        'width = "-8 mm"',
        "-8 mm",
        "channel.width",
        ["-8 mm", "at least 0.001 mm"],
    ),
    "zero": ('body = "20 mm"', 'body = "0 mm"', "0 mm", "make.body", ["0 mm", "at least"]),
    "infinite": ('body = "20 mm"', 'body = "1e400 mm"', "1e400", "make.body", ["1e400", "too large"]),
    "over 2 m": ('"240 mm"', '"2.4 m"', "2.4 m", "panel.size.1", ["2.4 m", "at most 2000 mm"]),
    "true": ('"9 mm"\n', "true\n", "depth = true", "channel.depth", ["true is not a length", "'8 mm'"]),
    "TOML nan": ('"9 mm"\n', "nan\n", "depth = nan", "channel.depth", ["nan has no unit"]),
    "date": ('"9 mm"\n', "2020-01-01\n", "2020-01-01", "channel.depth", ["2020-01-01 is not a length"]),
    "huge hex": ('"9 mm"\n', f"0x{'f' * 5000}\n", "0xf", "channel.depth", ["20000 bits has no unit"]),
    "unknown key": (
        "[channel]\n",
        '[channel]\nwdith = "8 mm"\n',
        "wdith",
        "channel.wdith",
        ["unknown key", "did you mean 'width'", "width, depth, bend_radius, layers"],
    ),
    "unknown table": (
        "[drain]",
        "[extra]\n[drain]",
        "[extra]",
        "extra",
        ["unknown key 'extra'", "panel, make, channel"],
    ),
    "unknown key in a port": (
        '"left", between',
        '"left", betwen = 1, between',
        "betwen",
        "part.2.inlet.betwen",
        ["did you mean 'between'", "on, thread, at, within, between"],
    ),
    "missing key": (
        'bend_radius = "14 mm"\n',
        "",
        "[channel]",
        "channel.bend_radius",
        ["missing", '"14 mm"', "e.g."],
    ),
    "missing table": ("[channel]", "[rules.channel]", "[panel]", "channel", ["missing", "width, depth"]),
    "missing name of second part": ('name = "right"\n', "", '"6 kPa"', "part.2.name", ["missing"]),
    "no such face": (
        '{ on = "top" }',
        '{ on = "roof" }',
        "roof",
        "tank.fill.on",
        ["'roof'", "'front', 'back'"],
    ),
    "pump on an edge": (
        '[pump]\non = "front"',
        '[pump]\non = "left"',
        'on = "left"\nw',
        "pump.on",
        ["'left'", "'front' or 'back'"],
    ),
    "no such method": ('"milled"', '"cast"', "cast", "make.method", ["'cast'", "'milled' or 'printed'"]),
    "no such closing": ('"cord"\nm', '"glue"\nm', "glue", "make.closing", ["'glue'", "'cord', 'bonded'"]),
    "no such fluid": ('"water"', '"oil"', "oil", "coolant.fluid", ["'oil'", "'water'"]),
    "one size": (
        '["240 mm", "200 mm"]',
        '["240 mm"]',
        '["240 mm"]',
        "panel.size",
        ["1 entries", "at least 2"],
    ),
    "three corners": (
        '"25 mm", "20 mm"]',
        '"25 mm"]',
        "box",
        "keep_clear.1.box",
        ["3 entries", "at least 4"],
    ),
    "text for a list": (
        '["240 mm", "200 mm"]',
        '"240 mm"',
        'size = "2',
        "panel.size",
        ["'240 mm'", "a list"],
    ),
    "list for a text": ('name = "bench"', "name = []", "name = []", "panel.name", ["a list of 0", "text"]),
    "table for a text": ('name = "bench"', "name = {}", "name = {}", "panel.name", ["a table", "text"]),
    "text for a port": (
        '{ on = "top" }',
        '"top"',
        'fill = "top"',
        "tank.fill",
        ["'top'", "a table", 'on = "front"'],
    ),
    "count of 2.5": ("count = 4", "count = 2.5", "2.5 }", "pump.screws.count", ["2.5", "whole number"]),
    "one screw": ("count = 4", "count = 1", "count = 1", "pump.screws.count", ["read 1", "at least 2"]),
    "three layers": (
        '"14 mm"\n\n[cool',
        '"14 mm"\nlayers = 3\n\n[cool',
        "layers",
        "channel.layers",
        ["3", "at most 2"],
    ),
    "up of two": (
        '"5 mm"\n\n[make',
        '"5 mm"\nup = [0, 1]\n\n[make',
        "up",
        "panel.up",
        ["2 entries", "at least 3"],
    ),
    "up of texts": (
        '"5 mm"\n\n[make',
        '"5 mm"\nup = [0, "1", 0]\n\n[make',
        "up",
        "panel.up.2",
        ["'1'", "a number"],
    ),
    "up not finite": (
        '"5 mm"\n\n[make',
        '"5 mm"\nup = [0, inf, 0]\n\n[make',
        "up",
        "panel.up.2",
        ["inf", "finite"],
    ),
    "point of three": (
        '["4 L/min", "3.3 m"]',
        '["4 L/min", "3.3 m", "1 m"]',
        "3.3 m",
        "pump.curve.2",
        ["3 entries"],
    ),
    "point of one": ('["4 L/min", "3.3 m"]', '["4 L/min"]', '["4 L/min"]', "pump.curve.2.2", ["missing"]),
    "head in kPa": ('"3.3 m"', '"33 kPa"', "33 kPa", "pump.curve.2.2", ["33 kPa", "m, cm, mm, ft"]),
    "curve of one point": (
        '    ["4 L/min", "3.3 m"],\n',
        "",
        "curve",
        "pump.curve",
        ["1 entries", "at least 2"],
    ),
    "negative head": ('"3.3 m"', '"-1 m"', "-1 m", "pump.curve.2.2", ["-1 m", "at least 0 m"]),
    "no points": ('[["4 L/min", "6 kPa"]]', "[]", "resistance = []", "part.2.resistance", ["0 entries"]),
    "level over full": (
        "fill = {",
        'level = "120 %"\nfill = {',
        "120 %",
        "tank.level",
        ["120 %", "at most 1"],
    ),
    "nested group": (
        '["left", "right"]',
        '["left", ["right"]]',
        "order",
        "loop.order.3.2",
        ["do not nest", "part names"],
    ),
    "number in the loop": ('["left", "right"]', "7", "order", "loop.order.3", ["7", "text in quotes"]),
    "empty name": ('name = "bench"', 'name = ""', 'name = ""', "panel.name", ["'' is not a name", "1 to 60"]),
    "name of two lines": ('"bench"', '"be\\nnch"', "nch", "panel.name", ["printable"]),
    "empty reason": ('"long cutter"', '" "', "accept", 'rules.accept."make.reach"', ["reason"]),
    "reason of no text": ('"long cutter"', "1", "accept", 'rules.accept."make.reach"', ["1", "text"]),
}

MEANING = {
    "corner radius": (
        'name = "bench"',
        'name = "bench"\ncorner_radius = "120 mm"',
        "120 mm\"\ns",
        "panel.corner_radius",
        ["120 mm", "at most 100 mm"],
    ),
    "too many nodes": ('pitch = "5 mm"', 'pitch = "0.3 mm"', "0.3 mm", "panel.pitch", ["534467", "400000", "coarser"]),
    "tiny pitch": ('pitch = "5 mm"', 'pitch = "0.001 mm"', "0.001 mm", "panel.pitch", ["grid nodes", "400000"]),
    "coarse pitch": ('pitch = "5 mm"', 'pitch = "120 mm"', "120 mm\"\n\n[make", "panel.pitch", ["120 mm", "at most 100 mm"]),
    "up nowhere": ('"5 mm"\n\n[make', '"5 mm"\nup = [0, 0, 0]\n\n[make', "up", "panel.up", ["[0, 0, 0]", "[0, 1, 0]"]),
    "cord missing": ('cord = "2 mm"\n', "", "[make]", "make.cord", ["missing", 'cord = "2 mm"']),
    "screw missing": ('screw = "M4"\n', "", "[make]", "make.screw", ["missing", 'screw = "M4"']),
    "cover missing": ('cover = "8 mm"\n', "", "[make]", "make.cover", ["missing", 'cover = "8 mm"']),
    "cutter missing": ('cutter = "6 mm"\n', "", "[make]", "make.cutter", ["missing", 'cutter = "6 mm"']),
    "cutter too wide": ('cutter = "6 mm"', 'cutter = "8.5 mm"', "8.5 mm", "make.cutter", ["8.5 mm", "at most 8 mm"]),
    "cord in a bonded panel": ('"cord"\nm', '"bonded"\nm', 'cord = "2 mm"', "make.cord", ["2", "bonded", "remove"]),
    "cover on one piece": ('"cord"\nm', '"one-piece"\nm', 'cover = "8 mm"', "make.cover", ["8", "one-piece", "remove"]),
    "milled one piece": ('"cord"\nm', '"one-piece"\nm', "milled", "make.method", ['"milled"', '"printed"']),
    "cutter for a print": ('"milled"', '"printed"', 'cutter = "6 mm"', "make.cutter", ["6 mm", "no cutter"]),
    "no such material": ("PMMA cast", "cheese", "cheese", "make.material", ["cheese", "PMMA cast, PMMA extruded"]),
    "no such cord": ('cord = "2 mm"', 'cord = "2.2 mm"', "2.2 mm", "make.cord", ["2.2 mm", "1.78 mm"]),
    "no such screw": ('"M4"', '"M7"', "M7", "make.screw", ['"M7"', "M4, M5"]),
    "no such pump screw": ('"M5"', '"M7"', "M7", "pump.screws.size", ['"M7"', "M4, M5"]),
    "no such thread": (
        '{ on = "top" }',
        '{ on = "top", thread = "R1" }',
        "R1",
        "tank.fill.thread",
        ['"R1"', "G1/8, G1/4"],
    ),
    "channel too wide": ('width = "8 mm"', 'width = "90 mm"', "90 mm\"\nd", "channel.width", ["90 mm", "leaves 1", "narrower"]),
    "no floor": ('depth = "9 mm"', 'depth = "19 mm"', "19 mm", "channel.depth", ["19 mm", "below 19 mm", "20 mm"]),
    "bend too tight": ('"14 mm"\n\n[cool', '"9 mm"\n\n[cool', "bend_radius", "channel.bend_radius", ["9 mm", "at least 9.9 mm"]),
    "glycol without share": ('"water"', '"ethylene glycol"', "[coolant]", "coolant.mass_fraction", ["missing", '"30 %"']),
    "water with share": (
        '"water"',
        '"water"\nmass_fraction = "30 %"',
        "30 %",
        "coolant.mass_fraction",
        ["0.3", "remove"],
    ),
    "too much glycol": (
        '"water"',
        '"propylene glycol"\nmass_fraction = "70 %"',
        "70 %",
        "coolant.mass_fraction",
        ["70 %", "60 %"],
    ),
    "boiling": ('"35 °C"', '"99 °C"', "99 °C", "coolant.temperature", ["99 °C", "1 to 95 °C"]),
    "ice": ('"35 °C"', '"30 °F"', "30 °F", "coolant.temperature", ["-1.111 °C", "1 to 95 °C"]),
    "tank without size": ('size = ["80 mm", "40 mm"]\n', "", "[tank]", "tank.size", ["missing", "pocket"]),
    "tank without depth": ('depth = "14 mm"\n', "", "[tank]", "tank.depth", ["missing", '"14 mm"']),
    "tank without place": (
        'within = ["110 mm", "140 mm", "225 mm", "185 mm"]\n',
        "",
        "[tank]",
        "tank",
        ["no place", "within", "at"],
    ),
    "tank with two places": (
        "fill = {",
        'at = ["120 mm", "140 mm"]\nfill = {',
        "[tank]",
        "tank",
        ["both within and at", "keep one"],
    ),
    "tank through the body": ('depth = "14 mm"', 'depth = "19 mm"', "19 mm", "tank.depth", ["19 mm", "below 19 mm"]),
    "tank larger than its box": ('"80 mm", "40 mm"', '"80 mm", "50 mm"', "within = [\"110", "tank.within", ["115 x 45 mm", "80 x 50 mm"]),
    "tank reaching out": (
        'within = ["110 mm", "140 mm", "225 mm", "185 mm"]',
        'at = ["170 mm", "140 mm"]',
        "170 mm",
        "tank.at",
        ["(170, 140) mm", "240 x 200 mm"],
    ),
    "tank beside the pump": (
        'within = ["110 mm", "140 mm", "225 mm", "185 mm"]',
        'within = ["20 mm", "140 mm", "110 mm", "185 mm"]',
        '"20 mm", "140 mm"',
        "tank.within",
        ["cannot reach above the pump", "x 20 to 110, y 140 to 185", "x 150 to 185, y 55 to 80"],
    ),
    "tank below the pump": (
        'within = ["110 mm", "140 mm", "225 mm", "185 mm"]',
        'at = ["130 mm", "20 mm"]',
        '"130 mm", "20 mm"',
        "tank.at",
        ["cannot reach above the pump"],
    ),
    "volume of a pocket": ("fill = {", 'volume = "1 L"\nfill = {', "1 L", "tank.volume", ["pocket", "remove"]),
    "separate with a pocket's keys": ('"pocket"', '"separate"', '"80 mm", "40 mm"', "tank.size", ["separate", "remove"]),
    "separate without ports": ('"pocket"', '"separate"', "[tank]", "tank.outlet", ["missing", "between"]),
    "pump without place": ('within = ["120 mm", "25 mm", "215 mm", "110 mm"]\n', "", "[pump]", "pump", ["no place"]),
    "pump off the grid": (
        'within = ["120 mm", "25 mm", "215 mm", "110 mm"]',
        'at = ["162 mm", "60 mm"]',
        "162 mm",
        "pump.at",
        ["x = 162 mm", "160 mm and 165 mm"],
    ),
    "pump outside": (
        'within = ["120 mm", "25 mm", "215 mm", "110 mm"]',
        'at = ["250 mm", "60 mm"]',
        '"250 mm", "60',
        "pump.at",
        ["(250, 60) mm", "240 x 200 mm"],
    ),
    "offset off the grid": ('["20 mm", "0 mm"]', '["-21 mm", "0 mm"]', "-21 mm", "pump.outlet_offset", ["-25 mm and -20 mm"]),
    "no offset": ('["20 mm", "0 mm"]', '["0 mm", "0 mm"]', "outlet_offset", "pump.outlet_offset", ["on the inlet"]),
    "seat too large": ('diameter = "60 mm"', 'diameter = "90 mm"', "within = [\"120", "pump.within", ["95 x 85 mm", "90 mm"]),
    "no node for the pump": (
        '["120 mm", "25 mm", "215 mm", "110 mm"]',
        '["131 mm", "25 mm", "194 mm", "110 mm"]',
        "131 mm",
        "pump.within",
        ["no grid node", "5 mm"],
    ),
    "eighth turn": ('"180 deg"', '"45 deg"', "45 deg", "pump.turns.2", ["45 deg", "0, 90, 180 or 270 deg"]),
    "turn twice": ('"180 deg"', '"360 deg"', "360 deg", "pump.turns.2", ["360 deg", "twice"]),
    "deep seat": ('depth = "1.5 mm"', 'depth = "19.5 mm"', "19.5 mm", "pump.seat.depth", ["19.5 mm", "20 mm"]),
    "curve starts late": ('"0 L/min"', '"1 L/min"', "1 L/min", "pump.curve.1", ["1 L/min", "'0 L/min'"]),
    "no head": ('"3.9 m"', '"0 m"', '"0 m"', "pump.curve.1", ["0 m", "above 0 m"]),
    "head rises": ('"3.3 m"', '"4 m"', '"4 m"', "pump.curve.2", ["3.9 m to 4 m", "may not rise"]),
    "flow stands": ('["4 L/min", "3.3 m"]', '["0 L/min", "3.3 m"]', "3.3 m", "pump.curve.2", ["0 L/min", "increase"]),
    "no curve": (
        'curve = [\n    ["0 L/min", "3.9 m"],\n    ["4 L/min", "3.3 m"],\n]\n',
        "",
        "[pump]",
        "pump.curve",
        ["missing", "[[pump.choice]]"],
    ),
    "choice's curve": (
        "[[part]]\nname = \"left\"",
        '[[pump.choice]]\nname = "a"\ncurve = [["0 L/min", "1 m"], ["1 L/min", "2 m"]]\n[[part]]\nname = "left"',
        '"2 m"',
        "pump.choice.1.curve.2",
        ["1 m to 2 m"],
    ),
    "choice's speeds": (
        "[[part]]\nname = \"left\"",
        '[[pump.choice]]\nname = "a"\ncurve = [["0 L/min", "1 m"], ["1 L/min", "0 m"]]\n'
        'speed = ["9 rpm", "8 rpm"]\n[[part]]\nname = "left"',
        "9 rpm",
        "pump.choice.1.speed",
        ["9 to 8 rpm"],
    ),
    "choice twice": (
        "[[part]]\nname = \"left\"",
        '[[pump.choice]]\nname = "a"\ncurve = [["0 L/min", "1 m"], ["1 L/min", "0 m"]]\n'
        '[[pump.choice]]\ncurve = [["0 L/min", "1 m"], ["1 L/min", "0 m"]]\n'
        'name = "a" # second\n[[part]]\nname = "left"',
        "# second",
        "pump.choice.2.name",
        ['"a" stands twice'],
    ),
    "drop falls": ('"20 kPa"', '"5 kPa"', "5 kPa\"]]", "part.1.resistance.2", ["5000 Pa after 5500 Pa", "increase"]),
    "flow of a part falls": ('"4 L/min", "20 kPa"', '"1 L/min", "20 kPa"', "20 kPa", "part.1.resistance.2", ["1 L/min after 2 L/min"]),
    "resistance at no flow": ('"2 L/min", "5.5 kPa"', '"0 L/min", "5.5 kPa"', "5.5", "part.1.resistance.1", ["positive"]),
    "part named tank": ('name = "left"', 'name = "tank"', 'name = "tank"', "part.1.name", ['"tank"', "choose another"]),
    "part named pump": ('name = "left"', 'name = "pump"', 'name = "pump"', "part.1.name", ['"pump"', "choose another"]),
    "part named drain": ('name = "left"', 'name = "drain"', 'name = "drain"', "part.1.name", ['"drain"', "another"]),
    "two parts of one name": ('name = "right"', 'name = "left" # 2', "# 2", "part.2.name", ['"left"', "part 1"]),
    "loop starts elsewhere": ('["tank", "pump"', '["pump"', "order", "loop.order", ["start and end with 'tank'"]),
    "open loop": (', "tank"]', "]", "order", "loop.order", ["[tank, pump, ", "the loop closes"]),
    "empty loop": ('["tank", "pump", ["left", "right"], "tank"]', "[]", "order", "loop.order", ["start and end"]),
    "no pump": ('"tank", "pump"', '"tank"', "order", "loop.order", ["0 times", "directly after"]),
    "pump last": (
        '"pump", ["left", "right"]',
        '["left", "right"], "pump"',
        "order",
        "loop.order",
        ["directly after the first 'tank'"],
    ),
    "two pumps": (', "tank"]', ',\n"pump", "tank"]', '"pump", "tank"', "loop.order.4", ["2 times", "once"]),
    "tank inside": (', "tank"]', ',\n"tank", # in\n"tank"]', "# in", "loop.order.4", ["only its start and its end"]),
    "part twice": (', "tank"]', ',\n"left", "tank"]', '"left", "tank"', "loop.order.4", ["'left' stands twice"]),
    "no such part": (', "tank"]', ',\n"middle", "tank"]', "middle", "loop.order.4", ["'middle'", "left, right"]),
    "part unused": ('["left", "right"]', '"left"', 'name = "right"', "part.2.name", ["'right'", "loop.order"]),
    "group of one": ('["left", "right"]', '["left"],\n"right"', "order", "loop.order.3", ["group of 1", "two or more"]),
    "port off the grid": ('"40 mm", "50 mm"]', '"42 mm", "50 mm"]', "42 mm", "part.1.inlet.at", ["x = 42 mm", "40 mm and 45 mm"]),
    "edge port off the grid": ('at = "60 mm"', 'at = "61 mm"', "61 mm", "part.2.outlet.at", ["x = 61 mm", "60 mm and 65 mm"]),
    "port outside": ('"40 mm", "50 mm"]', '"40 mm", "250 mm"]', "250 mm", "part.1.inlet.at", ["(40, 250) mm", "240 x 200 mm"]),
    "two ports at one place": (
        'within = ["30 mm", "80 mm", "60 mm", "110 mm"]',
        'at = ["40 mm", "50 mm"], thread = "G1/8"',
        "G1/8",
        "part.1.outlet.at",
        ['"left outlet" and "left inlet"', "(40, 50) mm", "move one"],
    ),
    "port box upside down": ('"60 mm", "110 mm"]', '"20 mm", "110 mm"]', '"80 mm", "20', "part.1.outlet.within", ["x 30 to 20", "x0 < x1"]),
    "port box outside": ('"60 mm", "110 mm"]', '"60 mm", "210 mm"]', "210 mm", "part.1.outlet.within", ["y 80 to 210", "240 x 200 mm"]),
    "port box without node": (
        '["30 mm", "80 mm", "60 mm", "110 mm"]',
        '["31 mm", "80 mm", "34 mm", "110 mm"]',
        "31 mm",
        "part.1.outlet.within",
        ["no grid node", "left outlet", "5 mm"],
    ),
    "span upside down": ('"120 mm", "150 mm"]', '"150 mm", "120 mm"]', '"150 mm", "120', "part.2.inlet.between", ["150 to 120 mm", "smaller"]),
    "span outside": ('"120 mm", "150 mm"]', '"120 mm", "201 mm"]', "201 mm", "part.2.inlet.between", ["120 to 201", "0 to 200 mm"]),
    "span without node": ('"120 mm", "150 mm"]', '"121 mm", "124 mm"]', "121 mm", "part.2.inlet.between", ["121 to 124", "5 mm"]),
    "port without place": ('{ on = "left", between = ["120 mm", "150 mm"] }', '{ on = "left" }', '{ on = "left" }', "part.2.inlet", ["no place", "between"]),
    "two places": (
        '"left", between',
        '"left", at = "120 mm", between',
        'at = "120 mm"',
        "part.2.inlet",
        ["both at and between"],
    ),
    "between on a face": (
        'within = ["30 mm", "80 mm", "60 mm", "110 mm"]',
        'between = ["30 mm", "80 mm"]',
        '["30 mm", "80 mm"]',
        "part.1.outlet.between",
        ["between", "front", "within ="],
    ),
    "within on an edge": (
        'between = ["120 mm", "150 mm"]',
        'within = ["0 mm", "80 mm", "5 mm", "110 mm"]',
        '"5 mm", "110 mm"',
        "part.2.inlet.within",
        ["within", "left", "between ="],
    ),
    "one length on a face": ('["40 mm", "50 mm"]', '"40 mm"', 'at = "40 mm"', "part.1.inlet.at", ["one length", "front"]),
    "two lengths on an edge": ('at = "60 mm"', 'at = ["60 mm", "0 mm"]', '["60 mm", "0 mm"]', "part.2.outlet.at", ["two lengths", "top"]),
    "slot outside": ('"25 mm", "20 mm"]', '"25 mm", "220 mm"]', "box", "keep_clear.1.box", ["y 0 to 220", "stay inside"]),
    "slot upside down": ('"25 mm", "20 mm"]', '"25 mm", "-20 mm"]', "box", "keep_clear.1.box", ["y 0 to -20", "y0 < y1"]),
    "bad code": ('"make.reach"', '"Reach!"', "Reach!", 'rules.accept."Reach!"', ["'Reach!'", "make.reach"]),
}  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "piece", "key", "told"), (SHAPE | MEANING).values(), ids=(SHAPE | MEANING).keys()
)
def test_bad_value(old: str, new: str, piece: str, key: str, told: list[str]) -> None:
    text = change(old, new)
    line = line_of(text, piece)
    start = f"bench.toml:{line}: {key}: "
    found = [problem for problem in problems_of(text) if problem.startswith(start)]
    assert len(found) == 1, problems_of(text)
    for piece_told in told:
        assert piece_told in found[0]
    assert "\n" not in found[0]


def test_all_errors_of_the_shape_at_once() -> None:
    text = GOOD
    for old, new in (
        ('"5 mm"\n\n[make', "5\n\n[make"),
        ('"milled"', '"cast"'),
        ('bend_radius = "14 mm"\n', ""),
        ("[rules]\n", "[rules]\nextra = 1\n"),
        ('    ["4 L/min", "3.3 m"]', '    ["4 mm", 3.3]'),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    problems = problems_of(text)
    keys = [problem.split(": ")[1] for problem in problems]
    assert keys == [
        "panel.pitch",
        "make.method",
        "channel.bend_radius",
        "pump.curve.2.1",
        "pump.curve.2.2",
        "rules.extra",
    ]
    lines = [int(problem.split(":")[1]) for problem in problems]
    assert lines == sorted(lines)
    assert lines[3] == lines[4] == line_of(text, '["4 mm", 3.3]')


def test_all_contradictions_at_once() -> None:
    text = GOOD
    for old, new in (
        ("PMMA cast", "cheese"),
        ('depth = "9 mm"', 'depth = "30 mm"'),
        ('"35 °C"', '"200 °C"'),
        ('"180 deg"', '"45 deg"'),
        (', "tank"]', ', "ghost", "tank"]'),
        ('"25 mm", "20 mm"]', '"25 m", "20 mm"]'.replace("25 m", "1.9 m")),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    keys = [problem.split(": ")[1] for problem in problems_of(text)]
    assert keys == [
        "make.material",
        "channel.depth",
        "coolant.temperature",
        "pump.turns.2",
        "loop.order.4",
        "keep_clear.1.box",
    ]


def test_printed_and_bonded_have_their_own_least_bend() -> None:
    bonded = change('cord = "2 mm"\nscrew = "M4"\n', "").replace('closing = "cord"', 'closing = "bonded"')
    tight = bonded.replace('bend_radius = "14 mm"', 'bend_radius = "6.9 mm"')
    assert any("at least 7 mm" in problem for problem in problems_of(tight))
    parse_panel(tight.replace('"6.9 mm"', '"7 mm"').encode(), "bench.toml")
    printed = bonded.replace('"milled"', '"printed"').replace('cutter = "6 mm"\n', "")
    tight = printed.replace('bend_radius = "14 mm"', 'bend_radius = "4.4 mm"')
    assert any("at least 4.5 mm" in problem for problem in problems_of(tight))
    parse_panel(tight.replace('"4.4 mm"', '"4.5 mm"').encode(), "bench.toml")


def test_two_layers_are_read() -> None:
    text = change('bend_radius = "14 mm"', 'bend_radius = "14 mm"\nlayers = 2')
    assert parse_panel(text.encode(), "bench.toml").channel.layers == 2


@pytest.mark.parametrize("data", [b"", b"\n\n", b"# nothing\n", b"\xef\xbb\xbf"])
def test_empty_file(data: bytes) -> None:
    (problem,) = problems_of(data)
    assert problem.startswith("bench.toml:1: the file is empty")
    assert "rillplate new" in problem


def test_not_utf8() -> None:
    data = GOOD.replace("35 °C", "35 XC").encode().replace(b"X", b"\xb0")
    (problem,) = problems_of(data)
    assert problem.startswith(f"bench.toml:{line_of(GOOD, '35 °C')}: byte 0xb0 is not UTF-8")
    assert "save the file as UTF-8" in problem


@pytest.mark.parametrize(
    ("old", "new", "piece", "column"),
    [
        ('depth = "9 mm"', "depth = 9 mm", "9 mm", 11),
        ('name = "bench"', "name bench", "name bench", 6),
        ("[coolant]", "[coolant", "[coolant", 9),
        ('heat = "120 W"', 'heat = "120 W"\nheat = "1 W"', '"1 W"', 13),
    ],
)
def test_not_toml(old: str, new: str, piece: str, column: int) -> None:
    text = change(old, new)
    (problem,) = problems_of(text)
    assert problem.startswith(f"bench.toml:{line_of(text, piece)}: column {column}: not TOML: ")
    assert "texts in quotes" in problem


def test_cut_off_file() -> None:
    (problem,) = problems_of(GOOD + "[")
    assert re.match(rf"bench\.toml:{GOOD.count(chr(10)) + 1}: not TOML: .* at the end of the file", problem)


@pytest.mark.parametrize("depth", [100, 300, 480, 500, 900, 1100, 5000, 100_000])
@pytest.mark.parametrize(
    ("opening", "inside", "closing"), [("[", "", "]"), ("{ a = ", "1", " }"), ("[ { a = ", "1", " } ]")]
)
def test_deep_nesting(depth: int, opening: str, inside: str, closing: str) -> None:
    problems = problems_of(GOOD + "deep = " + opening * depth + inside + closing * depth)
    assert len(problems) == 1


def test_too_many_digits() -> None:
    (problem,) = problems_of(GOOD + f"many = {'1' * 5000}\n")
    assert problem.startswith("bench.toml: not TOML: ")


def test_too_large_file(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_bytes(b"# " + b"x" * MOST_BYTES)
    with pytest.raises(PanelFileError) as caught:
        read_panel(path)
    assert caught.value.problems[0].startswith(f"{path}: {MOST_BYTES + 2} bytes")
    assert str(MOST_BYTES) in caught.value.problems[0]


def test_largest_file(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    data = GOOD.encode()
    path.write_bytes(data + b"#" * (MOST_BYTES - len(data)))
    assert read_panel(path).name == "bench"


def test_missing_file() -> None:
    with pytest.raises(PanelFileError, match=r"^nowhere/none\.toml: no such file; `rillplate new FILE`"):
        read_panel("nowhere/none.toml")


def test_directory(tmp_path: Path) -> None:
    with pytest.raises(PanelFileError, match=r"is a directory; name a panel file"):
        read_panel(tmp_path)


@pytest.mark.parametrize("name", ["a\0b", "x" * 5000])
def test_impossible_name(name: str) -> None:
    with pytest.raises(PanelFileError, match="cannot be read"):
        read_panel(name)


@pytest.mark.skipif(sys.platform == "win32", reason="no such device")
def test_endless_file() -> None:
    with pytest.raises(PanelFileError, match="bytes"):
        read_panel("/dev/zero")


DEMO = demo_path("workshop-render").read_text("utf-8")
PIECES = [
    '"',
    "'",
    "[",
    "]",
    "{",
    "}",
    "=",
    ",",
    ".",
    "#",
    "\n",
    " ",
    "-",
    "0",
    "9",
    "e",
    "\\",
    "\0",
    "é",
    "mm",
    "nan",
]
VALUES = [
    '"8 mm"',
    '"-1 mm"',
    '"0 mm"',
    '"1e300 mm"',
    "0",
    "nan",
    "true",
    "[]",
    "{}",
    '""',
    '"tank"',
    '"2 m"',
    '"x"',
]
VALUE = re.compile(r'"[^"\n]*"')
KEY = re.compile(r"^[a-z_]+(?= =)", re.MULTILINE)
places = st.floats(0, 1, exclude_max=True)


@st.composite
def mutated(draw: st.DrawFn) -> str:
    text = DEMO
    for _ in range(draw(st.integers(1, 4))):
        kind = draw(
            st.sampled_from(["delete", "insert", "replace", "drop line", "copy line", "swap", "value", "key"])
        )
        at = int(draw(places) * len(text))
        lines = text.split("\n")
        row = int(draw(places) * len(lines))
        if kind == "delete":
            text = text[:at] + text[at + draw(st.integers(1, 20)) :]
        elif kind == "insert":
            text = text[:at] + draw(st.sampled_from(PIECES)) + text[at:]
        elif kind == "replace":
            text = text[:at] + draw(st.sampled_from(PIECES)) + text[at + 1 :]
        elif kind == "drop line":
            text = "\n".join(lines[:row] + lines[row + 1 :])
        elif kind == "copy line":
            text = "\n".join(lines[:row] + [lines[int(draw(places) * len(lines))]] + lines[row:])
        elif kind == "swap":
            other = int(draw(places) * len(lines))
            lines[row], lines[other] = lines[other], lines[row]
            text = "\n".join(lines)
        else:
            matches = list((VALUE if kind == "value" else KEY).finditer(text))
            if matches:
                match = matches[int(draw(places) * len(matches))]
                words = VALUES + [m.group() for m in VALUE.finditer(DEMO)]
                if kind == "key":
                    words = ["name", "at", "within", "between", "size", "x", '"a.b"', "a.b"]
                text = text[: match.start()] + draw(st.sampled_from(words)) + text[match.end() :]
    return text


@given(mutated())
@settings(max_examples=400, deadline=None)
@example(DEMO)
def test_a_mutated_file_is_a_panel_or_an_error_with_its_line(text: str) -> None:
    try:
        panel = parse_panel(text.encode(), "demo.toml")
    except PanelFileError as error:
        assert error.problems
        last = text.count("\n") + 1
        for problem in error.problems:
            match = re.match(r"demo\.toml:(\d+): (.+)", problem)
            assert match, problem
            assert 1 <= int(match[1]) <= last
            assert "\n" not in problem
    else:
        assert isinstance(panel, Panel)


@given(st.binary(max_size=200))
@settings(max_examples=100, deadline=None)
def test_any_bytes_are_an_error(data: bytes) -> None:
    assert problems_of(data)
