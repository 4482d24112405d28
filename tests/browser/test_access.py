"""First run, log-in and lock-out from a phone; watching without either; dark always."""

from playwright.sync_api import expect

from tests.browser.acting import act, fed
from tests.browser.conftest import DESK, PHONE, PHONE_AT_LEAST, Open
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.page_process import PageProcess

PASSWORD = "amber light 38"


@PHONE_AT_LEAST
def test_a_phone_sets_up_logs_out_is_locked_out_and_still_presses_dark(
    visit: Open, control: FakeControl, served: PageProcess, size: dict[str, int]
) -> None:
    """The whole way of an operator who is not at the box's own screen."""
    seen = visit(size, stranger=True)
    seen.go("/recipes/")
    seen.page.get_by_role("link", name="Set up an operator").first.click()
    expect(seen.page.get_by_role("heading", level=1)).to_have_text("First run")
    seen.picture(f"access-first-run-{size['width']}")
    seen.page.get_by_label("Set-up code").fill("WRNG-CODE-HERE")
    seen.page.get_by_label("Your name").fill("Ada")
    seen.page.get_by_label("Password").fill(PASSWORD)
    seen.page.get_by_role("button", name="Become the operator").click()
    expect(seen.page.locator("#f-code-error")).to_contain_text("That is not the code.")
    seen.page.get_by_label("Set-up code").fill(served.code)
    seen.page.get_by_label("Password").fill(PASSWORD)
    seen.page.get_by_role("button", name="Become the operator").click()
    expect(seen.page.get_by_text("You are logged in as Ada.")).to_be_visible()
    seen.picture(f"access-operators-{size['width']}")
    seen.go()
    expect(seen.page.get_by_label("Label of the panel")).to_be_visible()
    seen.go("/access/")
    seen.page.get_by_role("button", name="Log out").click()
    for _ in range(3):
        seen.page.get_by_label("Your name").fill("Ada")
        seen.page.get_by_label("Password").fill("wrong guess")
        seen.page.get_by_role("button", name="Log in").click()
        expect(seen.page.locator("#f-password-error")).to_be_visible()
    seen.page.get_by_label("Your name").fill("Ada")
    seen.page.get_by_label("Password").fill(PASSWORD)
    seen.page.get_by_role("button", name="Log in").click()
    expect(seen.page.get_by_role("alert").filter(has_text="Too many tries.")).to_be_visible()
    seen.picture(f"access-locked-out-{size['width']}")
    seen.page.get_by_role("button", name="Lamps off").click()
    wait_until(lambda: control.names()[-1:] == ["dark"])


def test_a_watcher_sees_everything_live_but_is_led_to_the_log_in(
    visit: Open, control: FakeControl, served: PageProcess
) -> None:
    """No start, no go; a press on what is left over from before a log-out leads to the log-in."""
    desk, phone = visit(DESK, stranger=True), visit(PHONE, stranger=True)
    desk.go(f"/access/#code={served.code}")
    desk.page.get_by_label("Your name").fill("Ada")
    desk.page.get_by_label("Password").fill(PASSWORD)
    desk.page.get_by_role("button", name="Become the operator").click()
    expect(desk.page.get_by_text("You are logged in as Ada.")).to_be_visible()
    phone.go()
    expect(phone.page.get_by_role("heading", level=1)).to_have_text("Ready")
    expect(phone.page.get_by_label("Label of the panel")).to_be_hidden()
    phone.picture("bench-watcher")
    both = fake.exposure(fake.side("A", state="done"), fake.side("B", state="waiting", dose_mj_cm2=0.0))
    control.say(fake.snapshot(state="turn", may=["go", "abandon", "dark"], exposure=both))
    expect(phone.page.get_by_role("heading", level=1)).to_have_text("Turn the panel")
    expect(phone.page.get_by_role("button", name="Light side B")).to_have_count(0)
    expect(phone.page.get_by_role("link", name="Log in to light")).to_be_visible()
    desk.go()
    expect(desk.page.get_by_role("button", name="Light side B")).to_be_visible()
    fed(desk.page)  # else the bar would ask as a stranger what it says
    desk.page.context.clear_cookies()
    act(desk.page, "Light side B")
    expect(desk.page.get_by_role("heading", level=1)).to_have_text("Log in")
    assert control.names() == []


def test_the_printed_address_brings_the_code_and_nobody_else_learns_it(
    visit: Open, control: FakeControl, served: PageProcess
) -> None:
    """A click in the terminal, a name and a password are enough; the code is never in an address that is asked for."""
    assert len(served.code) == 14
    seen = visit(DESK, stranger=True)
    seen.go(f"/access/#code={served.code}")
    expect(seen.page.get_by_label("Set-up code")).to_have_value(served.code)
    assert seen.page.url == f"{served.address}access/"
    expect(seen.page.get_by_label("Your name")).to_be_focused()
    seen.page.keyboard.type("Ada")
    seen.page.keyboard.press("Tab")
    seen.page.keyboard.type(PASSWORD)
    seen.page.keyboard.press("Enter")
    expect(seen.page.get_by_text("You are logged in as Ada.")).to_be_visible()
    assert not [url for url in seen.asked if served.code in url.partition("#")[0]]
    seen.page.go_back()
    assert served.code not in seen.page.url


def test_the_address_clicked_while_the_first_run_is_open_fills_the_form_too(
    visit: Open, served: PageProcess, control: FakeControl
) -> None:
    """The browser then loads nothing anew."""
    seen = visit(DESK, stranger=True)
    seen.go("/access/")
    seen.page.evaluate("code => { location.hash = '#code=' + code; }", served.code)
    expect(seen.page.get_by_label("Set-up code")).to_have_value(served.code)
    assert seen.page.url == f"{served.address}access/"


def test_without_script_the_code_is_typed(visit: Open, served: PageProcess, control: FakeControl) -> None:
    """Everything works as plain forms."""
    seen = visit(PHONE, script=False, stranger=True)
    seen.go("/access/")
    seen.page.get_by_label("Set-up code").fill(served.code.lower())
    seen.page.get_by_label("Your name").fill("Ada")
    seen.page.get_by_label("Password").fill(PASSWORD)
    seen.page.get_by_role("button", name="Become the operator").click()
    expect(seen.page.get_by_text("You are logged in as Ada.")).to_be_visible()
