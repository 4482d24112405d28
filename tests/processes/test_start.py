"""`sumlight box twin` as a pair of real processes."""

import os
import signal
import time
from collections.abc import Callable
from pathlib import Path

import psutil

from sumlight.protocol.client import ControlClient
from tests.pressing import press
from tests.running import RunningTwin


def wait_for(what: Callable[[], bool], limit_s: float = 60.0) -> None:
    """Until `what` holds; TimeoutError otherwise."""
    until_s = time.monotonic() + limit_s
    while not what():
        if time.monotonic() > until_s:
            raise TimeoutError
        time.sleep(0.05)


def test_a_killed_page_comes_back_and_the_exposure_does_not_notice(tmp_path: Path) -> None:
    """Page dead for a second or two: control goes on with the light."""
    with RunningTwin(tmp_path, speed=1.0) as twin, ControlClient(twin.socket) as client:
        twin.wait_until_ready(client)
        press(client, "start", recipe="blue-38", panel="page killed")
        page = twin.page_pid()
        os.kill(page, signal.SIGKILL)
        wait_for(lambda: not psutil.pid_exists(page) or psutil.Process(page).status() == psutil.STATUS_ZOMBIE)
        wait_for(lambda: twin.has_page() and twin.page_pid() != page)
        state = client.ask("state")
        assert state["state"] == "light"
        assert state["faults"] == []


def test_a_killed_control_comes_back_and_offers_the_panel(tmp_path: Path) -> None:
    """The pair starts control again; the interrupted panel waits with its dose."""
    with RunningTwin(tmp_path, speed=4.0) as twin:
        with ControlClient(twin.socket) as client:
            twin.wait_until_ready(client)
            press(client, "start", recipe="turned-50", panel="control killed")
            wait_for(lambda: client.ask("state")["exposure"]["sides"][0]["dose_mj_cm2"] > 5)
            dose = client.ask("state")["exposure"]["sides"][0]["dose_mj_cm2"]
            before = twin.control_pid()
            os.kill(before, signal.SIGKILL)
        wait_for(lambda: twin.answers() and twin.control_pid() != before)
        with ControlClient(twin.socket) as client:
            state = client.ask("state")
        assert state["state"] == "paused"
        assert state["exposure"]["pause_cause"] == "restart"
        assert state["exposure"]["panel"] == "control killed"
        assert state["exposure"]["sides"][0]["dose_mj_cm2"] >= dose - 5.0


def test_ctrl_c_ends_both_processes_and_removes_the_socket(tmp_path: Path) -> None:
    """Nothing is left behind."""
    with RunningTwin(tmp_path, speed=1.0) as twin:
        pids = [twin.control_pid(), twin.page_pid()]
        assert all(psutil.pid_exists(pid) for pid in pids)
    wait_for(lambda: not any(psutil.pid_exists(pid) for pid in pids))
    assert not twin.socket.exists()


def test_both_end_when_the_starter_is_killed(tmp_path: Path) -> None:
    """Their standard input ends with it, so no lamp controller is left running unattended."""
    with RunningTwin(tmp_path, speed=1.0) as twin:
        pids = [twin.control_pid(), twin.page_pid()]
        twin.kill_starter()
        wait_for(lambda: not any(psutil.pid_exists(pid) for pid in pids))
