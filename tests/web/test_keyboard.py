"""The workbench by keyboard alone, in a real browser: reach, see where one is, edit, move on."""

from __future__ import annotations

from typing import Any

from served import SMALL, OpenPage, Server

_SEEN = """() => {
  const at = document.activeElement, style = getComputedStyle(at), box = at.getBoundingClientRect();
  return at === document.body || (style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2 &&
    box.bottom > 0 && box.top < window.innerHeight);
}"""


def pressed_until(page: Any, keys: str, there: str, most: int = 80) -> None:
    """Press keys until what has the focus answers to a selector; each place on the way must be in sight and marked."""
    for _ in range(most):
        page.keyboard.press(keys)
        assert page.evaluate(_SEEN), page.evaluate("document.activeElement.outerHTML.slice(0, 200)")
        if page.evaluate("(there) => document.activeElement.matches(there)", there):
            return
    raise AssertionError(f"{keys} never leads to {there}")


def test_a_field_is_reached_edited_and_left_and_a_stage_follows(server: Server, open_page: OpenPage) -> None:
    page = open_page()
    page.goto(f"{server.url}/work/{server.take(SMALL)}/targets")
    page.get_by_role("complementary", name="What moves it").wait_for()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the answer"
    page.keyboard.press("Enter")  # past rail and bar
    pressed_until(page, "Tab", "[id='field-targets.lift.bare.front']")
    page.keyboard.press("Control+A")
    page.keyboard.type("41 kg")
    page.get_by_role("status").filter(has_text="a length").wait_for()
    page.keyboard.press("Control+A")
    page.keyboard.type("41 mm")
    page.keyboard.press("Enter")
    page.get_by_role("status").filter(has_text="Saved as version 2").wait_for()
    page.get_by_text("+41").first.wait_for()
    assert page.evaluate("document.activeElement.id") == "field-targets.lift.bare.front"  # the answer took no focus
    pressed_until(page, "Shift+Tab", ".rail a[href*='/heights']")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Which spring holds which fit-out at the target height?").wait_for()
    pressed_until(page, "Tab", "select[name=fitout]")
    page.keyboard.press("ArrowDown")
    page.wait_for_url("**fitout=kerb")


def test_files_and_history_are_reached_by_keyboard(server: Server, open_page: OpenPage) -> None:
    page = open_page()
    page.goto(server.url)
    pressed_until(page, "Tab", "input[type=file]")
    page.goto(f"{server.url}/work/{server.take(SMALL)}/history")
    pressed_until(page, "Tab", "a[href$='.zip']")
