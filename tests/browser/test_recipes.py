"""Recipes in a real browser: mistakes beside their fields, values kept, saved when right."""

from pathlib import Path

from playwright.sync_api import Dialog, expect

from sumlight.store.recipes import RecipeStore
from tests.browser.conftest import PHONE, PHONE_AT_LEAST, Open


@PHONE_AT_LEAST
def test_a_recipe_is_copied_corrected_and_saved(visit: Open, data: Path, size: dict[str, int]) -> None:
    """A negative dose is refused beside its field; put right, the recipe is on the shelf and on the Bench."""
    seen = visit(size)
    seen.go("/recipes/")
    seen.picture(f"recipes-{size['width']}")
    seen.page.locator("summary", has_text="More blue-38").click()
    seen.page.get_by_role("link", name="Copy blue-38").click()
    seen.page.get_by_label("Name", exact=True).fill("blue-42")
    dose = seen.page.get_by_label("Dose at the resist")
    dose.fill("-5")
    seen.page.get_by_role("button", name="Save recipe").click()
    expect(seen.page.get_by_role("alert")).to_contain_text("Not saved yet")
    expect(dose).to_have_value("-5")
    expect(dose).to_have_attribute("aria-invalid", "true")
    expect(dose).to_have_accessible_description(
        "What reaches the resist, behind film and sheet. -5 is not possible here: from 1 to 5000 mJ/cm²."
    )
    expect(seen.page.get_by_label("Name", exact=True)).to_have_value("blue-42")
    seen.picture(f"recipe-error-{size['width']}")
    red = seen.page.locator(".error").first
    assert "answered" not in (red.get_attribute("class") or "")
    dose.fill("42.5")
    expect(dose).not_to_have_attribute("aria-invalid", "true")
    expect(red).to_have_class("error answered")
    seen.page.get_by_role("button", name="Save recipe").click()
    expect(seen.page.locator("#act button")).to_contain_text("Light blue-42")
    assert RecipeStore(data / "recipes").load("blue-42").recipe.dose_mj_cm2 == 42.5


def test_a_broken_file_is_listed_with_what_is_wrong(visit: Open) -> None:
    """Line, field and rule."""
    seen = visit(PHONE)
    seen.go("/recipes/")
    broken = seen.page.get_by_role("region", name="Recipe torn cannot be used")
    expect(broken).to_contain_text("Line 2")
    expect(broken).to_contain_text("dose_mj_cm2")


def test_a_wrong_tap_does_not_lose_a_form_that_was_begun(visit: Open) -> None:
    """The browser asks first; a form as it was found, or put back, is left without a word."""
    seen = visit(PHONE)
    asked: list[str] = []

    def stay(dialog: Dialog) -> None:
        asked.append(dialog.type)
        dialog.dismiss()

    seen.page.on("dialog", stay)
    seen.go("/recipes/blue-38")
    name = seen.page.locator("#f-resist")
    before = name.input_value()
    name.press_sequentially("x")
    seen.page.get_by_role("link", name="Panels").click(no_wait_after=True)
    seen.page.wait_for_timeout(50)
    assert asked == ["beforeunload"]
    expect(name).not_to_have_value(before)
    name.fill(before)
    seen.page.get_by_role("link", name="Panels").click()
    expect(seen.page.get_by_role("heading", level=1)).to_have_text("Panels")
    assert asked == ["beforeunload"]
