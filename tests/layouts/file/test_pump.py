"""What a file can say wrong about its pumps, named where it is written."""

from __future__ import annotations

from pathlib import Path

import pytest

from geom.errors import PanelFileError
from layouts.file.read import parse_panel

BENCH = Path(__file__).parents[1].joinpath("bench.toml").read_text("utf-8")
CURVE = 'curve = [["0 L/min", "5 m"], ["8 L/min", "2 m"]]'


def with_choice(use: str, bores: str) -> str:
    """Return the bench with a second pump that has these bores, made for one of the two."""
    choice = f'[[pump.choice]]\nname = "big"\n{CURVE}\n{bores}\n\n'
    text = BENCH.replace("[[part]]", choice + "[[part]]", 1)
    return text.replace("[pump]\n", f'[pump]\nname = "own"\nuse = "{use}"\n', 1)


@pytest.mark.parametrize(
    ("bores", "key"),
    [
        ('inlet_bore = "60 mm"\noutlet_bore = "40 mm"', "inlet_bore"),
        ('outlet_bore = "40 mm"', "outlet_bore"),
    ],
)
def test_overlapping_bores_of_a_choice_are_told_at_the_choice(bores, key):
    text = with_choice("big", bores)
    with pytest.raises(PanelFileError) as caught:
        parse_panel(text.encode(), "bench.toml")
    (problem,) = str(caught.value).splitlines()
    line = text.splitlines().index(bores.splitlines()[0]) + 1
    assert problem.startswith(
        f'bench.toml:{line}: pump.choice.1.{key}: of "big", the used pump: the inlet bore'
    )
    assert "outlet_offset gives 20 mm" in problem


def test_bores_of_a_pump_that_is_not_used_are_left_to_the_plan():
    assert parse_panel(with_choice("own", 'outlet_bore = "40 mm"').encode(), "bench.toml").pump.used == "own"
