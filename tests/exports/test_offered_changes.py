"""Remedies offered as edits: the edited file reads, and what was found is gone or milder."""

import pytest

from exports.pipeline import plan_read
from exports.report.changes import changes_section
from geom.findings import SEVERITIES, KeyChange
from layouts.file.edit import edit_text
from layouts.file.read import parse_panel
from layouts.panels.catalogue import demo_names, demo_path
from layouts.routing.effort import QUICK

MEETS = {"at": ["50 mm", "55 mm", "120 mm"], "faces": [0, 0, -1]}
TUBE = {"outer": "10 mm", "stop": "6 mm", "insertion": "12 mm"}
QUIET = {"pump.speed": ["1000 rpm", "4000 rpm"], "pump.noise": "40 dB", "pump.most_noise": "36 dB"}
STRONG = {"name": "strong", "curve": [["0 L/min", "12 m"], ["14 L/min", "6 m"]]}
METAL = "aluminium 6082-T6"

PANELS = {
    "leaning": ("laser-driver", {"panel.up": [1, 2, 0]}, ("feed.column",)),
    "upside down": (
        "laser-driver",
        {"panel.up": [0, -1, 0]},
        ("feed.low", "feed.depth", "feed.tilt", "tank.fill", "feed.first"),
    ),
    "weak pump": ("new", {"loop.flow": "6 L/min", "pump.choice": [STRONG]}, ("pump.choice", "pump.flow")),
    "slow pump": (
        "new",
        {**QUIET, "loop.flow": "2 L/min", "pump.run_at": "1200 rpm"},
        ("pump.flow", "air.carry"),
    ),
    "loud pump": ("new", {**QUIET, "loop.flow": None}, ("pump.noise",)),
    "narrow channels": ("new", {"channel.width": "6 mm"}, ("channel.narrow", "seal.bend")),
    "wrong temperature": ("new", {"coolant.temperature": "60 °C"}, ("heat.level",)),
    "no fill port": ("new", {"tank.fill": None}, ("tank.fill",)),
    "low fill port": (
        "new",
        {"tank.fill": {"on": "right"}, "tank.level": "98 %"},
        ("tank.fill", "tank.room"),
    ),
    "nearly empty": ("new", {"tank.level": "20 %"}, ("feed.first",)),
    "no drain": ("laser-driver", {"drain": None, "service": None}, ("drain.low",)),
    "leaning, no drains": ("laser-driver", {"panel.up": [1, 2, 0], "service": None}, ("drain.left",)),
    "large service ports": (
        "new",
        {"service.thread": "G1/2", "service.drain": ["pump - cold plate"]},
        ("service.room",),
    ),
    "tube with a bend": (
        "new",
        {"part.0.outlet.meets": MEETS, "tube": TUBE},
        ("tube.none",),
    ),
    "thin cover": ("new", {"make.cover": "3 mm"}, ("cover.screws", "tank.posts")),
    "low test": ("new", {"rules.test_pressure": "0.02 bar"}, ("test.low",)),
    "pulled screws": ("new", {"rules.test_pressure": "7 bar"}, ("screw.thread", "screw.head")),
    "bowed tank": ("new", {"make.screw": "M3", "rules.test_pressure": "4 bar"}, ("tank.posts",)),
    "unlike plates": (
        "new",
        {"make.cover_material": METAL, "coolant.temperature": "60 °C", "panel.size": ["300 mm", "160 mm"]},
        ("material.coolant",),
    ),
    "bonded unlike": ("laser-driver", {"make.cover_material": METAL}, ("bond.material", "material.coolant")),
    "bonded thin": ("laser-driver", {"make.cover": "1 mm"}, ("cover.thick", "bond.pull")),
    "warm": ("new", {"coolant.temperature": "75 °C", "coolant.ambient": None}, ("material.heat",)),
    "low machine": (
        "new",
        {"milling.edges": None, "make.room": ["400 mm", "300 mm", "120 mm"]},
        ("make.upright",),
    ),
    "small sheet": ("new", {"milling.stock": ["245 mm", "165 mm"]}, ("make.stock",)),
    "large sheet": ("new", {"milling.stock": ["600 mm", "500 mm"]}, ("make.stock",)),
    "one cutter": (
        "new",
        {"milling.cutters": [{"diameter": "6 mm", "reach": "14 mm"}]},
        ("make.cutter", "make.reach"),
    ),
    "thin walls": ("laser-driver", {"rules.least_wall": "0.8 mm"}, ("make.wall",)),
    "coarse": ("new", {"make.tolerance": "vL"}, ("tolerance.squeeze", "tolerance.spanner")),
    "thin body": ("new", {"make.body": "19 mm"}, ("pump.screws",)),
    "printed of sheet": ("cupboard-server", {"make.material": "PMMA cast"}, ("make.material",)),
    "printed in resin": (
        "cupboard-server",
        {"printing.process": "resin", "printing.line_width": None},
        ("make.material",),
    ),
    "printed thin": ("cupboard-server", {"rules.least_wall": "0.8 mm"}, ("print.wall",)),
    "printed threads": (
        "cupboard-server",
        {"printing.port_threads": "printed", "printing.thread_clearance": "0.9 mm"},
        ("print.thread",),
    ),
    "coarse lines": (
        "cupboard-server",
        {"printing.port_threads": "printed", "printing.line_width": "1 mm"},
        ("print.thread", "print.wall"),
    ),
    "short threads": ("cupboard-server", {}, ("thread.depth",)),
    "printed screws": ("synthesizer-rack", {}, ("tolerance.screws",)),
    "tapped cover screws": ("new", {"make.screw": "M5"}, ("screw.insert",)),
}


def change(text, keys):
    """Return a file's text with dotted keys changed; numbers count entries of lists from 0."""
    path = {key: tuple(int(s) if s.isdigit() else s for s in key.split(".")) for key in keys}
    return edit_text(text, [KeyChange(path[key], value) for key, value in keys.items()])


def plan(text):
    return plan_read(parse_panel(text.encode(), "panel.toml"), effort=QUICK)


def weigh(findings, code):
    """Return how grave all findings of a code are together: faults, cautions, notes, then how far they are off."""
    mine = [one for one in findings if one.code == code]
    off = sum(abs(one.value - one.limit) for one in mine if one.value is not None and one.limit is not None)
    return (*(sum(one.severity == each for one in mine) for each in SEVERITIES), off)


def is_followed(findings, note):
    """Return whether nothing worse is said than a note, and not the same again: it tells how things stand now."""
    mine = [one for one in findings if one.code == note.code]
    return all(one.severity == "note" and one.changes != note.changes for one in mine)


@pytest.mark.parametrize("name", PANELS)
def test_an_offered_edit_makes_it_milder(name):
    base, keys, codes = PANELS[name]
    text = change(demo_path(base).read_text(), keys)
    before = plan(text)
    done = {}
    for finding in before.findings:
        if not finding.changes:
            continue
        edited = edit_text(text, finding.changes)
        parse_panel(edited.encode(), "panel.toml")
        if finding.code in codes and finding.code not in done:
            if edited not in done.values():
                after = plan(edited)
            done[finding.code] = edited
            told = "; ".join(one.text for one in after.findings if one.code == finding.code)
            assert weigh(after.findings, finding.code) < weigh(before.findings, finding.code) or (
                is_followed(after.findings, finding)
            ), told
    assert set(done) == set(codes)


@pytest.mark.parametrize("name", [*demo_names(), "new"])
def test_every_edit_that_a_demo_is_offered_can_be_made(name):
    text = demo_path(name).read_text()
    for finding in plan(text).findings:
        edited = edit_text(text, finding.changes)
        assert (edited == text) == (not finding.changes)
        parse_panel(edited.encode(), "panel.toml")


def test_the_report_tells_changes_only_where_there_are_any():
    assert changes_section(()) == {}
    moved = (
        KeyChange(("part", 0, "outlet", "within"), None),
        KeyChange(("part", 0, "outlet", "at"), ["9 mm", "8 mm"]),
    )
    assert changes_section(moved) == {
        "changes": [
            {"path": ["part", 0, "outlet", "within"], "value": None},
            {"path": ["part", 0, "outlet", "at"], "value": ["9 mm", "8 mm"]},
        ]
    }
