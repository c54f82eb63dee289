"""Letters of the papers: those that the faces lack are spelled out."""

from __future__ import annotations

import subprocess

import pytest

from exports.formats.pdf_canvas import new_canvas
from exports.lettering import PLAIN, spell_letters, text_points


def test_what_the_faces_have_stays():
    text = "Kühl Ω ± µ ½ Ø12 ↧ ° – … “a” Привет"
    assert spell_letters(text) == text


def test_what_they_lack_is_told_by_its_code_point():
    assert spell_letters("a 試験 b") == "a [U+8A66][U+9A13] b"
    assert spell_letters("\U0001f6b0") == "[U+1F6B0]"


def test_widths_are_those_of_what_is_written():
    assert text_points("試", 10.0) == text_points("[U+8A66]", 10.0) > 30.0


@pytest.mark.needs("pdftotext")
def test_it_stands_in_the_pdf_so(tmp_path):
    canvas = new_canvas(tmp_path / "x.pdf", "t", "s")
    canvas.setFont(PLAIN, 10)
    canvas.drawString(50, 50, spell_letters("試 ok"))
    canvas.save()
    done = subprocess.run(
        ["pdftotext", str(tmp_path / "x.pdf"), "-"], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[U+8A66] ok"
