"""A small bonded panel whose one channel rises over a slot, higher than both of its ports. Invented numbers."""

from __future__ import annotations

from pathlib import Path

LEFT, RIGHT, FOOT = 30.0, 80.0, 30.0
"""x of the two ports of the hump, and their y, [mm]."""

SLOT_TOP = 60.0
"""Top of the slot that the hump goes over, [mm]."""

WIDTH, DEPTH, RADIUS, BODY = 6.0, 6.0, 8.0, 18.0
"""Of the channels, and the body's thickness, [mm]."""

HUMP = "block - cooler"
"""The channel's name."""

FILE = """
[panel]
name = "hump"
size = ["160 mm", "120 mm"]
corner_radius = "5 mm"
pitch = "5 mm"

[make]
method = "milled"
closing = "bonded"
material = "PMMA cast"
body = "18 mm"
cover = "6 mm"
cutter = "5 mm"
room = ["300 mm", "200 mm", "80 mm"]

[milling]
edges = "drill press"

[channel]
width = "6 mm"
depth = "6 mm"
bend_radius = "8 mm"

[coolant]
fluid = "water"
temperature = "28 °C"

[tank]
kind = "pocket"
size = ["42 mm", "28 mm"]
depth = "12 mm"
within = ["100 mm", "74 mm", "146 mm", "106 mm"]
outlet_bore = "6 mm"
fill = { on = "top", thread = "G1/8" }
level = "80 %"

[pump]
on = "front"
within = ["100 mm", "8 mm", "150 mm", "64 mm"]
inlet_bore = "8 mm"
outlet_bore = "8 mm"
outlet_offset = ["15 mm", "0 mm"]
turns = ["0 deg", "90 deg", "180 deg", "270 deg"]
seat = { diameter = "36 mm", depth = "1 mm" }
curve = [["0 L/min", "1.8 m"], ["2 L/min", "1.5 m"], ["4 L/min", "0.9 m"], ["6 L/min", "0 m"]]

[[part]]
name = "block"
volume = "8 mL"
heat = "45 W"
resistance = [["0.8 L/min", "1.6 kPa"], ["1.6 L/min", "6 kPa"]]
inlet = { on = "bottom", between = ["85 mm", "95 mm"], thread = "G1/8" }
outlet = { on = "front", at = ["80 mm", "30 mm"], thread = "G1/8" }

[[part]]
name = "cooler"
volume = "60 mL"
resistance = [["1.6 L/min", "2 kPa"]]
inlet = { on = "front", at = ["30 mm", "30 mm"], thread = "G1/8" }
outlet = { on = "top", between = ["35 mm", "95 mm"], thread = "G1/8" }

[loop]
order = ["tank", "pump", "block", "cooler", "tank"]
flow = "1 L/min"
hose_volume = "40 mL"

[drain]
port = { on = "bottom", between = ["110 mm", "150 mm"], thread = "G1/8" }

[[keep_clear]]
name = "slot"
box = ["50 mm", "0 mm", "60 mm", "60 mm"]
"""


def write_hump(folder: Path, service: str = "", more: str = "") -> Path:
    """Write the panel's file, with lines of a [service] table and more tables."""
    path = folder / "hump.toml"
    table = f"\n[service]\n{service}\n" if service else ""
    path.write_text(f"{FILE}{table}{more}", encoding="utf-8")
    return path
