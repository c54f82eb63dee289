"""The report's 3D view in a real browser: it shows what it says, by mouse, keys and events, and asks for nothing."""

from __future__ import annotations

import base64
import gzip
import itertools
import json
import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from browser import ARGUMENTS, OpenPage, await_frame, open_file
from PIL import Image
from playwright.sync_api import Locator, Page, expect
from shapely import Point, Polygon, unary_union
from shapely.ops import polylabel

from exports.check_solids import Checked
from exports.page.built import REMEDY, read_built
from exports.report.html.rendering import quote_script
from exports.report.html.scene import VERSION, pack_scene
from geom.findings import Finding
from geom.tessellate import to_manifold
from layouts.plan import Plan
from tests.exports.test_charts import TO_XYZ, VISIONS, linear_light, to_lab

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

NO_WEBGL = ("--disable-gpu", "--disable-webgl", "--disable-3d-apis")
COOLANT = (0x2B, 0x8F, 0xC0)
WHITE = (255, 255, 255)


def made_findings() -> tuple[Finding, ...]:
    def finding(code: str, severity, at, features=()) -> Finding:
        return Finding(code, severity, f"said of {code}", "Do it.", "no source", at_mm=at, features=features)

    return (
        finding("wall.thin", "fault", (30.0, 40.0, 10.0), ("channel pump - block",)),
        finding("port.room", "caution", (120.0, 90.0, 20.0)),
        finding("fill.volume", "note", None),
    )


@pytest.fixture(scope="module")
def page_path(plan: Plan, checked: Checked, tmp_path_factory: pytest.TempPathFactory) -> Path:
    script = read_built("report.js")
    assert script, f"the pages are not built: {REMEDY}"
    scene = pack_scene(plan, checked, made_findings(), {0: "A"})
    path = tmp_path_factory.mktemp("viewer") / "page.html"
    path.write_text(
        f"""<!doctype html><html lang="en"><head><meta charset="utf-8"><title>solid</title>
        <style>
        :root {{ color-scheme: light dark; }}
        body {{ color: light-dark(#000, #fff); background: light-dark(#fff, #000); }}
        </style></head><body><main><h1>Solid</h1>
        <div id="solid" class="viewer"><svg id="picture" role="img" aria-label="projection" width="300" height="200">
        <rect width="300" height="200"/></svg></div></main>
        <script type="application/json" id="scene">{scene}</script>
        <script>{quote_script(script)}</script></body></html>""",
        encoding="utf-8",
    )
    return path


@contextmanager
def shown(path: Path, **how) -> Iterator[OpenPage]:
    """Open the page and wait for its first frame; nothing may be asked for or complained about in the meantime."""
    with open_file(path, **how) as opened:
        opened.page.wait_for_selector("html[data-solid]", state="attached")
        settle(opened.page)
        yield opened
        assert opened.complaints == []
        assert opened.requests == []


def read_scene(path: Path) -> dict:
    text = re.search(r'id="scene">(.*?)</script>', path.read_text(encoding="utf-8"))
    assert text
    whole = gzip.decompress(base64.b64decode(json.loads(text[1])["packed"]))
    return json.loads(whole[4 : 4 + int.from_bytes(whole[:4], "little")])


def settle(page: Page) -> None:
    await_frame(page)
    if page.locator(".solid-live").count():
        page.wait_for_selector('.solid-live[data-still="true"]')


def shot(page: Page) -> np.ndarray:
    """Return what the stage shows once it shows the same twice, (height, width, 3) of bytes.

    What was drawn last may come on the screen some frames later where the machine is busy.
    """
    settle(page)
    before = _screenshot(page)
    for _ in range(20):
        after = _screenshot(page)
        # The browser itself makes one pixel in a corner one step lighter or darker from shot to shot.
        if after.shape == before.shape and np.abs(after - before).max() <= 1:
            return after
        before = after
    raise AssertionError("the picture never stands still")


def _screenshot(page: Page) -> np.ndarray:
    taken = page.locator(".solid-stage").screenshot()
    return np.asarray(Image.open(BytesIO(taken)).convert("RGB")).astype(int)


def camera(page: Page) -> dict[str, float]:
    names = ("yaw", "pitch", "distance", "x", "y", "z")
    settle(page)
    told = page.locator(".solid-live").get_attribute("data-camera") or ""
    return dict(zip(names, map(float, told.split()), strict=True))


def ask(page: Page, wish: str) -> None:
    page.evaluate(f"document.dispatchEvent(new CustomEvent('rillplate:show', {{detail: {wish}}}))")


def told(page: Page) -> Locator:
    return page.locator(".solid-told")


def strip_marks(page: Page) -> None:
    for name in (
        "findings",
        "walls near their limit",
        "air that stays when filled",
        "coolant that stays when drained",
    ):
        box = page.get_by_label(name, exact=True)
        if box.count():
            box.uncheck()


def test_first_frame_comes_over_the_picture_which_is_kept_for_print(page_path: Path):
    with shown(page_path) as opened:
        page = opened.page
        data = page.evaluate("({...document.documentElement.dataset})")
        assert data["solid"] == "ready"
        assert float(data["solidMs"]) > 0
        assert not page.locator("#picture").is_visible()
        assert len(np.unique(shot(page).reshape(-1, 3), axis=0)) > 100
        page.emulate_media(media="print")
        assert page.locator("#picture").is_visible()
        assert not page.locator("canvas").is_visible()


def test_without_webgl_the_picture_stays(page_path: Path):
    with shown(page_path, arguments=(*ARGUMENTS[3:], *NO_WEBGL)) as opened:
        assert opened.page.locator("html").get_attribute("data-solid") == "none"
        assert opened.page.locator("#picture").is_visible()
        assert opened.page.locator(".solid-live").count() == 0
        assert "this browser has no WebGL 2" in opened.page.locator(".solid-missing").inner_text()


def test_a_scene_that_cannot_be_read_is_told_on_the_page_and_in_the_console(page_path: Path, tmp_path: Path):
    broken = tmp_path / "page.html"
    text = page_path.read_text(encoding="utf-8")
    wrong = text.replace(f'{{"version":{VERSION},', '{"version":99,')
    assert wrong != text
    broken.write_text(wrong, encoding="utf-8")
    with open_file(broken) as opened:
        page = opened.page
        page.wait_for_selector("html[data-solid=none]", state="attached")
        assert page.locator("#picture").is_visible()
        assert "the scene has version 99" in page.locator(".solid-missing").inner_text()
        assert [said for said in opened.complaints if "version 99" in said]
        page.emulate_media(media="print")
        assert not page.locator(".solid-missing").is_visible()


def test_nothing_is_drawn_while_nothing_changes(page_path: Path):
    with shown(page_path) as opened:
        page = opened.page
        page.evaluate(
            "() => { window.frames_drawn = 0; const ask = window.requestAnimationFrame;"
            "window.requestAnimationFrame = (f) => { window.frames_drawn++; return ask(f); }; }"
        )
        page.wait_for_timeout(500)
        assert page.evaluate("window.frames_drawn") == 0
        page.get_by_role("button", name="nearer").click()
        page.wait_for_timeout(200)
        assert page.evaluate("window.frames_drawn") > 0


def test_parts_hide_and_turn_clear(page_path: Path):
    with shown(page_path) as opened:
        page = opened.page
        strip_marks(page)
        seen = [shot(page)]
        page.get_by_label("cover", exact=True).uncheck()
        seen.append(shot(page))
        page.get_by_role("slider", name="how solid: body").fill("100")
        seen.append(shot(page))
        page.get_by_label("coolant", exact=True).check()
        page.get_by_label("body", exact=True).uncheck()
        seen.append(shot(page))
        page.get_by_label("not shown").check()
        seen.append(shot(page))
        for a, b in itertools.combinations(seen, 2):
            assert np.any(a != b, axis=2).mean() > 1e-4
        assert page.locator(".solid-legend").is_hidden()
        expect(told(page)).to_have_text("Shown: coolant. Seen from the front, aslant. ")


def test_a_cut_shows_as_much_coolant_as_the_section_has(checked: Checked, page_path: Path):
    """The share of the cut's area that is coolant: what a cut of the mesh itself says."""
    z = 4.0
    wet, body = (to_manifold(mesh).slice(z).area() for mesh in (checked.wet_mesh, checked.meshes["body"]))
    with shown(page_path) as opened:
        page = opened.page
        strip_marks(page)
        page.get_by_label("not shown").check()
        page.get_by_label("coolant", exact=True).check()
        page.get_by_role("slider", name="how solid: body").fill("100")
        page.get_by_role("button", name="front", exact=True).click()
        settle(page)
        page.get_by_label("across z").check()
        page.get_by_role("slider", name="cut at").fill(str(z))
        seen = shot(page)
        coolant = np.all(np.abs(seen - COOLANT) <= 2, axis=2).sum()
        inside = np.any(np.abs(seen - WHITE) > 2, axis=2).sum()
        # A frame of 160 mm and more on 700 pixels: a pixel's width all round either of them.
        assert coolant / inside == pytest.approx(wet / (wet + body), rel=0.06)
        assert "cut at z = 4.0 mm" in told(page).inner_text()


def test_the_cut_moves_and_turns(page_path: Path):
    with shown(page_path) as opened:
        page = opened.page
        page.get_by_label("across x").check()
        seen = [shot(page)]
        slider = page.get_by_role("slider", name="cut at")
        slider.press("End")
        seen.append(shot(page))
        slider.fill("40")
        seen.append(shot(page))
        page.get_by_role("button", name="show the other half").click()
        seen.append(shot(page))
        page.get_by_label("whole, no cut").check()
        seen.append(shot(page))
        for a, b in itertools.pairwise(seen):
            assert np.any(a != b, axis=2).mean() > 5e-3
        assert slider.is_disabled()


def test_findings_and_features_are_flown_to(page_path: Path):
    with shown(page_path) as opened:
        page = opened.page
        before = camera(page)
        ask(page, "{finding: 0}")
        page.wait_for_timeout(100)
        near = camera(page)
        assert (near["x"], near["y"], near["z"]) == (30.0, 40.0, 10.0)
        assert near["distance"] < 0.6 * before["distance"]
        assert page.locator(".solid-pin[aria-current]").inner_text() == "A"
        assert "Marked: fault A: wall.thin. said of wall.thin" in told(page).inner_text()
        ask(page, "{finding: 2}")
        assert "fill.volume" in told(page).inner_text()
        assert camera(page) == near
        page.get_by_role("button", name="whole panel").click()
        page.wait_for_timeout(100)
        settle(page)
        page.locator(".solid-pin", has_text="•").click()
        page.wait_for_timeout(100)
        assert camera(page)["x"] == 120.0
        ask(page, '{feature: "block - tank"}')
        page.wait_for_timeout(100)
        assert "Marked: channel block - tank" in told(page).inner_text()
        ask(page, '{feature: "nothing so called"}')
        page.locator("canvas").press("Escape")
        assert "Marked" not in told(page).inner_text()


def test_the_line_of_words_tells_from_where_the_panel_is_seen(page_path: Path):
    with shown(page_path) as opened:
        page = opened.page
        canvas = page.locator("canvas")
        page.get_by_role("button", name="back", exact=True).click()
        assert "Seen from the back." in told(page).inner_text()
        settle(page)
        page.evaluate(
            "() => { window.changes = 0; new MutationObserver(() => window.changes++)"
            ".observe(document.querySelector('.solid-told'), {childList: true, subtree: true, characterData: true}); }"
        )
        # Faster than any hand: however slow the machine is, the view never stands still between two steps.
        canvas.evaluate(
            "canvas => ['ArrowRight', 'ArrowRight', 'ArrowRight', 'ArrowUp'].forEach(key => canvas.dispatchEvent("
            "new KeyboardEvent('keydown', {key, bubbles: true, cancelable: true})))"
        )
        expect(told(page)).to_contain_text("Seen from the back, 30° towards the left, 10° from above.")
        # Not each step of the turn is read out.
        assert page.evaluate("window.changes") < 4
        for _ in range(8):
            canvas.press("ArrowUp")
        expect(told(page)).to_contain_text("Seen from the top.")
        page.get_by_role("button", name="left", exact=True).click()
        assert "Seen from the left." in told(page).inner_text()
        for status in told(page).get_by_role("status").all():
            assert status.evaluate("(e) => e.closest('[aria-hidden=true]') === null")


def test_the_keyboard_steps_through_all_marks_and_hears_them(page_path: Path):
    with shown(page_path) as opened:
        page = opened.page
        scene = read_scene(page_path)
        page.get_by_label("coolant that stays when drained").check()
        texts = [f["text"] for f in scene["findings"] if f["at"]]
        texts += [wall["text"] for wall in scene["walls"]] + [pocket["text"] for pocket in scene["pockets"]]
        texts += [line["text"] for line in scene["flow"]]
        onward = page.get_by_role("button", name="next mark")
        for number, text in enumerate(texts, 1):
            onward.press("Enter")
            heard = told(page).inner_text()
            assert f"Marked: {number} of {len(texts)}: " in heard
            assert text in heard
        onward.press("Enter")
        assert f"Marked: 1 of {len(texts)}: " in told(page).inner_text()
        page.get_by_role("button", name="previous mark").press("Enter")
        assert texts[-1] in told(page).inner_text()
        settle(page)
        assert page.locator(".solid-here").is_visible()
        # What is not shown is not stepped through.
        strip_marks(page)
        page.get_by_label("not shown").check()
        onward.press("Enter")
        assert "No mark is shown." in told(page).inner_text()


def test_pins_keep_apart_and_in_the_picture_and_so_do_their_texts(
    plan: Plan, checked: Checked, page_path: Path, tmp_path: Path
):
    """Forty findings in one corner of the panel: all are seen, none over another, whole."""
    at = (checked.meshes["body"].bounds[1] - 0.5).tolist()
    found = tuple(
        Finding(f"wall.thin.{k}", "caution", "said", "Do it.", "none", at_mm=tuple(at)) for k in range(40)
    )
    path = tmp_path / "page.html"
    text = page_path.read_text(encoding="utf-8")
    packed = pack_scene(plan, checked, found)
    path.write_text(re.sub(r'(id="scene">).*?(</script>)', rf"\g<1>{packed}\2", text), encoding="utf-8")
    for size in ((1280, 900), (420, 800)):
        with shown(path, size=size) as opened:
            page = opened.page
            stage = page.locator(".solid-stage").bounding_box()
            assert stage
            pins = page.locator(".solid-pin").all()
            boxes = [pin.bounding_box() for pin in pins]
            assert len(boxes) == 40
            for box in boxes:
                assert box
                assert stage["x"] <= box["x"]
                assert box["x"] + box["width"] <= stage["x"] + stage["width"]
                assert stage["y"] <= box["y"]
                assert box["y"] + box["height"] <= stage["y"] + stage["height"]
            for a, b in itertools.combinations(boxes, 2):
                assert abs(a["x"] - b["x"]) >= 23 or abs(a["y"] - b["y"]) >= 23
            for pin in pins[::7]:
                pin.focus()
                width, left = pin.evaluate(
                    "(pin) => { const s = getComputedStyle(pin, '::after'); "
                    "return [parseFloat(s.width), parseFloat(s.left)]; }"
                )
                box = pin.bounding_box()
                assert box
                assert stage["x"] - 12 <= box["x"] + left
                assert box["x"] + left + width <= stage["x"] + stage["width"] + 12


def test_a_finger_moves_the_page_until_the_picture_is_tapped(page_path: Path):
    with shown(page_path, size=(420, 800), touch=True) as opened:
        page = opened.page
        action = "(c) => getComputedStyle(c).touchAction"
        canvas = page.locator("canvas")
        assert canvas.evaluate(action) == "pan-y"
        canvas.tap()
        assert canvas.evaluate(action) == "none"
        page.locator("h1").tap()
        assert canvas.evaluate(action) == "pan-y"


def test_pointing_draws_nothing(page_path: Path):
    with shown(page_path) as opened:
        page = opened.page
        box = page.locator("canvas").bounding_box()
        assert box
        page.evaluate(
            "() => { window.drawn = 0; for (const name of ['drawElements', 'drawArrays']) {"
            "const draw = WebGL2RenderingContext.prototype[name];"
            "WebGL2RenderingContext.prototype[name] = function (...a) { window.drawn++; return draw.apply(this, a); };"
            "} }"
        )
        page.mouse.move(box["x"] + box["width"] / 2 - 30, box["y"] + box["height"] / 2)
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, steps=8)
        expect(page.locator(".solid-name")).to_be_visible()
        assert page.evaluate("window.drawn") == 0
        page.get_by_role("button", name="nearer").click()
        settle(page)
        assert page.evaluate("window.drawn") > 0


def test_without_motion_flights_are_jumps(page_path: Path):
    with shown(page_path, motion="reduce") as opened:
        page = opened.page
        ask(page, "{finding: 0}")
        await_frame(page)
        told = page.locator(".solid-live").get_attribute("data-camera")
        assert told
        assert told.endswith("30.0 40.0 10.0")


def test_keys_go_round_the_panel(page_path: Path):
    with shown(page_path) as opened:
        page = opened.page
        canvas = page.locator("canvas")
        first = camera(page)
        canvas.press("ArrowRight")
        canvas.press("ArrowUp")
        turned = camera(page)
        assert (turned["yaw"] - first["yaw"], turned["pitch"] - first["pitch"]) == (10.0, 10.0)
        canvas.press("+")
        assert camera(page)["distance"] == pytest.approx(turned["distance"] / 1.2, abs=0.1)
        canvas.press("Shift+ArrowLeft")
        assert camera(page)["x"] != turned["x"]
        canvas.press("Home")
        page.wait_for_timeout(100)
        whole = camera(page)
        assert whole["yaw"] == turned["yaw"]
        page.get_by_role("button", name="top", exact=True).click()
        page.wait_for_timeout(100)
        above = camera(page)
        assert above["yaw"] % 360 == 0
        assert above["pitch"] == 90


def test_mouse_turns_names_and_picks(page_path: Path):
    with shown(page_path) as opened:
        page = opened.page
        box = page.locator("canvas").bounding_box()
        assert box
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        before = camera(page)
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + 50, y, steps=3)
        page.mouse.up()
        assert camera(page)["yaw"] == pytest.approx(before["yaw"] - 20.0, abs=0.2)
        page.mouse.wheel(0, -200)
        page.wait_for_timeout(100)
        moved = camera(page)
        page.locator("canvas").focus()
        page.mouse.wheel(0, -200)
        page.wait_for_timeout(100)
        assert camera(page)["distance"] < moved["distance"]

        page.get_by_role("button", name="front", exact=True).click()
        page.wait_for_timeout(100)
        settle(page)
        strip_marks(page)
        page.get_by_label("cover", exact=True).uncheck()
        page.get_by_label("body", exact=True).uncheck()
        page.get_by_label("coolant", exact=True).check()
        page.get_by_label("not shown").check()
        seen = shot(page)
        row, column = (int(k) for k in np.argwhere(np.any(seen != WHITE, axis=2))[997])
        page.evaluate(
            "() => document.addEventListener('rillplate:picked', (e) => { window.got = e.detail.feature; })"
        )
        page.mouse.move(box["x"] + column + 3, box["y"] + row + 3)
        settle(page)
        name = page.locator(".solid-name").inner_text()
        assert re.fullmatch(r"coolant: (tank|channel .*|port .*|pump .*)", name)
        page.mouse.click(box["x"] + column + 3, box["y"] + row + 3)
        assert page.evaluate("window.got") == name.removeprefix("coolant: ")


def test_the_legend_has_the_numbers_of_the_flow(plan: Plan, page_path: Path):
    velocities = [
        leg.velocity_m_s for channel in plan.flowing.channels for leg in channel.legs if leg.flow_m3_s
    ]
    pressures = [p for step in plan.flowing.steps for p in (step.start_pa, step.end_pa)]
    with shown(page_path) as opened:
        page = opened.page
        legend = page.locator(".solid-legend")

        def ticks() -> list[float]:
            texts = legend.locator(".solid-ticks span").all_inner_texts()
            return [float(text.replace("−", "-")) for text in texts]

        assert "velocity in the channel [m/s]" in legend.inner_text()
        assert ticks()[0] == 0.0
        assert max(velocities) <= ticks()[-1] <= 1.3 * max(velocities)
        page.get_by_label("pressure over that in the tank").check()
        assert "[kPa]" in legend.inner_text()
        assert ticks()[-1] == pytest.approx(max(pressures) / 1e3, rel=plan.flowing.head_band)
        assert ticks()[0] == pytest.approx(min(pressures) / 1e3, abs=1.0)
        before = shot(page)
        page.get_by_label("pressure drop of the piece").check()
        assert np.any(before != shot(page))


@pytest.mark.published(
    source="Machado, Oliveira, Fernandes, A physiologically-based model for simulation of color vision deficiency, "
    "IEEE TVCG 15 (2009), matrices of severity 1 (read in copies), on linear sRGB; CIE 1976 lightness; WCAG 2.2, "
    "success criterion 1.4.11: 3 to 1"
)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_scale_leaves_the_ground_all_the_way_for_every_colour_vision(page_path: Path, scheme: str):
    with shown(page_path, scheme=scheme) as opened:
        opened.page.get_by_label("pressure over that in the tank").check()
        image = opened.page.locator(".solid-bar").evaluate("(bar) => bar.style.backgroundImage")
        ground = "#" + "".join(f"{part:02x}" for part in shot(opened.page)[2, 2])
    colours = [
        "#" + "".join(f"{int(part):02x}" for part in match)
        for match in re.findall(r"rgb\((\d+), (\d+), (\d+)\)", image)
    ]
    assert len(colours) > 10
    for colour in (colours[0], colours[-1]):
        low, high = sorted(float(TO_XYZ[1] @ linear_light(each)) for each in (colour, ground))
        assert (high + 0.05) / (low + 0.05) >= 3.0
    way = 1.0 if scheme == "light" else -1.0
    for vision in VISIONS.values():
        lightness = [to_lab(vision @ linear_light(colour))[0] for colour in colours]
        assert all(way * (a - b) >= 2.0 for a, b in itertools.pairwise(lightness))


@pytest.mark.published(source="WCAG 2.2, as far as axe-core's rules tell")
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_controls_are_for_everyone(page_path: Path, scheme: str):
    with shown(page_path, scheme=scheme) as opened:
        page = opened.page
        page.get_by_label("across z").check()
        results = Axe().run(page)
        assert results.violations_count == 0, results.generate_report()
        ground = shot(page)[2, 2]
        assert (ground.mean() > 200) == (scheme == "light")


def test_narrow_pages_stack_it_and_stay_in_their_width(page_path: Path):
    with shown(page_path, size=(420, 800)) as opened:
        page = opened.page
        stage, controls = (page.locator(f".solid-{name}").bounding_box() for name in ("stage", "controls"))
        assert stage
        assert controls
        assert controls["y"] >= stage["y"] + stage["height"] - 1
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        page.set_viewport_size({"width": 1200, "height": 800})
        page.wait_for_timeout(200)
        size = page.locator("canvas").evaluate("(c) => [c.width / c.clientWidth, c.clientWidth]")
        assert size[0] == pytest.approx(1.0, abs=0.01)
        assert size[1] > 700
        assert math.isfinite(camera(page)["distance"])


FIELD = math.tan(math.radians(14.0))
"""Half of what the camera sees upwards, at a distance of 1 (FIELD_DEG in `orbit.ts`)."""


def pixel(page: Page, x: float, y: float, z: float) -> tuple[float, float]:
    """Return where a place lies on the screen, seen from the front."""
    seen = camera(page)
    assert (seen["yaw"], seen["pitch"]) == (0.0, 0.0)
    page.locator(".solid-stage").scroll_into_view_if_needed()
    stage = page.locator(".solid-stage").bounding_box()
    assert stage
    scale = stage["height"] / 2 / FIELD / (seen["distance"] - (z - seen["z"]))
    left = stage["x"] + stage["width"] / 2 + (x - seen["x"]) * scale
    return left, stage["y"] + stage["height"] / 2 - (y - seen["y"]) * scale


def from_the_front(page: Page) -> None:
    strip_marks(page)
    page.get_by_label("not shown").check()
    page.get_by_label("cover", exact=True).uncheck()
    page.get_by_role("slider", name="how solid: body").fill("100")
    page.get_by_role("button", name="front", exact=True).click()
    page.wait_for_timeout(100)
    settle(page)


def test_two_clicks_measure_from_corner_to_corner(checked: Checked, page_path: Path):
    """At two vertices of the body's rim: the pointer, some tenths of a millimetre off, is taken to both."""
    vertices = np.asarray(checked.meshes["body"].vertices)
    rim = vertices[vertices[:, 2] > vertices[:, 2].max() - 1e-6]
    ends = rim[rim[:, 0].argmin()], rim[rim[:, 0].argmax()]
    with shown(page_path) as opened:
        page = opened.page
        from_the_front(page)
        page.get_by_label("measure", exact=True).check()
        for x, y, z in ends:
            page.mouse.click(*pixel(page, x, y, z))
        way = ends[1] - ends[0]
        heard = told(page).inner_text()
        assert "Measured from a corner to a corner: " in heard
        measured, dx, dy, dz = (
            float(number.replace("\u2212", "-"))
            for number in re.findall(r"[\d.\u2212]+", heard.split("to a corner: ")[1])[:4]
        )
        assert (dx, dy, dz) == pytest.approx(tuple(way), abs=0.025)
        assert measured == pytest.approx(math.hypot(dx, dy, dz), abs=0.02)
        label = page.locator(".solid-measure-label")
        assert label.inner_text().startswith(f"{measured:.2f} mm")
        # It stays on its places while the panel turns, and ends with Escape.
        before = label.bounding_box()
        page.locator("canvas").press("ArrowRight")
        settle(page)
        assert label.bounding_box() != before
        page.locator("canvas").press("Escape")
        expect(label).to_be_hidden()
        assert not page.get_by_label("measure", exact=True).is_checked()
        assert "Measured" not in told(page).inner_text()


def test_measuring_on_a_cut_takes_the_face_that_it_lays_open(checked: Checked, page_path: Path):
    z = 4.0
    rings = to_manifold(checked.meshes["body"]).slice(z).to_polygons()
    whole = max((Polygon(ring) for ring in rings), key=lambda ring: ring.area)
    solid = whole.difference(
        unary_union([Polygon(ring) for ring in rings if Polygon(ring).area < whole.area])
    )
    inside = polylabel(solid, 0.5)
    left_edge = whole.bounds[0]
    middle = (whole.bounds[1] + whole.bounds[3]) / 2
    with shown(page_path) as opened:
        page = opened.page
        from_the_front(page)
        page.get_by_label("across z").check()
        page.get_by_role("slider", name="cut at").fill(str(z))
        page.get_by_label("measure", exact=True).check()
        settle(page)
        page.mouse.click(*pixel(page, inside.x, inside.y, z))
        assert "First place: a cut face, x " in told(page).inner_text()
        assert f", z {z:.2f} mm." in told(page).inner_text()
        # The rim of the cut, where no corner is near.
        left, top = pixel(page, left_edge, middle, z)
        page.mouse.click(left + 3, top)
        heard = told(page).inner_text()
        assert "from a cut face to an edge: " in heard
        assert "dz 0.00 mm" in heard
        # Beside the panel there is nothing.
        page.mouse.click(left - 40, top)
        assert "There is nothing to measure at this place." in told(page).inner_text()


def test_on_a_cut_its_rim_is_taken_before_an_edge_behind_it(checked: Checked, page_path: Path):
    """Through an open channel the edge at the back lies beside the rim of the cut, where the wall is measured."""
    z = 4.0
    body = checked.meshes["body"]
    back = float(body.vertices[:, 2].min())
    rings = to_manifold(body).slice(z).to_polygons()
    whole = max((Polygon(ring) for ring in rings), key=lambda ring: ring.area)
    middle = (whole.bounds[0] + whole.bounds[2]) / 2
    # The longest upright wall of a channel left of the middle, whose foot is seen inside the channel.
    walls = [
        (abs(a[1] - b[1]), (a[0], (a[1] + b[1]) / 2))
        for ring in rings
        if Polygon(ring).area < whole.area
        for a, b in itertools.pairwise([*ring, ring[0]])
        if abs(a[0] - b[0]) < 1e-6
        and a[0] < middle
        and Polygon(ring).contains(Point(a[0] + 0.5, (a[1] + b[1]) / 2))
    ]
    x, y = max(walls)[1]
    with shown(page_path) as opened:
        page = opened.page
        from_the_front(page)
        page.get_by_label("across z").check()
        page.get_by_role("slider", name="cut at").fill(str(z))
        page.get_by_label("measure", exact=True).check()
        settle(page)
        page.mouse.click(*pixel(page, x, y, back))
        assert "First place: an edge, x " in told(page).inner_text()
        assert f", z {z:.2f} mm." in told(page).inner_text()


def test_marks_are_measured_between_by_keys(page_path: Path):
    with shown(page_path) as opened:
        page = opened.page
        measure = page.get_by_label("measure", exact=True)
        assert page.get_by_role("button", name="take the marked place").is_disabled()
        measure.press("Space")
        page.locator("canvas").press("Enter")
        assert "No place is marked" in told(page).inner_text()
        onward = page.get_by_role("button", name="next mark")
        onward.press("Enter")
        page.locator("canvas").press("Enter")
        assert (
            "First place: fault A: wall.thin. said of wall.thin, x 30.00, y 40.00, z 10.00 mm."
            in told(page).inner_text()
        )
        onward.press("Enter")
        page.get_by_role("button", name="take the marked place").press("Enter")
        assert "103.44 mm, dx 90.00, dy 50.00, dz 10.00 mm." in told(page).inner_text()
        page.locator("canvas").press("Escape")
        assert not measure.is_checked()
