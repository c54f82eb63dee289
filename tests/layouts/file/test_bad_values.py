"""Files of the right shape whose values contradict each other: every check of `layouts.file.checks`."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from geom.errors import PanelFileError
from layouts.file.read import parse_panel

GOOD = Path(__file__).parents[1].joinpath("bench.toml").read_text("utf-8")

CASES = {
    # name: (old, new, text on the line told, key told, pieces of the message)
    "corner radius": (
        'name = "bench"',
        'name = "bench"\ncorner_radius = "120 mm"',
        '120 mm"\ns',
        "panel.corner_radius",
        ["120 mm", "at most 100 mm"],
    ),
    "too many nodes": (
        'pitch = "5 mm"',
        'pitch = "0.3 mm"',
        "0.3 mm",
        "panel.pitch",
        ["534267", "400000", "coarser"],
    ),
    "tiny pitch": (
        'pitch = "5 mm"',
        'pitch = "0.001 mm"',
        "0.001 mm",
        "panel.pitch",
        ["grid nodes", "400000"],
    ),
    "coarse pitch": (
        'pitch = "5 mm"',
        'pitch = "120 mm"',
        '120 mm"\n\n[make',
        "panel.pitch",
        ["120 mm", "at most 100 mm"],
    ),
    "up nowhere": (
        '"5 mm"\n\n[make',
        '"5 mm"\nup = [0, 0, 0]\n\n[make',
        "up",
        "panel.up",
        ["[0, 0, 0]", "[0, 1, 0]"],
    ),
    "cord missing": ('cord = "2 mm"\n', "", "[make]", "make.cord", ["missing", 'cord = "2 mm"']),
    "screw missing": ('screw = "M4"\n', "", "[make]", "make.screw", ["missing", 'screw = "M4"']),
    "cover missing": ('cover = "8 mm"\n', "", "[make]", "make.cover", ["missing", 'cover = "8 mm"']),
    "cutter missing": ('cutter = "6 mm"\n', "", "[make]", "make.cutter", ["missing", 'cutter = "6 mm"']),
    "cutter too wide": (
        'cutter = "6 mm"',
        'cutter = "8.5 mm"',
        "8.5 mm",
        "make.cutter",
        ["8.5 mm", "at most 8 mm"],
    ),
    "cord in a bonded panel": (
        '"cord"\nm',
        '"bonded"\nm',
        'cord = "2 mm"',
        "make.cord",
        ["2", "bonded", "remove"],
    ),
    "cover on one piece": (
        '"cord"\nm',
        '"one-piece"\nm',
        'cover = "8 mm"',
        "make.cover",
        ["8", "one-piece", "remove"],
    ),
    "milled one piece": ('"cord"\nm', '"one-piece"\nm', "milled", "make.method", ['"milled"', '"printed"']),
    "cutter for a print": ('"milled"', '"printed"', 'cutter = "6 mm"', "make.cutter", ["6 mm", "no cutter"]),
    "no such material": (
        "PMMA cast",
        "cheese",
        "cheese",
        "make.material",
        ["cheese", "PMMA cast, PMMA extruded"],
    ),
    "no such cover material": (
        'cover = "8 mm"',
        'cover = "8 mm"\ncover_material = "cheese"',
        "cheese",
        "make.cover_material",
        ['"cheese"', "PMMA cast, PMMA extruded"],
    ),
    "shared grooves without a cord": (
        '"cord"\nm',
        '"bonded"\nshare_groove = true\nm',
        "share_groove",
        "make.share_groove",
        ["true", "bonded", "no grooves", "remove"],
    ),
    "inserts without screws": (
        '"cord"\nm',
        '"bonded"\ninserts = true\nm',
        "inserts",
        "make.inserts",
        ["true", "bonded", "no cover screws", "remove"],
    ),
    "large washers without screws": (
        '"cord"\nm',
        '"bonded"\nlarge_washers = true\nm',
        "large_washers",
        "make.large_washers",
        ["true", "bonded", "no cover screws", "remove"],
    ),
    "a spacing without screws": (
        '"cord"\nm',
        '"bonded"\nscrew_spacing = "30 mm"\nm',
        "screw_spacing",
        "make.screw_spacing",
        ["read 30 mm", "bonded", "no cover screws", "remove"],
    ),
    "a spacing with no room for heads": (
        'cover = "8 mm"',
        'cover = "8 mm"\nscrew_spacing = "12 mm"',
        "screw_spacing",
        "make.screw_spacing",
        ["read 12 mm", "M4 screws need 16 mm or more"],
    ),
    "a screw's hole without screws": (
        '"cord"\nm',
        '"bonded"\nscrew_hole = "5 mm"\nm',
        "screw_hole",
        "make.screw_hole",
        ["read 5 mm", "bonded", "no cover screws", "remove"],
    ),
    "a hole that no screw passes": (
        'cover = "8 mm"',
        'cover = "8 mm"\nscrew_hole = "4.4 mm"',
        "screw_hole",
        "make.screw_hole",
        ["read 4.4 mm", "M4 screw passes 4.5 mm or more"],
    ),
    "a hole that the washer does not cover": (
        'cover = "8 mm"',
        'cover = "8 mm"\nscrew_hole = "8.1 mm"',
        "screw_hole",
        "make.screw_hole",
        ["read 8.1 mm", "washer of 9 mm", "8 mm or less"],
    ),
    "cover material on one piece": (
        '"cord"\nm',
        '"one-piece"\ncover_material = "PC"\nm',
        "cover_material",
        "make.cover_material",
        ["'PC'", "one-piece", "no cover", "remove"],
    ),
    "posts in a separate tank": (
        'kind = "pocket"',
        'kind = "separate"\nposts = "auto"',
        "posts",
        "tank.posts",
        ['"auto"', "only a pocket", "remove"],
    ),
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
    "channel too wide": (
        'width = "8 mm"',
        'width = "90 mm"',
        '90 mm"\nd',
        "channel.width",
        ["90 mm", "leaves 1", "narrower"],
    ),
    "channel that is to shrink": (
        'width = "8 mm"',
        'width = "8 mm"\nwiden_to = "7.5 mm"',
        "7.5 mm",
        "channel.widen_to",
        ["7.5 mm", "width of 8 mm", "only grow"],
    ),
    "no floor": (
        'depth = "9 mm"',
        'depth = "19 mm"',
        "19 mm",
        "channel.depth",
        ["19 mm", "below 19 mm", "20 mm"],
    ),
    "bend too tight": (
        '"14 mm"\n\n[cool',
        '"9 mm"\n\n[cool',
        "bend_radius",
        "channel.bend_radius",
        ["9 mm", "at least 9.9 mm"],
    ),
    "glycol without share": (
        '"water"',
        '"ethylene glycol"',
        "[coolant]",
        "coolant.mass_fraction",
        ["missing", '"30 %"'],
    ),
    "water with share": (
        '"water"',
        '"water"\nmass_fraction = "30 %"',
        "30 %",
        "coolant.mass_fraction",
        ["30 %", "remove"],
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
    "tank through the body": (
        'depth = "14 mm"',
        'depth = "19 mm"',
        "19 mm",
        "tank.depth",
        ["19 mm", "below 19 mm"],
    ),
    "tank with a floor under the least wall": (
        'depth = "14 mm"',
        'depth = "18.5 mm"',
        "18.5 mm",
        "tank.depth",
        [
            "leaves 1.5 mm of floor in a body of 20 mm, least_wall asks for",
            "a depth of at most",
            "a body of at least",
            "a least_wall of at most 1.5 mm",
        ],
    ),
    "tank larger than its box": (
        '"80 mm", "40 mm"',
        '"80 mm", "50 mm"',
        'within = ["110',
        "tank.within",
        ["115 x 45 mm", "80 x 50 mm"],
    ),
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
    "volume of a pocket": (
        "fill = {",
        'volume = "1 L"\nfill = {',
        "1 L",
        "tank.volume",
        ["pocket", "remove"],
    ),
    "separate with a pocket's keys": (
        '"pocket"',
        '"separate"',
        '"80 mm", "40 mm"',
        "tank.size",
        ["separate", "remove"],
    ),
    "separate without ports": ('"pocket"', '"separate"', "[tank]", "tank.outlet", ["missing", "between"]),
    "pump without place": (
        'within = ["120 mm", "25 mm", "215 mm", "110 mm"]\n',
        "",
        "[pump]",
        "pump",
        ["no place"],
    ),
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
    "offset off the grid": (
        '["20 mm", "0 mm"]',
        '["-21 mm", "0 mm"]',
        "-21 mm",
        "pump.outlet_offset",
        ["-25 mm and -20 mm"],
    ),
    "no offset": (
        '["20 mm", "0 mm"]',
        '["0 mm", "0 mm"]',
        "outlet_offset",
        "pump.outlet_offset",
        ["on the inlet"],
    ),
    "seat too large": (
        'diameter = "60 mm"',
        'diameter = "90 mm"',
        'within = ["120',
        "pump.within",
        ["95 x 85 mm", "90 mm"],
    ),
    "no node for the pump": (
        '["120 mm", "25 mm", "215 mm", "110 mm"]',
        '["131 mm", "25 mm", "194 mm", "110 mm"]',
        "131 mm",
        "pump.within",
        ["no grid node", "5 mm"],
    ),
    "eighth turn": ('"180 deg"', '"45 deg"', "45 deg", "pump.turns.2", ["45 deg", "0, 90, 180 or 270 deg"]),
    "turn twice": ('"180 deg"', '"360 deg"', "360 deg", "pump.turns.2", ["360 deg", "twice"]),
    "deep seat": (
        'depth = "1.5 mm"',
        'depth = "19.5 mm"',
        "19.5 mm",
        "pump.seat.depth",
        ["19.5 mm", "20 mm"],
    ),
    "curve starts late": ('"0 L/min"', '"1 L/min"', "1 L/min", "pump.curve.1", ["1 L/min", "'0 L/min'"]),
    "no head": ('"3.9 m"', '"0 m"', '"0 m"', "pump.curve.1", ["0 m", "at least 0.01 m"]),
    "next to no head": (
        '"3.9 m"',
        '"0.9 cm"',
        '"0.9 cm"',
        "pump.curve.1",
        ["head of 0.009 m at no flow", "at least 0.01 m", "check its unit"],
    ),
    "curve of next to no flow": (
        '["4 L/min", "3.3 m"]',
        '["0.009 L/min", "3.3 m"]',
        '"0.009 L/min"',
        "pump.curve.2",
        ["ends at 0.009 L/min", "at least 0.01 L/min", "check its unit"],
    ),
    "head rises": ('"3.3 m"', '"4 m"', '"4 m"', "pump.curve.2", ["3.9 m to 4 m", "may not rise"]),
    "flow stands": (
        '["4 L/min", "3.3 m"]',
        '["0 L/min", "3.3 m"]',
        "3.3 m",
        "pump.curve.2",
        ["0 L/min", "increase"],
    ),
    "two heads at one flow": (
        '    ["4 L/min", "3.3 m"],',
        '    ["4 L/min", "3.3 m"],\n    ["4 L/min", "3.1 m"],',
        "3.1 m",
        "pump.curve.3",
        ["4 L/min stands twice, with 3.3 m and 3.1 m", "each flow once"],
    ),
    "flow falls": (
        '    ["4 L/min", "3.3 m"],',
        '    ["4 L/min", "3.3 m"],\n    ["3 L/min", "3.1 m"],',
        "3.1 m",
        "pump.curve.3",
        ["3 L/min does not follow 4 L/min"],
    ),
    "used pump is none": (
        'seat = { diameter = "60 mm"',
        'use = "pomp"\nseat = { diameter = "60 mm"',
        "pomp",
        "pump.use",
        ["'pomp' is not a pump of this file; write 'pump'"],
    ),
    "own pump's speeds": (
        'seat = { diameter = "60 mm"',
        'speed = ["4000 rpm", "4000 rpm"]\nseat = { diameter = "60 mm"',
        "speed = ",
        "pump.speed",
        ["4000 to 4000 rpm", "least, then most"],
    ),
    "run without speed": (
        'seat = { diameter = "60 mm"',
        'run_at = "3000 rpm"\nseat = { diameter = "60 mm"',
        "3000 rpm",
        "pump.run_at",
        ["3000 rpm, but the used pump gives no speed", "speed = [least, most]"],
    ),
    "run too fast": (
        'seat = { diameter = "60 mm"',
        'speed = ["1500 rpm", "4500 rpm"]\nrun_at = "4600 rpm"\nseat = { diameter = "60 mm"',
        "4600 rpm",
        "pump.run_at",
        ["4600 rpm is outside", "1500 to 4500 rpm"],
    ),
    "run too slow for the used choice": (
        '[[part]]\nname = "left"',
        'run_at = "1100 rpm"\nuse = "a"\n[[pump.choice]]\nname = "a"\nspeed = ["1200 rpm", "3000 rpm"]\n'
        'curve = [["0 L/min", "1 m"], ["1 L/min", "0 m"]]\n[[part]]\nname = "left"',
        "1100 rpm",
        "pump.run_at",
        ["1100 rpm is outside", "1200 to 3000 rpm"],
    ),
    "noise that none gives": (
        'seat = { diameter = "60 mm"',
        'most_noise = "33 dB"\nseat = { diameter = "60 mm"',
        "33 dB",
        "pump.most_noise",
        ["33 dB, but no pump of the file gives its noise", "noise = '36 dB'"],
    ),
    "choice named as the pump": (
        '[[part]]\nname = "left"',
        '[[pump.choice]]\nname = "pump"\ncurve = [["0 L/min", "1 m"], ["1 L/min", "0 m"]]\n[[part]]\nname = "left"',
        'name = "pump"',
        "pump.choice.1.name",
        ['"pump" stands twice, first for the pump of [pump]', "own name"],
    ),
    "used choice too large": (
        '[[part]]\nname = "left"',
        'use = "a"\n[[pump.choice]]\nname = "a"\nseat = "90 mm"\n'
        'curve = [["0 L/min", "1 m"], ["1 L/min", "0 m"]]\n[[part]]\nname = "left"',
        'within = ["120',
        "pump.within",
        ["95 x 85 mm", "90 mm"],
    ),
    "used choice's bores": (
        '[[part]]\nname = "left"',
        'use = "a"\n[[pump.choice]]\nname = "a"\ninlet_bore = "31 mm"\n'
        'curve = [["0 L/min", "1 m"], ["1 L/min", "0 m"]]\n[[part]]\nname = "left"',
        'inlet_bore = "31 mm"',
        "pump.choice.1.inlet_bore",
        ['of "a", the used pump', "inlet bore of 31 mm", "20.25 mm", "outlet_offset gives 20 mm"],
    ),
    "no head of a choice": (
        '[[part]]\nname = "left"',
        '[[pump.choice]]\nname = "a"\ncurve = [["0 L/min", "0 m"], ["1 L/min", "0 m"]]\n[[part]]\nname = "left"',
        '"0 m"], ["1',
        "pump.choice.1.curve.1",
        ["head of 0 m at no flow", "at least 0.01 m"],
    ),
    "speed of no curve": (
        'curve = [\n    ["0 L/min", "3.9 m"],\n    ["4 L/min", "3.3 m"],\n]\n',
        'power = "9 W"\n[[pump.choice]]\nname = "a"\ncurve = [["0 L/min", "1 m"], ["1 L/min", "0 m"]]\n',
        '"9 W"',
        "pump.power",
        ["[pump] has none", "move power to its [[pump.choice]]"],
    ),
    "no curve": (
        'curve = [\n    ["0 L/min", "3.9 m"],\n    ["4 L/min", "3.3 m"],\n]\n',
        "",
        "[pump]",
        "pump.curve",
        ["missing", "[[pump.choice]]"],
    ),
    "choice's curve": (
        '[[part]]\nname = "left"',
        '[[pump.choice]]\nname = "a"\ncurve = [["0 L/min", "1 m"], ["1 L/min", "2 m"]]\n[[part]]\nname = "left"',
        '"2 m"',
        "pump.choice.1.curve.2",
        ["1 m to 2 m"],
    ),
    "choice's speeds": (
        '[[part]]\nname = "left"',
        '[[pump.choice]]\nname = "a"\ncurve = [["0 L/min", "1 m"], ["1 L/min", "0 m"]]\n'
        'speed = ["9 rpm", "8 rpm"]\n[[part]]\nname = "left"',
        "9 rpm",
        "pump.choice.1.speed",
        ["9 to 8 rpm"],
    ),
    "choice twice": (
        '[[part]]\nname = "left"',
        '[[pump.choice]]\nname = "a"\ncurve = [["0 L/min", "1 m"], ["1 L/min", "0 m"]]\n'
        '[[pump.choice]]\ncurve = [["0 L/min", "1 m"], ["1 L/min", "0 m"]]\n'
        'name = "a" # second\n[[part]]\nname = "left"',
        "# second",
        "pump.choice.2.name",
        ['"a" stands twice'],
    ),
    "water about to freeze": (
        '"35 °C"',
        '"0 °C"',
        "0 °C",
        "coolant.temperature",
        ["0 °C is outside 1 to 95 °C for water"],
    ),
    "water far above boiling": ('"35 °C"', '"120 °C"', "120 °C", "coolant.temperature", ["1 to 95 °C"]),
    "colder than cold": ('"35 °C"', '"-300 °C"', "-300 °C", "coolant.temperature", ["at least -273.1"]),
    "mix that freezes": (
        '"water"\ntemperature = "35 °C"',
        '"ethylene glycol"\nmass_fraction = "20 %"\ntemperature = "-7.5 °C"',
        "-7.5 °C",
        "coolant.temperature",
        ["-7.5 °C is outside -6.9 to 95 °C for ethylene glycol with 20 % by mass", "more glycol"],
    ),
    "mix beyond its table": (
        '"water"\ntemperature = "35 °C"',
        '"propylene glycol"\nmass_fraction = "60 %"\ntemperature = "-45 °C"',
        "-45 °C",
        "coolant.temperature",
        ["outside -40 to 95 °C"],
    ),
    "air as warm as the coolant": (
        '"35 °C"',
        '"35 °C"\nambient = "35 °C"',
        "ambient",
        "coolant.ambient",
        ["air of 35 °C does not cool coolant of 35 °C", "raise temperature in [coolant] above 35 °C"],
    ),
    "capacity falls": (
        '["4 L/min", "6 kPa"]]',
        '["4 L/min", "6 kPa"]]\ncapacity = [["2 L/min", "12 W/K"],\n["4 L/min", "11 W/K"]]',
        "11 W/K",
        "part.2.capacity.2",
        ["11 W/K after 12 W/K", "no less heat at more flow"],
    ),
    "flow of a capacity falls": (
        '["4 L/min", "6 kPa"]]',
        '["4 L/min", "6 kPa"]]\ncapacity = [["2 L/min", "12 W/K"],\n["2 L/min", "13 W/K"]]',
        "13 W/K",
        "part.2.capacity.2",
        ["2 L/min after 2 L/min", "rising flow"],
    ),
    "capacity at no flow": (
        '["4 L/min", "6 kPa"]]',
        '["4 L/min", "6 kPa"]]\ncapacity = [["0 L/min", "12 W/K"]]',
        "12 W/K",
        "part.2.capacity.1.1",
        ["at least 0.001 L/min"],
    ),
    "flow wanted far too small": (
        "[loop]\n",
        '[loop]\nflow = "1e-9 L/min"\n',
        'flow = "1e-9',
        "loop.flow",
        ["at least 0.001 L/min"],
    ),
    "capacity without a value": (
        '["4 L/min", "6 kPa"]]',
        '["4 L/min", "6 kPa"]]\ncapacity = [["2 L/min", "0 W/K"]]',
        "0 W/K",
        "part.2.capacity.1.2",
        ["at least 0.01 W/K"],
    ),
    "tank that its fill port misses": (
        'size = ["80 mm", "40 mm"]',
        'size = ["9 mm", "4 mm"]',
        '["9 mm", "4 mm"]',
        "tank.size",
        ["9 x 4 mm", "too short for the fill port's bore of 11.8 mm", "23.8 mm or longer"],
    ),
    "part is named": (
        'heat = "120 W"',
        'heat = "120"',
        'heat = "120"',
        "part.1.heat",
        ['part "left": ', "W"],
    ),
    "part is named by what contradicts": (
        'heat = "120 W"',
        'heat = "120 W"\nrestrictor = "0.002 mm"',
        "restrictor",
        "part.1.restrictor",
        ['part "left": 0.002 mm is under'],
    ),
    "radiator that heats": (
        'heat = "120 W"',
        'heat = "120 W"\ncapacity = [["2 L/min", "12 W/K"]]',
        "capacity",
        "part.1.capacity",
        ["gives 120 W", "two parts"],
    ),
    "restrictor as wide as its port": (
        'heat = "120 W"',
        'heat = "120 W"\nrestrictor = "11.8 mm"',
        "restrictor",
        "part.1.restrictor",
        ["11.8 mm does not restrict its G1/4 fitting", "smaller bore"],
    ),
    "restrictor of a micrometre": (
        'heat = "120 W"',
        'heat = "120 W"\nrestrictor = "0.001 mm"',
        "restrictor",
        "part.1.restrictor",
        ["0.001 mm is under 0.5 mm", "0.5 mm or more"],
    ),
    "part of no volume": (
        'heat = "120 W"',
        'heat = "120 W"\nvolume = "0 mL"',
        "volume",
        "part.1.volume",
        ["above 0 mL"],
    ),
    "hoses of no volume": (
        "[loop]\n",
        '[loop]\nhose_volume = "0 mL"\n',
        "hose_volume",
        "loop.hose_volume",
        ["above 0 mL"],
    ),
    "no flow wanted": (
        "[loop]\n",
        '[loop]\nflow = "0 L/min"\n',
        'flow = "0',
        "loop.flow",
        ["at least 0.001 L/min"],
    ),
    "drop falls": (
        '"20 kPa"',
        '"5 kPa"',
        '5 kPa"]]',
        "part.1.resistance.2",
        ["5 kPa after 5.5 kPa", "more than 5.5 kPa"],
    ),
    "flow of a part falls": (
        '"4 L/min", "20 kPa"',
        '"1 L/min", "20 kPa"',
        "20 kPa",
        "part.1.resistance.2",
        ["1 L/min after 2 L/min"],
    ),
    "resistance at no flow": (
        '"2 L/min", "5.5 kPa"',
        '"0 L/min", "5.5 kPa"',
        "5.5",
        "part.1.resistance.1.1",
        ["at least 0.001 L/min"],
    ),
    "part named tank": (
        'name = "left"',
        'name = "tank"',
        'name = "tank"',
        "part.1.name",
        ['"tank"', "choose another"],
    ),
    "part named pump": (
        'name = "left"',
        'name = "pump"',
        'name = "pump"',
        "part.1.name",
        ['"pump"', "choose another"],
    ),
    "part named drain": (
        'name = "left"',
        'name = "drain"',
        'name = "drain"',
        "part.1.name",
        ['"drain"', "another"],
    ),
    "two parts of one name": (
        'name = "right"',
        'name = "left" # 2',
        "# 2",
        "part.2.name",
        ['"left"', "part 1"],
    ),
    "loop starts elsewhere": (
        '["tank", "pump"',
        '["pump"',
        "order",
        "loop.order",
        ["start and end with 'tank'"],
    ),
    "open loop": (', "tank"]', "]", "order", "loop.order", ["[tank, pump, ", "the loop closes"]),
    "empty loop": (
        '["tank", "pump", ["left", "right"], "tank"]',
        "[]",
        "order",
        "loop.order",
        ["the list is empty", "['tank', 'pump', 'left', 'tank']"],
    ),
    "no pump": (
        '"tank", "pump"',
        '"tank"',
        "order",
        "loop.order",
        ["'pump' is missing", "directly after the first 'tank'"],
    ),
    "pump last": (
        '"pump", ["left", "right"]',
        '["left", "right"], "pump"',
        "order",
        "loop.order.3",
        ["as entry 3 of [tank, [left, right], pump, tank]", "directly after the first 'tank'"],
    ),
    "two pumps": (
        ', "tank"]',
        ',\n"pump", "tank"]',
        '"pump", "tank"',
        "loop.order.4",
        ["2 times", "once", "second entry"],
    ),
    "tank inside": (
        ', "tank"]',
        ',\n"tank", # in\n"tank"]',
        "# in",
        "loop.order.4",
        ["only its start and its end"],
    ),
    "part twice": (
        ', "tank"]',
        ',\n"left", "tank"]',
        '"left", "tank"',
        "loop.order.4",
        ["'left' stands twice"],
    ),
    "no such part": (
        ', "tank"]',
        ',\n"middle", "tank"]',
        "middle",
        "loop.order.4",
        ["'middle'", "left, right"],
    ),
    "part unused": (
        '["left", "right"]',
        '"left"',
        'name = "right"',
        "part.2.name",
        ["'right'", "loop.order"],
    ),
    "group of one": (
        '["left", "right"]',
        '["left"],\n"right"',
        "order",
        "loop.order.3",
        ["group of 1", "two or more"],
    ),
    "port off the grid": (
        '"40 mm", "50 mm"]',
        '"42 mm", "50 mm"]',
        "42 mm",
        "part.1.inlet.at",
        ["x = 42 mm", "40 mm and 45 mm"],
    ),
    "edge port off the grid": (
        'at = "60 mm"',
        'at = "61 mm"',
        "61 mm",
        "part.2.outlet.at",
        ["x = 61 mm", "60 mm and 65 mm"],
    ),
    "port outside": (
        '"40 mm", "50 mm"]',
        '"40 mm", "250 mm"]',
        "250 mm",
        "part.1.inlet.at",
        ["(40, 250) mm", "240 x 200 mm"],
    ),
    "two ports at one place": (
        'within = ["30 mm", "80 mm", "60 mm", "110 mm"]',
        'at = ["40 mm", "50 mm"], thread = "G1/8"',
        "G1/8",
        "part.1.outlet.at",
        ['"left outlet" and "left inlet"', "(40, 50) mm", "move one"],
    ),
    "port box upside down": (
        '"60 mm", "110 mm"]',
        '"20 mm", "110 mm"]',
        '"80 mm", "20',
        "part.1.outlet.within",
        ["x 30 to 20", "x0 < x1"],
    ),
    "port box outside": (
        '"60 mm", "110 mm"]',
        '"60 mm", "210 mm"]',
        "210 mm",
        "part.1.outlet.within",
        ["y 80 to 210", "240 x 200 mm"],
    ),
    "port box without node": (
        '["30 mm", "80 mm", "60 mm", "110 mm"]',
        '["31 mm", "80 mm", "34 mm", "110 mm"]',
        "31 mm",
        "part.1.outlet.within",
        ["no grid node", "left outlet", "5 mm"],
    ),
    "span upside down": (
        '"120 mm", "150 mm"]',
        '"150 mm", "120 mm"]',
        '"150 mm", "120',
        "part.2.inlet.between",
        ["150 to 120 mm", "smaller"],
    ),
    "span outside": (
        '"120 mm", "150 mm"]',
        '"120 mm", "201 mm"]',
        "201 mm",
        "part.2.inlet.between",
        ["120 to 201", "0 to 200 mm"],
    ),
    "span without node": (
        '"120 mm", "150 mm"]',
        '"121 mm", "124 mm"]',
        "121 mm",
        "part.2.inlet.between",
        ["121 to 124", "5 mm"],
    ),
    "port without place": (
        '{ on = "left", between = ["120 mm", "150 mm"] }',
        '{ on = "left" }',
        '{ on = "left" }',
        "part.2.inlet",
        ["no place", "between"],
    ),
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
    "one length on a face": (
        '["40 mm", "50 mm"]',
        '"40 mm"',
        'at = "40 mm"',
        "part.1.inlet.at",
        ["one length", "front"],
    ),
    "two lengths on an edge": (
        'at = "60 mm"',
        'at = ["60 mm", "0 mm"]',
        '["60 mm", "0 mm"]',
        "part.2.outlet.at",
        ["two lengths", "top"],
    ),
    "slot outside": (
        '"25 mm", "20 mm"]',
        '"25 mm", "220 mm"]',
        "box",
        "keep_clear.1.box",
        ["y 0 to 220", "stay inside"],
    ),
    "slot upside down": (
        '"25 mm", "20 mm"]',
        '"25 mm", "-20 mm"]',
        "box",
        "keep_clear.1.box",
        ["y 0 to -20", "y0 < y1"],
    ),
    "bad code": (
        '"make.reach"',
        '"Reach!"',
        "Reach!",
        'rules.accept."Reach!"',
        ["'Reach!' is not the code of a check; see `rillplate rules`"],
    ),
    "code with a slip": (
        '"make.reach"',
        '"make.reech"',
        "make.reech",
        'rules.accept."make.reech"',
        ["'make.reech' is not the code of a check; write 'make.reach'", "`rillplate rules`"],
    ),
    "broken volume accepted": (
        '"make.reach"',
        '"volume.differs"',
        "volume.differs",
        'rules.accept."volume.differs"',
        ["cannot be accepted", "the solid itself is broken", "correct the panel"],
    ),
    "open mesh accepted": (
        '"make.reach"',
        '"mesh.open"',
        "mesh.open",
        'rules.accept."mesh.open"',
        ["cannot be accepted"],
    ),
    "breach accepted": (
        '"make.reach"',
        '"wall.breach"',
        "wall.breach",
        'rules.accept."wall.breach"',
        ["cannot be accepted"],
    ),
    "body too thin for the fill port": (
        'body = "20 mm"',
        'body = "16 mm"',
        "fill = {",
        "tank.fill",
        ["a G1/4 port on an edge", "at least 18.5 mm", "the body is 16 mm"],
    ),
    "body too thin for a part's port": (
        'body = "20 mm"',
        'body = "16 mm"',
        'on = "left"',
        "part.2.inlet",
        ["a G1/4 port on an edge", "at least 18.5 mm"],
    ),
    "body too thin for the drain": (
        'body = "20 mm"',
        'body = "16 mm"',
        'on = "bottom"',
        "drain.port",
        ["a G1/4 port on an edge", "at least 18.5 mm"],
    ),
    "channel too shallow for an edge port": (
        'depth = "9 mm"',
        'depth = "5 mm"',
        'on = "bottom"',
        "drain.port",
        ["a G1/4 bore keeps", "5 mm deep", "or a port on the front"],
    ),
}


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


@pytest.mark.parametrize(("old", "new", "piece", "key", "told"), CASES.values(), ids=CASES.keys())
def test_bad_value(old: str, new: str, piece: str, key: str, told: list[str]) -> None:
    text = change(old, new)
    start = f"bench.toml:{line_of(text, piece)}: {key}: "
    problems = problems_of(text)
    found = [problem for problem in problems if problem.startswith(start) and all(t in problem for t in told)]
    assert len(found) == 1, problems
    assert "\n" not in found[0]


def test_posts_need_cover_screws() -> None:
    text = change('kind = "pocket"', 'kind = "pocket"\nposts = "auto"')
    parse_panel(text.encode(), "bench.toml")
    (told,) = (p for p in problems_of(text.replace('"cord"\nm', '"bonded"\nm')) if "tank.posts" in p)
    assert 'closing = "bonded" has no cover screws' in told


def test_new_keys_may_be_written_as_they_are_without_them() -> None:
    text = change('"cord"\nm', '"bonded"\nshare_groove = false\ninserts = false\nm')
    text = text.replace('cord = "2 mm"\nscrew = "M4"\n', "").replace(
        'kind = "pocket"', 'kind = "pocket"\nposts = "none"'
    )
    assert parse_panel(text.encode(), "bench.toml").make.closing == "bonded"


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


def test_thin_body_is_told_for_every_edge_port_and_beside_the_rest() -> None:
    text = GOOD
    for old, new in (
        ('body = "20 mm"', 'body = "16 mm"'),
        ('depth = "14 mm"', 'depth = "13 mm"'),
        ("PMMA cast", "cheese"),
        ('"35 °C"', '"200 °C"'),
        ("[channel]", "[channel]\nbogus = 1"),
        (', between = ["120 mm", "150 mm"] }', ', between = ["120 mm", "150 mm"], thread = "G9" }'),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    keys = [problem.split(": ")[1] for problem in problems_of(text)]
    assert keys == [
        "make.material",
        "channel.bogus",
        "coolant.temperature",
        "tank.fill",
        "part.2.inlet.thread",
        "part.2.outlet",
        "drain.port",
    ]
    # Without a cord its groove is not known, and nothing is said about the ports.
    told = problems_of(text.replace('cord = "2 mm"', 'cord = "2.2 mm"'))
    assert not any("port on an edge" in problem for problem in told)


def test_what_is_told_of_a_deep_tank_cures_it() -> None:
    """It was found out only after the routing, with words on boxes and pitch."""
    deep = change('depth = "14 mm"', 'depth = "18.5 mm"')
    (problem,) = problems_of(deep)
    depth, body, wall = re.findall(r"at (?:most|least) ([\d.]+)(?= mm)", problem)
    for old, new in (
        ('depth = "18.5 mm"', f'depth = "{depth} mm"'),
        ('body = "20 mm"', f'body = "{body} mm"'),
        ('least_wall = "2.1 mm"', f'least_wall = "{wall} mm"'),
    ):
        assert deep.count(old) == 1
        parse_panel(deep.replace(old, new).encode(), "bench.toml")


def test_printed_and_bonded_have_their_own_least_bend() -> None:
    bonded = change('cord = "2 mm"\nscrew = "M4"\n', "").replace('closing = "cord"', 'closing = "bonded"')
    tight = bonded.replace('bend_radius = "14 mm"', 'bend_radius = "6.9 mm"')
    assert any("at least 7 mm" in problem for problem in problems_of(tight))
    parse_panel(tight.replace('"6.9 mm"', '"7 mm"').encode(), "bench.toml")
    printed = bonded.replace('"milled"', '"printed"').replace('cutter = "6 mm"\n', "")
    tight = printed.replace('bend_radius = "14 mm"', 'bend_radius = "4.4 mm"')
    assert any("at least 4.5 mm" in problem for problem in problems_of(tight))
    parse_panel(tight.replace('"4.4 mm"', '"4.5 mm"').encode(), "bench.toml")


def two_layers(text: str) -> str:
    """Return the file with channels in both faces."""
    return text.replace('bend_radius = "14 mm"', 'bend_radius = "14 mm"\nlayers = 2')


def test_two_layers_need_a_body_of_two_depths_and_a_wall() -> None:
    far = 'outlet_offset = ["25 mm", "0 mm"]'
    text = two_layers(change('outlet_offset = ["20 mm", "0 mm"]', far).replace('"9 mm"', '"8.95 mm"'))
    parse_panel(text.encode(), "bench.toml")
    deep = text.replace('"8.95 mm"', '"9 mm"')
    assert problems_of(deep) == (
        f"bench.toml:{line_of(deep, 'body')}: make.body: 20 mm leaves 2 mm between channels 9 mm deep in its two"
        " faces, less than least_wall, 2.1 mm; at least 20.1 mm (2 x 9 + 2.1), or channels of at most 8.95 mm",
    )


def test_two_layers_need_room_between_the_bores_of_a_pump_in_front() -> None:
    text = two_layers(change('body = "20 mm"', 'body = "24 mm"'))
    (told,) = problems_of(text)
    assert told.startswith(f"bench.toml:{line_of(text, 'outlet_offset')}: pump.outlet_offset:")
    assert "stand 20 mm apart" in told
    # Two bores of 10 mm, two lands and two grooves of 2.1 and 2.675 mm, and the rib between them.
    assert "needs 21.65 mm" in told
    behind = text.replace('[pump]\non = "front"', '[pump]\non = "back"')
    parse_panel(behind.encode(), "bench.toml")
    bonded = text.replace('cord = "2 mm"\nscrew = "M4"\n', "").replace('"cord"', '"bonded"')
    parse_panel(bonded.encode(), "bench.toml")


def test_two_layers_in_one_piece_are_refused() -> None:
    printed = two_layers(
        change('cover = "8 mm"\n', "")
        .replace('cord = "2 mm"\nscrew = "M4"\n', "")
        .replace('closing = "cord"', 'closing = "one-piece"')
        .replace('"milled"', '"printed"')
        .replace('cutter = "6 mm"\n', "")
    )
    (told,) = problems_of(printed)
    assert told.startswith(f"bench.toml:{line_of(printed, 'layers')}: channel.layers: read 2;")
    assert 'closing = "one-piece"' in told


def test_two_layers_have_grooves_on_both_sides_of_an_edge_port() -> None:
    """With 18.7 mm of body a G1/4 port stands between one groove and the front face, not between two grooves."""
    text = change('body = "20 mm"', 'body = "18.7 mm"').replace('depth = "9 mm"', 'depth = "8 mm"')
    text = text.replace('outlet_offset = ["20 mm", "0 mm"]', 'outlet_offset = ["25 mm", "0 mm"]')
    parse_panel(text.encode(), "bench.toml")
    assert any("port on an edge needs a body" in problem for problem in problems_of(two_layers(text)))


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        (
            '["110 mm", "140 mm", "225 mm", "185 mm"]',
            '["225 mm", "140 mm", "110 mm", "185 mm"]',
            "tank.within",
        ),
        ('size = ["80 mm", "40 mm"]', 'size = ["180 mm", "40 mm"]', "tank.within"),
        ('diameter = "60 mm"', 'diameter = "300 mm"', "pump.within"),
        (
            'order = ["tank", "pump", ["left", "right"], "tank"]',
            "order = []",
            "loop.order",
        ),
    ],
    ids=["inverted box", "box under the tank's size", "box under the seat", "empty order"],
)
def test_one_mistake_is_one_error(old: str, new: str, key: str) -> None:
    (problem,) = problems_of(change(old, new))
    assert problem.split(": ")[1] == key


def test_valid_names_are_listed_once() -> None:
    text = change('name = "right"', 'name = "left"').replace('["left", "right"]', '"left", "ghost"')
    (told,) = (problem for problem in problems_of(text) if "ghost" in problem)
    assert told.endswith("'ghost' is not a part; use tank, pump, left")
    text = change('name = "right"', 'name = "pump"').replace('["left", "right"]', '"left", "ghost"')
    (told,) = (problem for problem in problems_of(text) if "ghost" in problem)
    assert told.endswith("use tank, pump, left")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('heat = "120 W"', 'heat = "1e9 W"', "at most 1000000 W"),
        ('"20 kPa"', '"1e9 kPa"', "at most 100000 kPa"),
        ('pitch = "5 mm"', 'pitch = "300 cm"', "at most 200 cm"),
        ('fill = { on = "top" }', 'level = "185 %"', "at most 100 %"),
        ('"20 kPa"', '"2 kPa"', "2 kPa after 5.5 kPa"),
        ('"5.5 kPa"', '"14 bar"', "20 kPa after 1400 kPa"),
        ('fluid = "water"', 'fluid = "water"\nmass_fraction = "20 %"', "20 % of glycol"),
        ('closing = "cord"', 'closing = "bonded"', "read 2 mm; "),
    ],
)
def test_quantities_are_told_as_the_file_writes_them(old: str, new: str, told: str) -> None:
    problems = problems_of(change(old, new))
    assert any(told in problem for problem in problems), problems
    assert not any("e+" in problem.replace(new, "") for problem in problems)


def test_bores_of_the_pump_may_not_overlap() -> None:
    text = change('inlet_bore = "10 mm"', 'inlet_bore = "30.5 mm"')
    (problem,) = problems_of(text)
    assert problem.startswith(f"bench.toml:{line_of(text, 'outlet_offset')}: pump.outlet_offset: 20 mm ")
    assert "inlet bore of 30.5 mm and the outlet bore of 9.5 mm overlap nearer than 20 mm" in problem
    assert "at least 22.1 mm" in problem
    parse_panel(text.replace("30.5 mm", "30.4 mm").encode(), "bench.toml")


def test_at_most_fifty_errors_are_told() -> None:
    def bad(count: int) -> str:
        regions = (
            f'[[keep_clear]]\nname = "k{k}"\nbox = ["9 mm", "0 mm", "8 mm", "1 mm"]\n' for k in range(count)
        )
        return GOOD + "\n" + "".join(regions)

    assert len(problems_of(bad(50))) == 50
    problems = problems_of(bad(72))
    assert len(problems) == 51
    line = line_of(bad(72), 'name = "k50"') + 1
    assert problems[-1] == f"bench.toml:{line}: and 22 more from here on; correct those above first"
