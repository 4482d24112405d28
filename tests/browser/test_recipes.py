"""Recipes in a real browser: mistakes beside their fields, values kept, saved when right."""

from pathlib import Path

from playwright.sync_api import expect

from sumlight.store.recipes import RecipeStore
from tests.browser.conftest import PHONE, PHONE_AT_LEAST, Open


@PHONE_AT_LEAST
def test_a_recipe_is_copied_corrected_and_saved(visit: Open, data: Path, size: dict[str, int]) -> None:
    """A negative dose is refused beside its field; put right, the recipe is on the shelf and on the Bench."""
    seen = visit(size)
    seen.go("/recipes/")
    seen.picture(f"recipes-{size['width']}")
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
    dose.fill("42.5")
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
