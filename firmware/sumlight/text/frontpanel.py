"""What buttons, buzzer and light at the box have to say."""

WORDS = {
    "press_go_at_the_box": "Press go at the box: {seconds:.0f} s left. Nothing is lit before.",
    "nobody_pressed_go": "Nobody pressed go at the box within {seconds:.0f} s; nothing was lit.",
    "press_silenced_timer": "That press silenced the timer and lit nothing. To begin, press go once more.",
    "go_begins_nothing": "The go button begins nothing here.",
    "name_go_recipe": "Start from the page, or name a recipe for the button in box.yaml (front_panel.go_recipe).",
    "go_button_sticks": (
        "The go button at the box has been pressed for more than 10 s. It does nothing until it comes back; "
        "see whether it sticks."
    ),
    "stop_button_sticks": (
        "The stop button at the box has been pressed for more than 10 s. It does nothing until it comes back; "
        "see whether it sticks or its wire is off."
    ),
    "panel_output_hangs": (
        "Buzzer or light at the box do not take what they are told. Light and dose do not depend on them."
    ),
    "panel_output_fails": "Buzzer or light at the box fail: {why}. Light and dose do not depend on them.",
    "display_is_gone": (
        "The display {device} cannot be written: {why}. See whether it is plugged in and whether its driver is "
        "switched on in config.txt, then start this again. The box does not depend on it."
    ),
    "front_panel_failed": "Buttons, buzzer and light at the box fail: {why}. Use the page.",
}
