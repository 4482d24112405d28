"""Invented boxes, recipes and a scenario for the simulated box. No real resist or lamp has these numbers."""

from pathlib import Path

DEMO = Path(__file__).parent
BOX = DEMO / "box.yaml"
TWO_BANK_BOX = DEMO / "box-two-banks.yaml"
UV_SENSOR_BOX = DEMO / "box-uv-sensor.yaml"
BOTH_SENSORS_BOX = DEMO / "box-both-sensors.yaml"
SCENARIO = DEMO / "scenario.yaml"
RECIPES = DEMO / "recipes"
